"""What happened with access, written down by the real service and read by whom it concerns (ASVS 5.0, chapter 16): an
event of each kind, who is told of it, and what may not stand in it."""

from typing import Any

import pytest
from click.testing import CliRunner
from pool_client.happenings import KINDS
from pool_client.models.access import AccessDetail, AccessEvent
from pool_client.models.directory import Role
from sqlalchemy import text

from pool_api.__main__ import main
from pool_api.domain.access_log import EventKind
from pool_api.services.access_log import settle, verify_access
from pool_api.services.refusals import MOST_OF_ONE
from pool_api.store.engine import reading
from tests.databases import Database
from tests.rest.access_acts import EVENTS, OTHER, change_as_clerk, change_role, invite, make_key, sign_in
from tests.served import PASSWORD, POOL, Served, join, second_factor, set_up

PEER = "127.0.0.1"  # what the in-process transport says of itself


@pytest.fixture
def people(service: Served) -> dict[str, str]:
    """The ids of a keeper, Ines, and of a clerk, Sam, who have joined; and of the keeper's key."""
    keeper = service.client("keeper").who().id
    ines = join(service, "Ines Walder", "ines")
    second_factor(service, "ines")
    sam = join(service, "Sam", "sam", role=Role.CLERK, member="ALDER")
    return {"ines": ines, "sam": sam, "keeper": keeper, "operator": service.client("operator").who().id}


def latest(served: Served, kind: str, key: str = "operator") -> AccessEvent:
    return next(iter(served.client(key).own_access_events(kind=kind)))


# --- an event of each kind -------------------------------------------------------------------------------------------


def test_every_kind_has_a_row_here_and_words_in_the_client() -> None:
    assert set(EventKind) == EVENTS.keys() == {EventKind(each) for each in KINDS}


@pytest.mark.parametrize("kind", EVENTS)
def test_each_kind_says_who_what_where_from_and_to_whom(
    service: Served, people: dict[str, str], kind: EventKind
) -> None:
    act, by, about, pool, detail = EVENTS[kind]
    made = act(service, people)
    found = latest(service, kind)

    assert service.office.instant() == f"{found.at:%Y-%m-%dT%H:%M:%S.%fZ}"
    assert (people.get(by or ""), pool) == (found.by_id, found.pool)
    assert (made if about == "*" else people.get(about or "")) == found.about
    assert (None if by == "server" else PEER) == found.peer or kind is EventKind.LEFT_OUT
    assert ("server" if by == "server" else None) == found.by or (by in people and found.by)
    for name in AccessDetail.__dataclass_fields__:
        wanted, said = getattr(detail, name), getattr(found.detail, name)
        assert wanted == said or (wanted == "*" and said), name


@pytest.mark.parametrize("kind", set(EVENTS) - {EventKind.POOL_MADE, EventKind.INVITATION_ACCEPTED})
def test_each_kind_is_written_once_and_told_to_the_keeper(
    service: Served, people: dict[str, str], kind: EventKind
) -> None:
    before = [each.event for each in service.book().access_events(kind=kind)]
    EVENTS[kind][0](service, people)
    after = [each.event for each in service.book().access_events(kind=kind)]

    more = 2 if kind is EventKind.SIGN_IN_THROTTLED else 1  # two of the eight tries have to wait
    assert len(before) + more == len(after)
    assert before == after[more:]
    assert verify_access(service.office).problem is None


# --- who is told -----------------------------------------------------------------------------------------------------


def kinds(served: Served, key: str, pool: str = POOL, **wanted: Any) -> list[str]:
    return [each.kind for each in served.book(key, pool).access_events(**wanted)]


def test_no_pool_is_told_of_people_or_keys_of_another(service: Served, people: dict[str, str]) -> None:
    set_up(service, "hillside", prefix="other ")
    before = kinds(service, "other keeper", "hillside")
    for kind in (EventKind.SIGNED_IN, EventKind.ROLE_CHANGED, EventKind.WRITE_REFUSED, EventKind.KEY_REVOKED):
        EVENTS[kind][0](service, people)
    service.send("PUT", "/v1/pools/hillside/members/ELM", {"name": "Elm", "joined_on": "2026-09-01"}, key="sam")

    assert before == kinds(service, "other keeper", "hillside")
    assert {"key_made", "pool_made"} == set(before)
    told = {each.by_id for each in service.book("other keeper", "hillside").access_events()}
    assert {people["operator"], service.client("other keeper").who().id} == told


