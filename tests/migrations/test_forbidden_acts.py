"""What must be impossible is tried, on the migrated databases, with the rights that the service has."""

from collections.abc import Iterator

import pytest
from sqlalchemy import Engine, Table, func, insert, select, text
from sqlalchemy.exc import DBAPIError

from pool_api.store.engine import open_engine, reading, writing
from pool_api.store.errors import StoreConflict
from pool_api.store.tables import metadata
from tests.databases import OWNER, Database, only_postgresql, only_sqlite
from tests.migrations.samples import APPEND_ONLY, WALLED, fill, sample

NO_RIGHT = "42501"  # insufficient_privilege, by PostgreSQL's manual, appendix A


@pytest.fixture
def filled(engine: Engine) -> Engine:
    """An engine on a database with one row of each of two pools in every table of a pool."""
    for pool in ("north", "south"):
        with writing(engine, pool) as connection:
            fill(connection, pool)
    return engine


@pytest.fixture
def owners(database: Database) -> Iterator[Engine]:
    engine = open_engine(database.owner_url)
    yield engine
    engine.dispose()


def rows(engine: Engine, table: Table) -> list[tuple[object, ...]]:
    with reading(engine, "north") as connection:
        return [tuple(row) for row in connection.execute(select(table).where(table.c.pool_id == "north"))]


def refused(engine: Engine, statement: str, pool: str | None = "north") -> bool:
    """Say whether a statement is refused by a guard of the rows, not by a slip of its own."""
    try:
        with writing(engine, pool) as connection:
            connection.execute(text(statement))
    except StoreConflict:
        return True
    except DBAPIError as error:
        return getattr(error.driver_exception, "sqlstate", None) == NO_RIGHT
    return False


# --- facts stay ------------------------------------------------------------------------------------------------------

CHANGES = ("UPDATE {0} SET pool_id = pool_id", "UPDATE {0} SET pool_id = 'south'", "DELETE FROM {0}")


@pytest.mark.parametrize("change", CHANGES)
@pytest.mark.parametrize("name", APPEND_ONLY)
def test_no_fact_is_changed_or_removed(filled: Engine, name: str, change: str) -> None:
    before = rows(filled, metadata.tables[name])

    assert refused(filled, change.format(name))
    assert before == rows(filled, metadata.tables[name])
    assert 1 == len(before)


@only_sqlite
@pytest.mark.parametrize("name", APPEND_ONLY)
def test_no_fact_is_replaced_by_another_with_its_key(filled: Engine, name: str) -> None:
    table = metadata.tables[name]
    before = rows(filled, table)

    with pytest.raises(StoreConflict), writing(filled, "north") as connection:
        connection.execute(insert(table).prefix_with("OR REPLACE").values(sample(table, "north", saying="otherwise")))

    assert before == rows(filled, table)


@only_sqlite
def test_no_entry_is_replaced_by_another_with_its_reference(filled: Engine) -> None:
    entry = metadata.tables["entry"]
    second = sample(entry, "north") | {"number": 2, "reference": "job 7"}
    with writing(filled, "north") as connection:
        connection.execute(insert(entry).values(second))

    with pytest.raises(StoreConflict), writing(filled, "north") as connection:
        connection.execute(insert(entry).prefix_with("OR REPLACE").values(second | {"number": 3}))

    with reading(filled, "north") as connection:
        numbers = select(entry.c.number).where(entry.c.pool_id == "north").order_by(entry.c.number)
        assert [1, 2] == list(connection.scalars(numbers))


@only_postgresql
@pytest.mark.parametrize("change", [*CHANGES, "TRUNCATE {0} CASCADE"])
@pytest.mark.parametrize("name", APPEND_ONLY)
def test_not_even_the_owner_changes_a_fact(filled: Engine, owners: Engine, name: str, change: str) -> None:
    before = rows(filled, metadata.tables[name])

    with pytest.raises(StoreConflict), writing(owners, "north") as connection:
        connection.execute(text(change.format(name)))

    assert before == rows(filled, metadata.tables[name])


@only_postgresql
@pytest.mark.parametrize("name", sorted(metadata.tables))
def test_the_service_empties_no_table(filled: Engine, name: str) -> None:
    assert refused(filled, f"TRUNCATE {name} CASCADE")


@only_postgresql
@pytest.mark.parametrize(
    "attempt",
    [
        "ALTER TABLE entry DISABLE TRIGGER ALL",
        "ALTER TABLE entry NO FORCE ROW LEVEL SECURITY",
        "ALTER TABLE entry DISABLE ROW LEVEL SECURITY",
        "ALTER TABLE entry DROP COLUMN hash",
        "CREATE OR REPLACE FUNCTION refuse_change() RETURNS trigger LANGUAGE plpgsql AS 'BEGIN RETURN NULL; END'",
        "CREATE TABLE entry_of_mine (number INTEGER)",
        "DROP POLICY own_pool ON entry",
        "DROP TABLE entry CASCADE",
        "DROP TRIGGER entry_append_only ON entry",
        "SET session_replication_role = replica",
        f"SET ROLE {OWNER}",
        "UPDATE alembic_version SET version_num = 'another'",
    ],
)
def test_the_service_takes_no_guard_away(filled: Engine, attempt: str) -> None:
    assert refused(filled, attempt)


