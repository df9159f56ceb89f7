import threading
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Any

import psycopg
import pytest
from pysqlite3 import dbapi2 as sqlite
from sqlalchemy import Connection, Engine, func, insert, select, text
from sqlalchemy.engine import make_url
from sqlalchemy.exc import DBAPIError
from sqlalchemy.sql.functions import Function

from pool_api.store.engine import flowing, open_engine, reading, sqlite_pragmas, wal_is_sound, writing
from pool_api.store.errors import StoreBusy, StoreConflict, StoreUnavailable, StoreUnfit
from pool_api.store.tables import head, pool, service_setting
from tests.clusters import Cluster
from tests.databases import Database, only_postgresql, only_sqlite


@contextmanager
def impatient(database: Database) -> Iterator[Engine]:
    engine = open_engine(database.url, connections=1, lock_wait_ms=100, statement_ms=200)
    yield engine
    engine.dispose()


def set_name(connection: Connection, name: str) -> None:
    connection.execute(insert(service_setting).values(name=name, value="1"))


def names(engine: Engine) -> list[str]:
    with reading(engine, None) as connection:
        return list(connection.scalars(select(service_setting.c.name).order_by(service_setting.c.name)))


def make_pool(connection: Connection, pool_id: str) -> None:
    terms = {"name": "North", "vendor": "Norvane Tuning Systems", "currency": "EUR", "time_zone": "UTC"}
    connection.execute(insert(pool).values(pool_id=pool_id, began_on="2026-01-01", policy="{}", version=1, **terms))


def make_head(connection: Connection, pool_id: str, number: int = 0) -> None:
    connection.execute(insert(head).values(pool_id=pool_id, number=number, hash="", stock=0, directory_version=1))


def tell_server(database: Database, statement: str) -> None:
    with psycopg.connect(database.superuser_url, autocommit=True) as connection:
        connection.execute(statement)


# --- units of work ---------------------------------------------------------------------------------------------------


def test_what_a_write_unit_did_stands_after_it(engine: Engine) -> None:
    with writing(engine, None) as connection:
        set_name(connection, "a")

    assert ["a"] == names(engine)


def test_nothing_of_a_write_unit_stands_when_anything_is_raised(engine: Engine) -> None:
    with pytest.raises(LookupError), writing(engine, None) as connection:
        set_name(connection, "a")
        raise LookupError

    assert [] == names(engine)


def test_a_read_unit_sees_one_state_while_others_write(engine: Engine) -> None:
    counting = select(func.count()).select_from(service_setting)
    with reading(engine, None) as connection:
        assert 0 == connection.scalar(counting)
        with writing(engine, None) as other:
            set_name(other, "a")

        assert 0 == connection.scalar(counting)
    assert ["a"] == names(engine)


def test_write_units_of_many_threads_lose_no_update(engine: Engine) -> None:
    with writing(engine, "north") as connection:
        make_pool(connection, "north")
        make_head(connection, "north")

    def count_up() -> None:
        for _ in range(10):
            with writing(engine, "north") as connection:
                number = connection.scalar(select(head.c.number).with_for_update()) or 0
                connection.execute(head.update().values(number=number + 1))

    threads = [threading.Thread(target=count_up) for _ in range(4)]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()

    with reading(engine, "north") as connection:
        assert 40 == connection.scalar(select(head.c.number))


def test_a_writer_that_waits_too_long_is_told_to_ask_again(engine: Engine, database: Database) -> None:
    with impatient(database) as other, writing(engine, None) as connection:
        set_name(connection, "a")
        with pytest.raises(StoreBusy), writing(other, None) as second:
            set_name(second, "a")

    assert ["a"] == names(engine)


def test_a_unit_that_finds_no_free_connection_is_told_to_ask_again(database: Database) -> None:
    with impatient(database) as engine:
        with reading(engine, None), pytest.raises(StoreBusy), reading(engine, None):
            pass

        assert [] == names(engine)


@only_postgresql
def test_a_statement_that_takes_too_long_is_ended(database: Database) -> None:
    with impatient(database) as engine:
        with pytest.raises(StoreBusy), reading(engine, None) as connection:
            connection.execute(text("SELECT pg_sleep(5)"))

        assert [] == names(engine)


@only_postgresql
def test_a_read_unit_can_not_write(engine: Engine) -> None:
    with pytest.raises(DBAPIError), reading(engine, None) as connection:
        set_name(connection, "a")


@only_postgresql
@pytest.mark.parametrize("name", ["north", "o'brien", "\\", "%s :a", '"; DROP TABLE entry; --'])
def test_a_unit_names_its_pool_to_row_security_and_forgets_it(engine: Engine, name: str) -> None:
    asking = text("SELECT current_setting('app.pool', true)")
    for unit in (writing, reading):
        with unit(engine, name) as connection:
            assert name == connection.scalar(asking)
        with unit(engine, None) as connection:
            assert not connection.scalar(asking)