def test_a_cursor_of_one_pool_says_nothing_of_how_much_happens_in_others(service: Served) -> None:
    first = service.send("GET", "/access-events?limit=1").json()

    assert first["next"]
    assert "number" not in first["items"][0]


def test_a_person_of_two_pools_is_told_of_in_both_from_when_it_joined_to_when_it_left(service: Served) -> None:
    set_up(service, "hillside", prefix="other ")
    sam = join(service, "Sam", "sam", role=Role.READER)
    sign_in(service)
    token = service.book("other keeper", "hillside").invite(role=Role.READER).token or ""
    service.client("sam").accept_invitation(token=token)
    sign_in(service)
    service.book("operator", "hillside").take_person_out(person=sam)
    sign_in(service)

    assert 4 == kinds(service, "keeper", who=sam).count("signed_in")
    assert ["role_taken_away", "signed_in", "invitation_accepted"] == kinds(
        service, "other keeper", "hillside", who=sam
    )


@pytest.mark.usefixtures("people")
def test_somebody_unknown_is_told_to_the_operator_alone(service: Served) -> None:
    sign_in(service, name="Nobody")
    found = latest(service, "sign_in_refused")

    assert (None, None, PEER) == (found.by, found.about, found.peer)
    assert [] == kinds(service, "keeper", kind="sign_in_refused")
    assert [] == list(service.client("sam").own_access_events(kind="sign_in_refused"))


def test_a_write_to_a_pool_that_is_not_ones_own_is_told_there_and_not_here(
    service: Served, people: dict[str, str]
) -> None:
    set_up(service, "hillside", prefix="other ")
    for key in ("sam", "keeper"):
        answer = service.send("POST", "/v1/pools/hillside/draws", {"member": "ALDER", "quantity": 1}, key=key)
        assert 404 == answer.status_code

    assert [] == kinds(service, "other keeper", "hillside", kind="write_refused")
    assert [people["keeper"]] == [each.by_id for each in service.book().access_events(kind="write_refused")]
    assert ["not-found"] == [each.detail.code for each in service.client("sam").own_access_events(kind="write_refused")]


@pytest.mark.usefixtures("people")
def test_reading_what_is_not_ones_own_is_no_event(service: Served) -> None:
    assert 403 == service.send("GET", "/invitations", key="sam").status_code

    assert [] == kinds(service, "keeper", kind="write_refused")


def test_everybody_reads_its_own_and_not_from_where_others_acted(service: Served, people: dict[str, str]) -> None:
    change_role(service, people)
    own = list(service.client("sam").own_access_events())

    assert ["role_changed", "signed_in", "invitation_accepted"] == [each.kind for each in own]
    assert [None, PEER, PEER] == [each.peer for each in own]
    assert ["Ines Walder", "Sam", "Sam"] == [each.by_name for each in own]
    assert [] == list(service.client("sam").own_access_events(who=people["ines"]))
    assert {people["keeper"]} == {
        each.by_id if each.by_id == people["keeper"] else each.about
        for each in service.client("keeper").own_access_events()
    }


@pytest.mark.usefixtures("people")
@pytest.mark.parametrize("key", ["clerk", "reader", "sam"])
def test_clerks_and_readers_do_not_read_the_pools(service: Served, key: str) -> None:
    assert 403 == service.send("GET", "/access-events", key=key).status_code


def test_events_are_found_by_kind_person_and_day_of_the_pool(service: Served, people: dict[str, str]) -> None:
    service.clock.pass_seconds(11 * 3600 + 30 * 60)  # 23:30 in UTC, half past midnight in Vienna
    sign_in(service)
    tenth, eleventh = service.office.today("UTC"), service.office.today("Europe/Vienna")
    assert tenth < eleventh

    assert ["signed_in"] == kinds(service, "keeper", from_day=eleventh)
    assert "signed_in" in kinds(service, "keeper", to_day=tenth)
    assert 2 == kinds(service, "keeper", to_day=tenth, kind="signed_in").count("signed_in")
    assert ["signed_in"] == kinds(service, "keeper", from_day=eleventh, to_day=eleventh, who=people["sam"])
    assert [] == kinds(service, "keeper", from_day=eleventh, who=people["ines"])
    sign_in(service, key="later")
    assert 3 == len(list(service.client("later").own_access_events(from_day=tenth, kind="signed_in", to_day=tenth)))
    assert [] == list(service.client("later").own_access_events(from_day=eleventh))
    assert 422 == service.send("GET", "/access-events?kind=gossip").status_code


