"""What the writer asks of people under its lock, whatever another process remembers of them."""

from collections.abc import Callable

import pytest
from sqlalchemy import Connection

from pool_api.domain.access import Caller, Membership, Role
from pool_api.domain.entries import Command
from pool_api.domain.errors import KeyEnded
from pool_api.store import people
from pool_api.store.engine import writing
from pool_api.store.people import Person, Session
from pool_api.store.writer import Request
from tests.store.process import CHARGE, DAY, POOL, Process

NOW = "2026-11-10T12:00:00.000000Z"
INES = Caller(role=Role.KEEPER, pool=POOL, member=None, key_id="p1", name="Ines", session="5a")


def signed_in(connection: Connection, *, expires_at: str = "2026-11-10T23:00:00.000000Z") -> None:
    """Write a person with a session, who is a keeper of the pool."""
    session = Session(
        session_id="5a",
        person_id="p1",
        label="",
        peer="192.0.2.1",
        made_at=NOW,
        confirmed_at=NOW,
        last_used_at=NOW,
        expires_at=expires_at,
    )
    people.write_person(
        connection, Person(person_id="p1", name="Ines", sign_in_name="ines", password="none", made_at=NOW)
    )
    people.write_session(connection, session, "of a token")
    people.write_membership(connection, "p1", Membership(pool=POOL, role=Role.KEEPER), at=NOW, by="keeper/-/0a")


def signed_out(connection: Connection) -> None:
    people.end_sessions(connection, "p1", NOW, only="5a")


def taken_out(connection: Connection) -> None:
    people.end_membership(connection, POOL, "p1", at=NOW, by="keeper/-/0a")


def made_a_reader(connection: Connection) -> None:
    people.write_membership(connection, "p1", Membership(pool=POOL, role=Role.READER), at=NOW, by="keeper/-/0a")


def asked(process: Process) -> BaseException | None:
    command = Command(body=CHARGE, effective_on=DAY, recorded_by="keeper/-/p1")
    request = Request(pool=POOL, caller=INES, operation="test", key="k", fingerprint="f", commands=(command,))
    return process.office.writer.record(request).exception(30)


def test_a_person_records_while_session_and_role_stand(process: Process) -> None:
    with writing(process.office.engine, POOL) as connection:
        signed_in(connection)

    assert asked(process) is None
    assert ["keeper/-/p1"] == [entry.recorded_by for entry in process.entries()]


@pytest.mark.parametrize("change", [signed_out, taken_out, made_a_reader])
def test_a_person_records_nothing_by_what_it_was_before(process: Process, change: Callable[[Connection], None]) -> None:
    with writing(process.office.engine, POOL) as connection:
        signed_in(connection)
    with writing(process.office.engine, POOL) as connection:
        change(connection)

    assert isinstance(asked(process), KeyEnded)
    assert [] == process.entries()


def test_a_person_records_nothing_in_a_session_that_is_too_old(process: Process) -> None:
    with writing(process.office.engine, POOL) as connection:
        signed_in(connection, expires_at=NOW)

    assert isinstance(asked(process), KeyEnded)


def test_a_token_is_used_once_however_many_come_at_once(process: Process) -> None:
    made = people.Invitation(
        pool=POOL, invitation_id="1a", role=Role.READER, member=None, note="", made_at=NOW, made_by="-", expires_at=NOW
    )
    with writing(process.office.engine, POOL) as connection:
        people.write_invitation(connection, made, "of a token")

    with writing(process.office.engine, POOL) as connection:
        used = [people.use_invitation(connection, made, person, NOW) for person in ("p1", "p2")]
        people.withdraw_invitation(connection, POOL, "1a", NOW)
        kept = people.find_invitation(connection, "of a token")

    assert [True, False] == used
    assert kept
    assert ("p1", None) == (kept.accepted_by, kept.withdrawn_at)