# --- rows as they come -----------------------------------------------------------------------------------------------

MANY = [f"{number:04d}" for number in range(1_201)]
"""More than come at a time."""

EACH = select(service_setting.c.name).order_by(service_setting.c.name)


def set_many(engine: Engine) -> None:
    with writing(engine, None) as connection:
        connection.execute(insert(service_setting), [{"name": name, "value": "1"} for name in MANY])


def test_rows_flow_to_the_last_one_and_the_unit_goes_on(engine: Engine) -> None:
    set_many(engine)

    with reading(engine, None) as connection:
        with flowing(connection, EACH.where(service_setting.c.name != "0007")) as rows:
            found = [name for (name,) in rows]
        assert len(MANY) == connection.scalar(select(func.count()).select_from(service_setting))

    assert [name for name in MANY if name != "0007"] == found


def test_who_leaves_rows_that_flow_leaves_the_connection_to_others(database: Database) -> None:
    with impatient(database) as engine:
        set_many(engine)
        with pytest.raises(LookupError), reading(engine, None) as connection, flowing(connection, EACH) as rows:
            assert "0000" == next(rows)[0]
            raise LookupError

        assert MANY == names(engine)


@only_postgresql
@pytest.mark.parametrize(
    ("asked", "refusal"),
    [
        (func.pg_sleep(5), StoreBusy),
        (func.pg_terminate_backend(func.pg_backend_pid()), StoreUnavailable),
        (func.no_such_function(), psycopg.Error),
    ],
)
def test_errors_mean_the_same_while_rows_flow(
    database: Database, asked: Function[Any], refusal: type[Exception]
) -> None:
    with impatient(database) as engine:
        with (
            pytest.raises(refusal),
            reading(engine, None) as connection,
            flowing(connection, select(asked)) as rows,
        ):
            next(rows)

        assert [] == names(engine)


# --- what errors mean ------------------------------------------------------------------------------------------------


def test_a_conflict_names_the_primary_key(engine: Engine) -> None:
    with pytest.raises(StoreConflict) as refusal, writing(engine, None) as connection:
        set_name(connection, "a")
        set_name(connection, "a")

    assert "pk_service_setting" == refusal.value.constraint


def test_a_conflict_names_the_check(engine: Engine) -> None:
    with pytest.raises(StoreConflict) as refusal, writing(engine, "north") as connection:
        make_pool(connection, "north")
        make_head(connection, "north", number=-1)

    assert "ck_head_number_not_negative" == refusal.value.constraint


def test_a_conflict_names_the_foreign_key_where_the_database_tells(engine: Engine, database: Database) -> None:
    with pytest.raises(StoreConflict) as refusal, writing(engine, "north") as connection:
        make_head(connection, "north")

    assert {"sqlite": None, "postgresql": "fk_head_pool"}[database.backend] == refusal.value.constraint


def test_a_mistake_of_the_program_is_no_store_error(engine: Engine) -> None:
    with pytest.raises(DBAPIError), reading(engine, None) as connection:
        connection.execute(text("SELECT * FROM no_such_table"))


@only_sqlite
def test_a_full_disk_is_told_and_its_connection_dropped(database: Database) -> None:
    with impatient(database) as engine:
        with pytest.raises(StoreUnavailable), writing(engine, None) as connection:
            connection.exec_driver_sql("PRAGMA max_page_count = 1")
            connection.execute(insert(service_setting).values(name="a", value="x" * 1_000_000))
        with writing(engine, None) as connection:
            set_name(connection, "b")
            limit = connection.exec_driver_sql("PRAGMA max_page_count").scalar()

        assert ["b"] == names(engine)
        assert 1_000_000 < (limit or 0)


def test_a_file_that_is_no_database_is_unavailable(tmp_path: Path) -> None:
    (tmp_path / "letter").write_text("Dear BIRCH, " * 1000)

    with pytest.raises(StoreUnavailable):
        open_engine(f"sqlite:///{tmp_path / 'letter'}")


@only_postgresql
def test_a_lost_connection_is_told_and_replaced(engine: Engine, database: Database) -> None:
    others = "datname = current_database() AND pid <> pg_backend_pid()"
    with pytest.raises(StoreUnavailable), writing(engine, None) as connection:
        set_name(connection, "a")
        tell_server(database, f"SELECT pg_terminate_backend(pid) FROM pg_stat_activity WHERE {others}")
        set_name(connection, "b")

    assert [] == names(engine)


# --- what is fit for a book ------------------------------------------------------------------------------------------