# --- what may not stand in it ----------------------------------------------------------------------------------------


def everything(served: Served) -> str:
    settle(served.office)
    with reading(served.office.engine, None) as connection:
        return repr(connection.execute(text("SELECT * FROM access_event")).all())


@pytest.mark.usefixtures("people")
def test_no_secret_and_no_tried_name_stands_in_it(service: Served) -> None:
    sign_in(service, name="my secret instead of my name")
    sign_in(service, password="the wrong secret")
    service.client("sam").change_password(current=PASSWORD, new=OTHER)
    invite(service)
    make_key(service)
    said = everything(service)

    assert "secret" not in said
    assert PASSWORD not in said
    assert OTHER not in said
    assert not [each for each in service.keys.values() if each.rpartition("_")[2] in said]
    assert "Ines" not in said


@pytest.mark.usefixtures("people")
def test_whoever_says_it_comes_from_elsewhere_is_not_believed(service: Served) -> None:
    sign_in(service, X_Forwarded_For="203.0.113.7", Forwarded="for=203.0.113.7", X_Real_IP="203.0.113.7")
    sign_in(service, password="wrong", X_Forwarded_For="203.0.113.7")

    assert [PEER, PEER] == [latest(service, kind).peer for kind in ("signed_in", "sign_in_refused")]
    assert "203.0.113.7" not in everything(service)


@pytest.mark.usefixtures("people")
def test_line_ends_in_whatever_people_send_stay_out_of_it(service: Served) -> None:
    label = "phone\u2028signed in: person p000000000000\u202e"
    body = {"name": "Sam", "password": PASSWORD, "label": label}
    assert 201 == service.send("POST", "/v1/sessions", body, key=None, idempotency_key=None).status_code
    service.send("PUT", "/members/%0D%0Asigned%20in%1B%5B2J" + "x" * 500, {"name": "Elm"}, key="sam")
    service.send("POST", "/v1/pools/hill%0Aside/draws", {"member": "ALDER", "quantity": 1}, key="sam")

    signed, refused = latest(service, "signed_in").detail, latest(service, "write_refused").detail
    assert "phone signed in: person p000000000000\N{REPLACEMENT CHARACTER}" == signed.label
    assert "/v1/pools/hill\N{REPLACEMENT CHARACTER}side/draws" == refused.path
    lengths = [len(each.detail.path or "") for each in service.client("operator").own_access_events()]
    assert max(lengths) <= 200
    assert not [each for each in ("\\n", "\\r", "\\x1b", "\\u2028", "\\u202e") if each in everything(service)]


# --- so much and no more ---------------------------------------------------------------------------------------------


def test_nobody_fills_the_disk_with_refusals(service: Served, people: dict[str, str]) -> None:
    for _ in range(3):
        for _ in range(MOST_OF_ONE + 5):
            change_as_clerk(service)
        service.clock.pass_seconds(11 * 60)
    found = list(service.book().access_events(who=people["sam"]))

    assert 3 * MOST_OF_ONE == [each.kind for each in found].count("write_refused")
    assert [(5, "write_refused")] * 3 == [
        (each.detail.count, each.detail.of) for each in found if each.kind == "left_out"
    ]
    assert [True] * 3 == [each.about == people["sam"] for each in found if each.kind == "left_out"]


@pytest.mark.usefixtures("people")
def test_servers_commands_tell_of_themselves(service: Served, database: Database) -> None:
    settings = {"CREDIT_POOL_DATABASE_URL": database.url}
    for line in (["operator-key", "--name", "second"], ["shut-out", "Sam"], ["let-in", "Sam"]):
        assert 0 == CliRunner().invoke(main, line, env=settings).exit_code
    found = [(each.kind, each.by, each.detail.role) for each in service.client("operator").own_access_events(limit=3)]

    assert [("let_in", "server", None), ("shut_out", "server", None), ("key_made", "server", "operator")] == found[:3]