# --- figures stay possible -------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("name", "column", "value", "constraint"),
    [
        ("bank_account", "iban", "AT", "ck_bank_account_holder_with_iban"),
        ("catalogue", "version", 0, "ck_catalogue_version_positive"),
        ("entry", "number", 0, "ck_entry_number_positive"),
        ("head", "number", -1, "ck_head_number_not_negative"),
        ("head", "stock", -1, "ck_head_stock_not_negative"),
        ("holding", "held", -1, "ck_holding_held_not_negative"),
        ("member", "share", -1, "ck_member_share_not_negative"),
        ("open_loan", "quantity", -1, "ck_open_loan_quantity_not_negative"),
        ("settlement_payment", "paid", -1, "ck_settlement_payment_paid_not_negative"),
        ("settlement_payment", "paid", 2, "ck_settlement_payment_paid_within_amount"),
        ("price_ladder", "version", 0, "ck_price_ladder_version_positive"),
        ("undone", "quantity", 0, "ck_undone_quantity_positive"),
        ("vendor_row", "occurrence", 0, "ck_vendor_row_occurrence_positive"),
        ("vendor_revision", "shown", 2, "ck_vendor_revision_shown_or_not"),
        ("api_key", "role", "owner", "ck_api_key_role_known"),
        ("api_key", "role", "operator", "ck_api_key_operator_has_no_pool"),
        ("api_key", "role", "clerk", "ck_api_key_clerk_has_member"),
        ("membership", "role", "operator", "ck_membership_role_known"),
        ("membership", "role", "clerk", "ck_membership_clerk_has_member"),
        ("invitation", "role", "person", "ck_invitation_role_known"),
        ("invitation", "role", "clerk", "ck_invitation_clerk_has_member"),
        ("invitation", "accepted_by", "nobody", "ck_invitation_accepted_by_somebody"),
        ("decision", "verdict", "forgotten", "ck_decision_verdict_known"),
        ("access_event", "number", 0, "ck_access_event_number_positive"),
        ("reconciliation_act", "number", 0, "ck_reconciliation_act_number_positive"),
        ("reconciliation_act", "kind", "forgotten", "ck_reconciliation_act_kind_known"),
    ],
)
def test_no_impossible_figure_is_stored(engine: Engine, name: str, column: str, value: object, constraint: str) -> None:
    table = metadata.tables[name]
    with pytest.raises(StoreConflict) as refusal, writing(engine, "north") as connection:
        fill(connection, "north", before=name)
        connection.execute(insert(table).values(sample(table, "north") | {column: value}))

    assert constraint == refusal.value.constraint


@pytest.mark.parametrize("value", ["'eleven'", "NULL"])
def test_a_figure_is_a_whole_number(filled: Engine, value: str) -> None:
    head = metadata.tables["head"]
    before = rows(filled, head)

    with pytest.raises((StoreConflict, DBAPIError)), writing(filled, "north") as connection:
        connection.execute(text(f"UPDATE head SET stock = {value}"))

    assert before == rows(filled, head)


# --- pools stay apart ------------------------------------------------------------------------------------------------


@only_postgresql
@pytest.mark.parametrize("name", WALLED)
def test_without_a_pool_no_row_is_seen_or_written(filled: Engine, name: str) -> None:
    table = metadata.tables[name]
    with reading(filled, None) as connection:
        assert 0 == connection.scalar(select(func.count()).select_from(table))
    with pytest.raises(DBAPIError, match="row-level security"), writing(filled, None) as connection:
        connection.execute(insert(table).values(sample(table, "north")))


@only_postgresql
@pytest.mark.parametrize("name", WALLED)
def test_only_rows_of_the_own_pool_are_seen(filled: Engine, name: str) -> None:
    table = metadata.tables[name]
    with reading(filled, "north") as connection:
        assert ["north"] == list(connection.scalars(select(table.c.pool_id)))


@only_postgresql
@pytest.mark.parametrize("name", WALLED)
def test_no_row_of_another_pool_is_written(filled: Engine, name: str) -> None:
    table = metadata.tables[name]
    with pytest.raises(DBAPIError, match="row-level security"), writing(filled, "north") as connection:
        connection.execute(insert(table).values(sample(table, "south")))


@only_postgresql
@pytest.mark.parametrize("act", ["UPDATE {0} SET pool_id = 'south'", "DELETE FROM {0}"])
@pytest.mark.parametrize("name", sorted({*WALLED} - {*APPEND_ONLY}))
def test_no_row_of_another_pool_is_changed(filled: Engine, name: str, act: str) -> None:
    statement = f"{act.format(name)} WHERE pool_id = 'north'"

    if not refused(filled, statement, "south"):
        with writing(filled, "south") as connection:
            assert 0 == connection.execute(text(statement)).rowcount
    assert 1 == len(rows(filled, metadata.tables[name]))


@only_postgresql
@pytest.mark.parametrize("name", WALLED)
def test_the_wall_stands_before_the_owner_too(filled: Engine, owners: Engine, name: str) -> None:
    with reading(owners, "north") as connection:
        assert ["north"] == list(connection.scalars(select(metadata.tables[name].c.pool_id)))
    assert 1 == len(rows(filled, metadata.tables[name]))
