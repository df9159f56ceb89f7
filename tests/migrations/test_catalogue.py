"""Rules of the schema that every table keeps, asked of the migrated databases themselves."""

from collections.abc import Iterator

import pytest
from sqlalchemy import Engine, inspect, text

from pool_api.store.engine import reading
from tests.databases import APP_ROLE, only_postgresql, only_sqlite
from tests.migrations.samples import ACROSS_POOLS, APPEND_ONLY, WALLED

KEYS_WITHOUT_POOL = {
    ("service_setting", ("name",)): "belongs to no pool",
    ("api_key", ("key_id",)): "looked up before its pool is known",
    ("api_key", ("secret_hash",)): "looked up before its pool is known",
    ("person", ("person_id",)): "belongs to no pool",
    ("person", ("sign_in_name",)): "looked up before anything is known",
    ("session", ("session_id",)): "belongs to a person",
    ("session", ("secret_hash",)): "looked up before its person is known",
    ("session", ("person_id", "session_id")): "belongs to a person",
    ("second_factor", ("person_id",)): "belongs to a person",
    ("recovery_code", ("person_id", "number")): "belongs to a person",
    ("membership", ("person_id", "pool_id")): "a person's pools are found before one is named",
    ("invitation", ("secret_hash",)): "looked up before its pool is known",
    ("access_event", ("number",)): "one chain for the whole service",
    ("access_event", ("hash",)): "one chain for the whole service",
    ("access_event", ("by_id", "number")): "a person's own, in whatever pools",
    ("access_event", ("about", "number")): "a person's own, in whatever pools",
    ("access_told", ("number",)): "read beside the chain when it is verified",
    ("access_head", ("chain",)): "belongs to no pool",
    ("alembic_version", ("version_num",)): "the schema's own",
}


def keys(engine: Engine) -> Iterator[tuple[str, tuple[str, ...]]]:
    catalogue = inspect(engine)
    for table in catalogue.get_table_names():
        yield table, tuple(catalogue.get_pk_constraint(table)["constrained_columns"])
        for unique in catalogue.get_unique_constraints(table):
            yield table, tuple(unique["column_names"])
        for index in catalogue.get_indexes(table):
            yield table, tuple(column or "" for column in index["column_names"])


def ask(engine: Engine, question: str) -> list[str]:
    with reading(engine, None) as connection:
        return list(connection.scalars(text(question)))


def test_the_pool_leads_every_key_and_index(engine: Engine) -> None:
    leaderless = {key for key in keys(engine) if key[1][0] != "pool_id"}

    assert KEYS_WITHOUT_POOL.keys() == leaderless


def test_the_pool_leads_every_reference_to_another_table(engine: Engine) -> None:
    catalogue = inspect(engine)
    references = [each for table in catalogue.get_table_names() for each in catalogue.get_foreign_keys(table)]

    assert references
    assert {("pool_id", "pool_id")} == {
        (each["constrained_columns"][0], each["referred_columns"][0]) for each in references
    }


def test_every_constraint_has_a_name(engine: Engine) -> None:
    catalogue = inspect(engine)
    for table in set(catalogue.get_table_names()) - {"alembic_version"}:
        constraints = [
            catalogue.get_pk_constraint(table),
            *catalogue.get_unique_constraints(table),
            *catalogue.get_foreign_keys(table),
            *catalogue.get_check_constraints(table),
        ]

        assert [] == [each for each in constraints if not each["name"]]


def test_columns_hold_text_and_whole_numbers_only(engine: Engine) -> None:
    catalogue = inspect(engine)
    kinds = {
        str(column["type"]).split(" COLLATE")[0]
        for table in set(catalogue.get_table_names()) - {"alembic_version"}
        for column in catalogue.get_columns(table)
    }

    assert {"sqlite": {"TEXT", "INTEGER"}, "postgresql": {"TEXT", "BIGINT"}}[engine.dialect.name] == kinds


@only_sqlite
def test_every_table_of_sqlite_is_strict(engine: Engine) -> None:
    loose = ask(engine, "SELECT name FROM pragma_table_list WHERE schema = 'main' AND type = 'table' AND NOT strict")

    assert {"alembic_version", "sqlite_schema"} == set(loose)


@only_postgresql
def test_text_sorts_by_code_point_on_postgresql(engine: Engine) -> None:
    found = ask(
        engine,
        "SELECT DISTINCT collation_name FROM information_schema.columns WHERE table_schema = 'public' "
        "AND data_type = 'text' AND table_name <> 'alembic_version'",
    )

    assert ["C"] == found


@only_postgresql
def test_row_security_is_enabled_and_forced_on_every_table_of_a_pool(engine: Engine) -> None:
    walled = ask(engine, "SELECT relname FROM pg_class WHERE relkind = 'r' AND relrowsecurity AND relforcerowsecurity")
    of_a_pool = ask(
        engine,
        "SELECT table_name FROM information_schema.columns WHERE table_schema = 'public' AND column_name = 'pool_id'",
    )

    assert set(of_a_pool) - ACROSS_POOLS.keys() == set(walled)
    assert set(WALLED) == set(walled)


@only_postgresql
def test_the_service_owns_nothing_and_may_pass_no_wall(engine: Engine) -> None:
    owned = ask(
        engine,
        "SELECT c.relname FROM pg_class c WHERE pg_has_role(current_user, c.relowner, 'USAGE') "
        "UNION ALL SELECT d.datname FROM pg_database d WHERE pg_has_role(current_user, d.datdba, 'USAGE') "
        "UNION ALL SELECT p.proname FROM pg_proc p WHERE pg_has_role(current_user, p.proowner, 'USAGE')",
    )
    mighty = ask(
        engine,
        "SELECT rolname FROM pg_roles WHERE pg_has_role(current_user, oid, 'USAGE') AND "
        "(rolsuper OR rolbypassrls OR rolcreaterole OR rolcreatedb OR rolreplication)",
    )

    assert [] == owned
    assert [] == mighty


@only_postgresql
@pytest.mark.parametrize("table", APPEND_ONLY)
def test_the_service_may_only_read_and_add_facts(engine: Engine, table: str) -> None:
    rights = ask(
        engine,
        "SELECT privilege_type FROM information_schema.role_table_grants "
        f"WHERE grantee = '{APP_ROLE}' AND table_name = '{table}'",
    )

    assert {"SELECT", "INSERT"} == set(rights)
