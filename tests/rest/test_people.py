"""How people come into a pool, what they are there, and how they are taken out, in the real service."""

from datetime import timedelta
from typing import Any

import httpx
import pytest
from pool_client.errors import Missing, NotAllowed, Refused
from pool_client.models.directory import Role

from pool_api.services.sessions import new_password, shut_out
from tests.served import PASSWORD, POOL, Served, join, second_factor, set_up

CHARGE = {"from_member": "ALDER", "to_member": "BIRCH", "amount": "1.00", "reason": "courier"}
UNKNOWN = "cpi_" + "f" * 12 + "_" + "6" * 40


def accept(served: Served, token: str, name: str = "Ines Walder", password: str = PASSWORD) -> httpx.Response:
    body = {"token": token, "name": name, "password": password}
    return served.send("POST", "/v1/invitations/acceptance", body, key=None, idempotency_key=None)


def code(answer: httpx.Response) -> tuple[int, str]:
    return answer.status_code, answer.json().get("code", "")


def token_of(served: Served, key: str = "keeper", **said: Any) -> str:
    token: str = served.send("POST", "/invitations", {"role": "keeper", **said}, key=key).json()["token"]
    return token


# --- invitations -----------------------------------------------------------------------------------------------------


def test_nobody_can_sign_in_before_somebody_was_invited(bare_service: Served) -> None:
    for name in ("admin", "operator", "test operator"):
        with pytest.raises(NotAllowed):
            bare_service.client(None).sign_in(name=name, password="password")


def test_a_pools_first_keeper_comes_in_by_an_operators_invitation(service: Served) -> None:
    token = token_of(service, "operator", note="for the book")
    opened = service.client(None).open_invitation(token=token)
    made = service.client(None).accept_invitation(token=token, name="Ines Walder", password=PASSWORD)
    service.keys["ines"] = made.token or ""

    assert (POOL, "Riverside", "keeper", "for the book") == (opened.pool, opened.name, opened.role, opened.note)
    assert timedelta(hours=72) == opened.expires_at - service.clock.at
    assert 403 == service.send("POST", "/keys", {"name": "more", "role": "reader"}, key="ines").status_code
    second_factor(service, "ines")
    assert 201 == service.send("POST", "/keys", {"name": "more", "role": "reader"}, key="ines").status_code
    assert 403 == service.send("GET", "/journal", key="operator").status_code


def test_an_invitation_is_worth_something_once(service: Served) -> None:
    token = token_of(service)
    assert 201 == accept(service, token).status_code

    assert (409, "invitation-void") == code(accept(service, token, "Olav Berg"))
    (kept,) = service.book().invitations()
    assert kept.accepted_by == next(service.book().people()).person


@pytest.mark.parametrize("ended", ["unknown", "expired", "withdrawn", "used"])
def test_a_token_that_opens_nothing_is_refused_in_the_same_words(service: Served, ended: str) -> None:
    token = UNKNOWN if ended == "unknown" else token_of(service)
    if ended == "expired":
        service.clock.pass_days(3)
    elif ended == "withdrawn":
        service.book().withdraw_invitation(invitation=token.split("_")[1])
    elif ended == "used":
        accept(service, token, "Olav Berg")

    said = {"token": token}
    answers = [
        accept(service, token),
        service.send("POST", "/v1/invitations/reading", said, key=None, idempotency_key=None),
    ]

    assert [(409, "invitation-void")] * 2 == [code(answer) for answer in answers]
    assert {"code", "detail", "status", "title", "type"} == answers[0].json().keys()
    assert "Ines Walder" not in [person.name for person in service.book().people()]


def test_what_is_wrong_with_a_newcomer_leaves_the_invitation_as_it_was(service: Served) -> None:
    join(service, "Olav Berg", "olav")
    token = token_of(service)
    answers = [
        accept(service, token, "olav BERG"),
        accept(service, token, password="riverside 1"),
        accept(service, token, password="inesWalder"),
        accept(service, token, password="short"),
        service.send("POST", "/v1/invitations/acceptance", {"token": token}, key=None, idempotency_key=None),
        service.send("POST", "/v1/invitations/acceptance", {"token": token}, key="keeper", idempotency_key=None),
        service.send("POST", "/v1/invitations/acceptance", {"token": token}, key="olav", idempotency_key=None),
    ]

    assert [
        (409, "name-taken"),
        (422, "password-unfit"),
        (422, "password-unfit"),
        (422, "invalid-request"),
        (422, "acceptance-unclear"),
        (403, "not-permitted"),
        (409, "already-joined"),
    ] == [code(answer) for answer in answers]
    assert 201 == accept(service, token).status_code


def test_a_token_is_shown_once_and_its_invitation_can_be_asked_for_again(service: Served) -> None:
    body = {"role": "clerk", "member": "BIRCH", "note": "the counter"}
    first, again = (service.send("POST", "/invitations", body, idempotency_key="invite-birch") for _ in range(2))
    listed = service.send("GET", "/invitations").text + service.send("GET", "/keys").text

    assert first.json()["token"].startswith("cpi_")
    assert {**first.json(), "token": None} == {**again.json(), "token": None}
    assert "token" not in again.json()
    assert first.json()["token"] not in listed
    assert (422, "key-reused") == code(
        service.send("POST", "/invitations", {**body, "member": "CEDAR"}, idempotency_key="invite-birch")
    )


