"""What the tests of the writer share: a service with a pool, and another one on the same database."""

from collections.abc import Iterator

import pytest

from pool_api.domain.pool import Member
from pool_api.store import directory
from pool_api.store.directory import ApiKey
from pool_api.store.engine import writing
from tests.databases import Database
from tests.store.process import DAY, POOL, SHOPS, TERMS, Process, running


@pytest.fixture
def process(database: Database) -> Iterator[Process]:
    """A service with one pool of three shops, without an entry."""
    with running(database.url) as process:
        with writing(process.office.engine, POOL) as connection:
            directory.create_pool(connection, TERMS)
            for shop in SHOPS:
                member = Member(code=shop, name=shop, joined_on=DAY)
                directory.write_member(connection, POOL, member, exists=False)
            key = ApiKey(key_id="0a", name="k", role="keeper", pool=POOL, member=None, created_at="2026-09-01")
            directory.write_key(connection, key, POOL)
        yield process


@pytest.fixture
def other(database: Database, process: Process) -> Iterator[Process]:  # noqa: ARG001 - its pool must be there first
    """Another service on the same database."""
    with running(database.url) as other:
        yield other
