"""What all tests share: a directory for the run, and databases of their own on both backends."""

import os
import shutil
import tempfile
from collections.abc import Iterator
from pathlib import Path

import pytest
from hypothesis import HealthCheck, settings
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
    template_name,
)
from tests.served import Served, prepare, serving

RUN_DIRECTORY = "CREDIT_POOL_TEST_RUN_DIRECTORY"
"""Told by the first process of a run to its workers through the environment."""

Template = SqliteTemplate | PostgresqlTemplate


settings.register_profile("shared machine", deadline=None, suppress_health_check=[HealthCheck.too_slow])
"""Machines are shared: how long an example takes says nothing."""


def pytest_configure(config: pytest.Config) -> None:
    settings.load_profile("shared machine")
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
        template = PostgresqlTemplate(start_postgresql(run_directory), template_name(run_directory))
    yield template
    template.close()


@pytest.fixture(params=BACKENDS)
def template(request: pytest.FixtureRequest) -> Template:
    """The migrated template of a backend; whatever stands on it runs once on each."""
    if request.param not in BACKENDS:
        pytest.skip(f"this run is restricted to {' and '.join(BACKENDS)}")
    made: Template = request.getfixturevalue(f"{request.param}_template")
    return made


@pytest.fixture
def database(request: pytest.FixtureRequest, template: Template) -> Iterator[Database]:
    """A migrated database of the test's own; with a pool set up where the service is asked for."""
    with template.copy(prepare if "service" in request.fixturenames else None) as copy:
        yield copy


@pytest.fixture
def blank_database(template: Template) -> Iterator[Database]:
    """A database of the test's own without a single table."""
    with template.blank() as blank:
        yield blank


@pytest.fixture
def engine(database: Database) -> Iterator[Engine]:
    """The service's engine on the test's database."""
    engine = open_engine(database.url)
    yield engine
    engine.dispose()


@pytest.fixture
def bare_service(database: Database) -> Iterator[Served]:
    """The real service on the test's database, without any pool."""
    with serving(database.url, database.prepared) as served:
        yield served


@pytest.fixture
def service(bare_service: Served) -> Served:
    """The real service with one pool of four shops, and a key of every role."""
    return bare_service