def test_a_clerk_is_invited_for_a_member_of_the_pool_and_nobody_else_for_any(service: Served) -> None:
    answers = [
        code(service.send("POST", "/invitations", body))
        for body in ({"role": "clerk"}, {"role": "clerk", "member": "ELM"}, {"role": "keeper", "member": "ALDER"})
    ]

    assert [(403, "not-permitted"), (409, "unknown-member"), (403, "not-permitted")] == answers
    assert 422 == service.send("POST", "/invitations", {"role": "operator"}).status_code


def test_whoever_has_signed_in_accepts_for_the_person_that_is_there_already(service: Served) -> None:
    set_up(service, "hillside", prefix="other ")
    ines = join(service, "Ines Walder", "ines")
    token = service.book("other keeper", "hillside").invite(role=Role.READER).token or ""
    made = service.client("ines").accept_invitation(token=token)

    assert (ines, None) == (made.person.person, made.token)
    assert [("hillside", "reader"), (POOL, "keeper")] == [
        (each.pool, each.role) for each in service.client("ines").who().pools
    ]


# --- what people are -------------------------------------------------------------------------------------------------


def test_another_role_counts_from_the_next_request_on(service: Served) -> None:
    olav = join(service, "Olav Berg", "olav")
    read = service.book().person(person=olav)
    assert 201 == service.send("POST", "/charges", CHARGE, key="olav").status_code

    changed = service.send("PUT", f"/people/{olav}", {"role": "clerk", "member": "BIRCH"}, If_Match=read.tag)

    assert 403 == service.send("POST", "/charges", CHARGE, key="olav").status_code
    assert 403 == service.send("GET", "/keys", key="olav").status_code
    stale = service.send("PUT", f"/people/{olav}", {"role": "reader"}, If_Match=read.tag)
    missing = service.send("PUT", f"/people/{olav}", {"role": "reader"})
    assert [200, 412, 428] == [answer.status_code for answer in (changed, stale, missing)]


def test_whoever_is_taken_out_finds_no_pool_and_stays_known_by_name(service: Served) -> None:
    olav = join(service, "Olav Berg", "olav")
    entry = service.send("POST", "/charges", CHARGE, key="olav").json()
    service.book().take_person_out(person=olav)

    assert 404 == service.send("GET", "/positions", key="olav").status_code
    assert 404 == service.send("POST", "/charges", CHARGE, key="olav").status_code
    assert [] == list(service.client("olav").pools())
    assert entry["recorded_by"].endswith(olav)
    (known,) = service.book("clerk").people()
    assert (olav, "Olav Berg", service.clock.at) == (known.person, known.name, known.ended_at)


def test_whoever_was_taken_out_comes_in_again_by_an_invitation_or_the_keepers_word(service: Served) -> None:
    olav = join(service, "Olav Berg", "olav")
    service.book().take_person_out(person=olav)
    service.client("olav").accept_invitation(token=token_of(service, role="reader"))
    assert 200 == service.send("GET", "/months", key="olav").status_code

    service.book().take_person_out(person=olav)
    read = service.book().person(person=olav)
    service.book().put_person(read.value, tag=read.tag)

    assert 200 == service.send("GET", "/months", key="olav").status_code
    assert 1 == len(list(service.book().people()))


def test_people_of_another_pool_cannot_be_touched(service: Served) -> None:
    set_up(service, "hillside", prefix="other ")
    olav = join(service, "Olav Berg", "olav")
    other = service.book("other keeper", "hillside")

    with pytest.raises(Missing):
        other.person(person=olav)
    with pytest.raises(Missing):
        other.take_person_out(person=olav)
    read = service.book().person(person=olav)
    with pytest.raises(Missing):
        other.put_person(read.value, tag=read.tag)
    with pytest.raises(Missing):
        other.invitation(invitation=token_of(service).split("_")[1])
    assert 200 == service.send("GET", "/positions", key="olav").status_code


# --- whoever has the database at hand --------------------------------------------------------------------------------


def test_whoever_is_shut_out_has_no_session_and_gets_none(service: Served) -> None:
    join(service, "Olav Berg", "olav")
    shut_out(service.office, "olav berg", out=True)

    assert 401 == service.send("GET", "/v1/session", key="olav").status_code
    with pytest.raises(NotAllowed, match="The name or the password is wrong"):
        service.client(None).sign_in(name="Olav Berg", password=PASSWORD)
    shut_out(service.office, "olav berg", out=False)
    assert service.client(None).sign_in(name="Olav Berg", password=PASSWORD).token


def test_a_forgotten_password_is_given_anew(service: Served) -> None:
    join(service, "Olav Berg", "olav")
    given = new_password(service.office, "Olav Berg")

    assert 128 <= 4 * len(given)
    assert 401 == service.send("GET", "/v1/session", key="olav").status_code
    with pytest.raises(NotAllowed):
        service.client(None).sign_in(name="Olav Berg", password=PASSWORD)
    assert service.client(None).sign_in(name="Olav Berg", password=given).token


def test_an_invitation_that_was_accepted_cannot_be_withdrawn_any_more(service: Served) -> None:
    token = token_of(service)
    accept(service, token)
    service.book().withdraw_invitation(invitation=token.split("_")[1])

    kept = service.book().invitation(invitation=token.split("_")[1])
    assert (kept.withdrawn_at, kept.accepted_at) == (None, service.clock.at)
    with pytest.raises(Refused):
        service.client(None).open_invitation(token=token)
