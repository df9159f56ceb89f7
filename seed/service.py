"""Runs a service of its own for the demonstration: an empty SQLite database, the first key, a process on a free port.

The service is started as anyone would start it, by its own commands, and knows nothing of this file.
"""

import os
import signal
import socket
import subprocess
import sys
import time
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass, field
from pathlib import Path

import httpx

_START_S, _STOP_S, _PAUSE_S = 60.0, 40.0, 0.1


@dataclass(frozen=True, slots=True, kw_only=True)
class Running:
    """A running service, and the key that its operator was shown once."""

    address: str
    first_key: str = field(repr=False)
    process: "subprocess.Popen[bytes]"


@contextmanager
def running_service(directory: Path) -> Iterator[Running]:
    """Start a service on a new database in a directory, and stop it at the end.

    Refuses: RuntimeError with what the service said when it doesn't start."""
    port = _free_port()
    settings = {
        "CREDIT_POOL_DATABASE_URL": f"sqlite:///{directory / 'pool.sqlite3'}",
        "CREDIT_POOL_HOST": "127.0.0.1",
        "CREDIT_POOL_PORT": str(port),
    }
    environment = {**os.environ, **settings}
    _command(environment, "migrate")
    first_key = _command(environment, "first-key").strip()
    address = f"http://127.0.0.1:{port}"
    log = directory / "service.log"
    with log.open("wb") as said:
        # A group of its own: an interrupt from the keyboard reaches the demonstration alone, which then stops this.
        process = subprocess.Popen(  # noqa: S603 - our own service
            _line("serve"), env=environment, stdout=said, stderr=said, process_group=0
        )
        try:
            _wait_until_ready(address, process, log)
            yield Running(address=address, first_key=first_key, process=process)
        finally:
            _stop(process)


def _line(command: str) -> list[str]:
    return [sys.executable, "-m", "pool_api", command]


def _command(environment: dict[str, str], name: str) -> str:
    done = subprocess.run(  # noqa: S603 - our own service
        _line(name), env=environment, capture_output=True, text=True, check=False
    )
    if done.returncode:
        raise RuntimeError(f"{name} failed: {done.stderr}")
    return done.stdout


def _free_port() -> int:
    with socket.socket() as probe:
        probe.bind(("127.0.0.1", 0))
        port: int = probe.getsockname()[1]
        return port


def _wait_until_ready(address: str, process: "subprocess.Popen[bytes]", log: Path) -> None:
    until = time.monotonic() + _START_S
    while time.monotonic() < until and process.poll() is None:
        try:
            if httpx.get(f"{address}/readyz", timeout=1).is_success:
                return
        except httpx.TransportError:
            pass
        time.sleep(_PAUSE_S)
    raise RuntimeError(f"the service did not start: {log.read_text(errors='replace')}")


def _stop(process: "subprocess.Popen[bytes]") -> None:
    if process.poll() is None:
        process.send_signal(signal.SIGTERM)
        try:
            process.wait(_STOP_S)
        except subprocess.TimeoutExpired:
            process.kill()
            process.wait()
