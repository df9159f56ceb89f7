import os
from pathlib import Path

from sqlalchemy import Engine

from pool_api.store.engine import reading
from tests.migrations.catalogue import listing


def test_triggers_checks_policies_and_rights_are_the_committed_ones(engine: Engine) -> None:
    committed = Path(__file__).with_name(f"listing_{engine.dialect.name}.txt")
    with reading(engine, None) as connection:
        found = listing(connection)
    if os.environ.get("CREDIT_POOL_TEST_WRITE_LISTING"):
        committed.write_text(found)

    assert committed.read_text() == found
