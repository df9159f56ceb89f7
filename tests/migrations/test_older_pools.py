"""What a database of an earlier revision says is still said once it is brought to the newest."""

import json

from alembic import command
from sqlalchemy import insert

from pool_api.domain.pool import LoansAtClose, Policy, StockCosting
from pool_api.domain.values import Month
from pool_api.store import directory
from pool_api.store.engine import open_engine, reading, writing
from pool_api.store.schema import migration_config
from pool_api.store.tables import head, pool
from tests.databases import Database
from tests.migrations.samples import sample

FIFO = Policy(stock_costing=StockCosting.FIFO, smallest_payment=500)
RULES_OF_THEN = ("stock_costing", "loan_price", "stock_funding", "payment_plan", "smallest_payment")


def test_a_pool_made_before_policies_had_months_keeps_its_policy_for_all_of_them(blank_database: Database) -> None:
    """Its policy says nothing of rules that came up later: the usual ones count."""
    config = migration_config(blank_database.owner_url)
    command.upgrade(config, "20261125_book")
    written = {each: value for each, value in FIFO.as_json().items() if each in RULES_OF_THEN}
    terms = {**sample(pool, "north"), "currency": "EUR", "began_on": "2026-09-01", "policy": json.dumps(written)}
    engine = open_engine(blank_database.url)
    with writing(engine, "north") as connection:
        connection.execute(insert(pool).values(terms))
        connection.execute(insert(head).values(sample(head, "north")))

    command.upgrade(config, "head")

    with reading(engine, "north") as connection:
        found = directory.read_directory(connection, "north")
    engine.dispose()
    assert found is not None
    assert {Month(2026, 9): FIFO} == found.pool.agreed()
    assert FIFO == found.pool.policy_of(Month(2027, 3))
    assert LoansAtClose.SETTLE is found.pool.policy.loans_at_close
