"""A disk that fails under running processes: this file knows how system calls are made to fail, which takes Linux and
strace."""

import shutil
import subprocess
import sys
import time
from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from functools import cache

_STRACE = "strace"

SYNCING = "fdatasync,fsync"
WRITING = "pwrite64,pwritev,write,fallocate"


@cache
def can_fail() -> bool:
    """Tell whether processes can be watched here."""
    command = [_STRACE, "-qq", "-o", "/dev/null", sys.executable, "-c", ""]
    return shutil.which(_STRACE) is not None and subprocess.run(command, check=False).returncode == 0


@contextmanager
def failing(processes: Sequence[int], calls: str, error: str, *, only: Sequence[str] = ()) -> Iterator[None]:
    """Let every one of some system calls of processes, and of those that they start, fail with an error; with only,
    those alone that touch these paths."""
    command = [_STRACE, "-f", "-qq", "-o", "/dev/null", "-e", f"trace={calls}", "-e", f"inject={calls}:error={error}"]
    command += [part for path in only for part in ("-P", path)]
    command += [part for process in processes for part in ("-p", str(process))]
    with subprocess.Popen(command, stderr=subprocess.PIPE, text=True) as tracer:
        try:
            _wait_until_traced(processes)
            yield
        finally:
            tracer.terminate()


def _wait_until_traced(processes: Sequence[int]) -> None:
    for process in processes:
        until = time.monotonic() + 30
        while not _is_traced(process) and time.monotonic() < until:
            time.sleep(0.01)


def _is_traced(process: int) -> bool:
    try:
        with open(f"/proc/{process}/status") as status:  # noqa: PTH123 - a file of the system's own
            return any(line.startswith("TracerPid:") and line.split()[1] != "0" for line in status)
    except (FileNotFoundError, ProcessLookupError):
        return True
