"""What all tests share: a directory for the run, and databases of their own on both backends."""

import os
import shutil
import tempfile
from collections.abc import Iterator
from pathlib import Path

import pytest
from sqlalchemy import Engine

from pool_api.store.engine import open_engine
from tests.databases import (
    BACKENDS,
    Database,
    PostgresqlTemplate,
    SqliteTemplate,
    locked,
    scratch,
    start_postgresql,
    stop_postgresql,
)

RUN_DIRECTORY = "CREDIT_POOL_TEST_RUN_DIRECTORY"
"""Told by the first process of a run to its workers through the environment."""


def pytest_configure(config: pytest.Config) -> None:
    if not hasattr(config, "workerinput"):
        os.environ[RUN_DIRECTORY] = tempfile.mkdtemp(prefix="credit-pool-test-", dir=scratch())


def pytest_unconfigure(config: pytest.Config) -> None:
    if not hasattr(config, "workerinput"):
        directory = Path(os.environ.pop(RUN_DIRECTORY))
        stop_postgresql(directory)
        shutil.rmtree(directory)


@pytest.fixture(scope="session")
def run_directory() -> Path:
    """The directory of this run, shared with its other processes."""
    return Path(os.environ[RUN_DIRECTORY])


@pytest.fixture(scope="session")
def sqlite_template(run_directory: Path) -> SqliteTemplate:
    return SqliteTemplate(Path(tempfile.mkdtemp(dir=run_directory)))


@pytest.fixture(scope="session")
def postgresql_template(run_directory: Path) -> Iterator[PostgresqlTemplate]:
    with locked(run_directory / "lock"):
        template = PostgresqlTemplate(start_postgresql(run_directory), f"{run_directory.name}-template")
    yield template
    template.close()


@pytest.fixture(params=BACKENDS)
def database(request: pytest.FixtureRequest) -> Iterator[Database]:
    """A migrated database of the test's own; the test runs once on each backend."""
    template: SqliteTemplate | PostgresqlTemplate = request.getfixturevalue(f"{request.param}_template")
    with template.copy() as copy:
        yield copy


@pytest.fixture
def engine(database: Database) -> Iterator[Engine]:
    """The service's engine on the test's database."""
    engine = open_engine(database.url)
    yield engine
    engine.dispose()
