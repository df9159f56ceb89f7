"""The chain of events of access in the database: gapless however many write, and whatever is changed in it is found."""

from collections.abc import Iterator
from concurrent.futures import ThreadPoolExecutor

import pytest
from click.testing import CliRunner
from pool_client.models.directory import Role
from sqlalchemy import Engine, create_engine, text

from pool_api.__main__ import main
from pool_api.domain.access_log import SERVER, Actor, EventKind
from pool_api.rest.compose import Variables, close_office, open_office
from pool_api.services.access_log import note, note_refusal, verify_access
from pool_api.services.refusals import MOST_OF_ONE
from pool_api.settings import Settings
from pool_api.store import access_log
from pool_api.store.access_log import EventFilter
from pool_api.store.engine import reading, writing
from tests.databases import Database
from tests.served import CHEAP, POOL, Clock, Served, join


@pytest.fixture
def outside(database: Database) -> Iterator[Engine]:
    """Somebody with the database at hand, who has taken the triggers away."""
    engine = create_engine(database.superuser_url.replace("postgresql://", "postgresql+psycopg://"))
    with engine.begin() as connection:
        if database.backend == "sqlite":
            for name in connection.execute(text("SELECT name FROM sqlite_master WHERE type = 'trigger'")).scalars():
                connection.execute(text(f"DROP TRIGGER {name}"))
        else:
            connection.execute(text("ALTER TABLE access_event DISABLE TRIGGER ALL"))
            connection.execute(text("ALTER TABLE access_told DISABLE TRIGGER ALL"))
    yield engine
    engine.dispose()


@pytest.fixture
def told(service: Served) -> Served:
    """A service in which something has happened: a person has joined."""
    join(service, "Ines Walder", "ines", role=Role.CLERK, member="ALDER")
    return service


def joining(served: Served) -> int:
    """Give the number of the event by which Ines joined."""
    with reading(served.office.engine, None) as connection:
        found = connection.execute(text("SELECT number FROM access_event WHERE kind = 'invitation_accepted'"))
        number: int = found.scalar_one()
    return number


CHANGES = {
    "its kind": "UPDATE access_event SET kind = 'signed_in' WHERE number = :number",
    "when": "UPDATE access_event SET at = '2026-11-10T12:00:00.000001Z' WHERE number = :number",
    "who": "UPDATE access_event SET by_whom = 'person/-/p000000000000' WHERE number = :number",
    "who, by id": "UPDATE access_event SET by_id = NULL WHERE number = :number",
    "the session": "UPDATE access_event SET session_id = '000000000000' WHERE number = :number",
    "the address": "UPDATE access_event SET peer = '192.0.2.9' WHERE number = :number",
    "to whom": "UPDATE access_event SET about = NULL WHERE number = :number",
    "where": "UPDATE access_event SET pool_id = NULL WHERE number = :number",
    "more": "UPDATE access_event SET detail = replace(detail, 'clerk', 'keeper') WHERE number = :number",
    "more, unreadable": "UPDATE access_event SET detail = 'gone' WHERE number = :number",
    "its hash": "UPDATE access_event SET hash = 'f' WHERE number = :number",
    "the hash before it": "UPDATE access_event SET previous_hash = hash WHERE number = :number",
    "who is told": "DELETE FROM access_told WHERE number = :number",
}


@pytest.mark.parametrize("change", CHANGES)
def test_a_changed_event_is_found_by_its_number(told: Served, outside: Engine, change: str) -> None:
    number = joining(told)
    assert verify_access(told.office).problem is None
    with outside.begin() as connection:
        assert 1 == connection.execute(text(CHANGES[change]), {"number": number}).rowcount

    assert number == verify_access(told.office).number


def test_an_event_that_is_gone_is_missed_in_the_middle_and_at_the_end(told: Served, outside: Engine) -> None:
    number, last = joining(told), verify_access(told.office).events
    assert number < last
    with outside.begin() as connection:
        connection.execute(text("DELETE FROM access_event WHERE number = :last"), {"last": last})
    found = verify_access(told.office)
    assert (0, True) == (found.number, (found.problem or "").startswith(f"the last of {last} events"))
    with outside.begin() as connection:
        connection.execute(text("DELETE FROM access_event WHERE number = :number"), {"number": number - 1})

    found = verify_access(told.office)
    assert (number, f"the number should be {number - 1}") == (found.number, found.problem)


def test_the_server_verifies_it_beside_a_journal(told: Served, outside: Engine, database: Database) -> None:
    def ran() -> tuple[int, str]:
        ended = CliRunner().invoke(main, ["verify", POOL], env={"CREDIT_POOL_DATABASE_URL": database.url})
        return ended.exit_code, ended.stdout

    number, report = joining(told), verify_access(told.office)
    code, said = ran()
    assert 0 == code
    assert f"{report.events} access events, head {report.head}\n" in said
    with outside.begin() as connection:
        connection.execute(text("UPDATE access_event SET peer = NULL WHERE number = :number"), {"number": number})

    code, said = ran()
    assert (1, True) == (code, f"access event {number}: the hash does not fit what the event says" in said)


def test_many_who_write_at_once_make_one_chain(service: Served) -> None:
    before = verify_access(service.office).events

    def write(number: int) -> None:
        with writing(service.office.engine, None) as connection:
            note(service.office, connection, EventKind.SHUT_OUT, SERVER, about=f"p{number:012x}")

    with ThreadPoolExecutor(8) as threads:
        list(threads.map(write, range(40)))

    report = verify_access(service.office)
    assert (before + 40, None) == (report.events, report.problem)


def test_what_was_left_out_is_counted_when_a_process_ends(database: Database) -> None:
    settings, variables = Settings(database_url=database.url, **CHEAP), Variables(now=Clock().now)
    office = open_office(settings, variables)
    for _ in range(MOST_OF_ONE + 4):
        note_refusal(office, EventKind.SIGN_IN_REFUSED, Actor(peer="192.0.2.1"))
    close_office(office)
    office = open_office(settings, variables)
    with reading(office.engine, None) as connection:
        found = access_log.read_all(connection, EventFilter(), before=None, limit=100)
    close_office(office)

    assert ["left_out", *["sign_in_refused"] * MOST_OF_ONE] == [each.kind for each in found]
    assert {"192.0.2.1"} == {each.actor.peer for each in found}
    assert {"of": "sign_in_refused", "count": 4, "since": "2026-11-10T12:00:00.000000Z"} == found[0].detail


def test_what_is_rolled_back_never_happened(service: Served) -> None:
    before = verify_access(service.office)
    with pytest.raises(LookupError), writing(service.office.engine, None) as connection:
        note(service.office, connection, EventKind.SHUT_OUT, SERVER, about="p000000000000")
        raise LookupError

    assert before == verify_access(service.office)


def test_who_is_refused_is_told_so_even_where_it_cannot_be_written_down(
    service: Served, outside: Engine, caplog: pytest.LogCaptureFixture
) -> None:
    before = verify_access(service.office)
    taken = {"pool": POOL, "number": before.events + 1}
    with outside.begin() as connection:
        connection.execute(text("INSERT INTO access_told (pool_id, number) VALUES (:pool, :number)"), taken)

    answer = service.send("PUT", "/members/ELM", {"name": "Elm", "joined_on": "2026-09-01"}, key="clerk")

    assert 403 == answer.status_code
    assert before == verify_access(service.office)
    assert "could not be written down: write_refused" in caplog.text
