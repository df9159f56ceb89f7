"""A disk that can't keep what it is given, and a database that dies: nothing that was acknowledged is lost, nothing is
acknowledged meanwhile, and what nobody knows of is found by asking again.

Source: the faults are those of SQLite's own tests (sqlite.org/testing.html, 3.2 and 3.4) and of PostgreSQL's manual on
data_sync_retry."""

import os
import random
import time
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from pathlib import Path
from uuid import uuid4

import pytest
from sqlalchemy.engine import make_url

from tests.clusters import Cluster
from tests.databases import BACKENDS, SqliteTemplate, migrated_on
from tests.e2e.failing_disk import SYNCING, WRITING, can_fail, failing
from tests.e2e.servers import Load, Server, keeper_of, kept_under_keys, starting

SEED, DEATHS = 20261130, 4
AGAIN_S = 0.05
"""A database that recovers is killed again within that time."""


@dataclass(frozen=True, slots=True)
class Setting:
    """A database whose disk is to fail: who writes to it, which files, and what brings it up again."""

    url: str
    writers: Callable[[Server], list[int]]
    files: list[str]
    mend: Callable[[], None]


@pytest.fixture(scope="module")
def cluster(run_directory: Path) -> Iterator[Cluster]:
    """A server that no other process of this run uses."""
    made = Cluster(run_directory / f"cluster-{os.getpid()}")
    made.start()
    yield made
    made.start_if_down()
    made.stop()


@pytest.fixture(params=BACKENDS)
def setting(request: pytest.FixtureRequest, sqlite_template: SqliteTemplate) -> Iterator[Setting]:
    if request.param == "sqlite":
        with sqlite_template.copy() as copy:
            file = make_url(copy.url).database or ""
            files = [file, f"{file}-wal"]
            yield Setting(copy.url, lambda server: [server.process], files, lambda: None)
    else:
        cluster: Cluster = request.getfixturevalue("cluster")
        url = migrated_on(cluster.url, uuid4().hex).url
        yield Setting(url, lambda _: cluster.processes(), [], cluster.start_if_down)


@pytest.mark.skipif(not can_fail(), reason="strace is not here, or may not watch processes")
@pytest.mark.parametrize(
    ("calls", "error"), [(SYNCING, "EIO"), (WRITING, "ENOSPC")], ids=["nothing reaches the disk", "the disk is full"]
)
def test_nothing_is_acknowledged_that_the_disk_did_not_take(setting: Setting, calls: str, error: str) -> None:
    load = Load(keeper_of(setting.url))
    with starting(setting.url) as starter:
        with starter.serving() as server:

            def fail_for_a_while() -> None:
                with failing(setting.writers(server), calls, error, only=setting.files):
                    before = load.failed
                    load.failing.set()
                    until = time.monotonic() + 20
                    while load.failed < before + 20 and time.monotonic() < until:
                        time.sleep(0.01)
                    load.failing.clear()
                setting.mend()
                goal = len(load.acknowledged) + 20
                until = time.monotonic() + 60
                while len(load.acknowledged) < goal and time.monotonic() < until:
                    time.sleep(0.01)
                assert len(load.acknowledged) >= goal, "it went on by itself once the disk was well"

            load.run(server.address, fail_for_a_while, after=20)
            server.kill()
        with starter.serving() as server:
            load.ask_again(server.address)

    assert load.failed >= 20
    assert [] == load.lies
    assert load.acknowledged == kept_under_keys(setting.url)


@pytest.mark.skipif("postgresql" not in BACKENDS, reason="this run is restricted to SQLite")
def test_a_database_that_dies_while_it_recovers_loses_nothing(cluster: Cluster) -> None:
    chance = random.Random(SEED)  # noqa: S311 - repeatable, not secret
    url = migrated_on(cluster.url, uuid4().hex).url
    load = Load(keeper_of(url))
    with starting(url) as starter, starter.serving() as server:
        for _ in range(DEATHS):
            load.run(server.address, cluster.kill, after=chance.randint(5, 40))
            for _ in range(2):
                cluster.start(wait=False)
                time.sleep(chance.uniform(0, AGAIN_S))
                cluster.kill()
            cluster.start()
            load.ask_again(server.address)

    assert load.acknowledged == kept_under_keys(url)
    assert len(load.acknowledged) >= 5 * DEATHS