@only_sqlite
def test_every_sqlite_connection_has_the_settings_of_a_book(engine: Engine) -> None:
    wanted = {
        "busy_timeout": 5000,
        "journal_mode": "wal",
        "synchronous": 2,  # FULL, by SQLite's manual
        "foreign_keys": 1,
        "recursive_triggers": 1,
        "trusted_schema": 0,
        "cell_size_check": 1,
    }
    with reading(engine, None) as first, reading(engine, None) as second:
        for connection in (first, second):
            found = {pragma: connection.exec_driver_sql(f"PRAGMA {pragma}").scalar() for pragma in wanted}

            assert wanted == found


@pytest.mark.parametrize(
    ("version", "sound"),
    [  # SQLite's release notes, of 3.51.3 and of the branches it was carried back to
        ((3, 6, 23), True),
        ((3, 7, 0), False),
        ((3, 40, 1), False),
        ((3, 44, 5), False),
        ((3, 44, 6), True),
        ((3, 45, 0), False),
        ((3, 50, 6), False),
        ((3, 50, 7), True),
        ((3, 51, 2), False),
        ((3, 51, 3), True),
        ((3, 53, 4), True),
    ],
)
def test_write_ahead_logging_is_sound_outside_the_defect(version: tuple[int, int, int], *, sound: bool) -> None:
    assert sound == wal_is_sound(version)


def test_a_library_with_the_defect_keeps_a_rollback_journal(tmp_path: Path) -> None:
    connection = sqlite.connect(tmp_path / "book", isolation_level=None)
    for pragma, (wanted, expected) in sqlite_pragmas((3, 40, 1), lock_wait_ms=100).items():
        connection.execute(f"PRAGMA {pragma} = {wanted}")

        assert expected == str(connection.execute(f"PRAGMA {pragma}").fetchone()[0])
    assert ("truncate",) == connection.execute("PRAGMA journal_mode").fetchone()
    assert (3,) == connection.execute("PRAGMA synchronous").fetchone()  # EXTRA, by SQLite's manual
    connection.close()


@only_sqlite
def test_a_sqlite_that_does_not_obey_is_refused(database: Database) -> None:
    with pytest.raises(StoreUnfit, match="busy_timeout"):
        open_engine(database.url, lock_wait_ms=10**12)


@only_postgresql
@pytest.mark.parametrize(
    "setting", ["synchronous_commit = off", "synchronous_commit = local", "standard_conforming_strings = off"]
)
def test_a_postgresql_that_could_lose_or_misread_is_refused(database: Database, setting: str) -> None:
    tell_server(database, f"ALTER DATABASE {make_url(database.url).database} SET {setting}")

    with pytest.raises(StoreUnfit, match=setting.split(maxsplit=1)[0]):
        open_engine(database.url)


@only_postgresql
def test_a_session_has_its_limits_and_speaks_utc(engine: Engine) -> None:
    wanted = {
        "lock_timeout": "5s",
        "statement_timeout": "30s",
        "idle_in_transaction_session_timeout": "1min",
        "TimeZone": "UTC",
        "transaction_isolation": "read committed",
    }
    with writing(engine, None) as connection:
        assert wanted == {name: connection.exec_driver_sql(f"SHOW {name}").scalar() for name in wanted}


@only_postgresql
@pytest.mark.usefixtures("template")
def test_a_standby_is_refused(run_directory: Path) -> None:
    """Here, one that has nobody to follow."""
    standby = Cluster(run_directory / "standby", standby=True)
    standby.start()
    try:
        with pytest.raises(StoreUnavailable, match="standby"):
            open_engine(standby.url.render_as_string())
    finally:
        standby.stop()


@pytest.mark.parametrize(
    "url",
    [
        "::",
        "mysql://localhost/book",
        "sqlite://",
        "sqlite:///:memory:",
        "sqlite:///file:book?mode=memory&uri=true",
        "sqlite:///book?timeout=1",
        "postgresql+asyncpg://localhost/book",
        "postgresql://db.example/book",
        "postgresql://db.example/book?sslmode=require",
        "postgresql://192.0.2.1/book",
        "postgresql:///book?host=db.example",
        "postgresql:///book?host=localhost&host=db.example",
        "postgresql://localhost/book?hostaddr=192.0.2.1",
    ],
)
def test_a_url_that_is_unsafe_for_a_book_is_refused(url: str) -> None:
    with pytest.raises(StoreUnfit):
        open_engine(url)


@pytest.mark.parametrize("host", ["127.0.0.1", "localhost", "[::1]"])
def test_a_server_that_is_not_there_is_unavailable(host: str) -> None:
    with pytest.raises(StoreUnavailable):
        open_engine(f"postgresql://{host}:1/book")
