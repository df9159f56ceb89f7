"""Sessions of people in the real service, under a clock that moves when it is told to: how they begin, what they are
worth, and every way in which they end (STANDARDS: ASVS 5.0, chapters 6 and 7)."""

import logging
from typing import Any

import httpx
import pytest
from pool_client.models.directory import Role

from pool_api.services.sessions import shut_out
from tests.served import PASSWORD, POOL, Served, join, second_factor, set_up

CHARGE = {"from_member": "ALDER", "to_member": "BIRCH", "amount": "1.00", "reason": "courier"}
NEW = "four other words in a row"


@pytest.fixture
def ines(service: Served) -> Served:
    """The service with a keeper, Ines, who has joined and is signed in."""
    join(service, "Ines Walder", "ines")
    return service


def open_call(served: Served, method: str, path: str, body: Any, key: str | None = None) -> httpx.Response:
    return served.send(method, path, body, key=key, idempotency_key=None)


def sign_in(served: Served, password: str = PASSWORD, *, name: str = "Ines Walder", key: str = "again") -> int:
    answer = open_call(served, "POST", "/v1/sessions", {"name": name, "password": password})
    if answer.status_code == 201:
        served.keys[key] = answer.json()["token"]
    return answer.status_code


def is_live(served: Served, key: str) -> bool:
    return served.send("GET", "/v1/session", key=key).status_code == 200


def code(answer: httpx.Response) -> tuple[int, str]:
    return answer.status_code, answer.json()["code"]


# --- signing in ------------------------------------------------------------------------------------------------------


def test_a_person_signs_in_and_works_as_what_it_is_in_the_pool(ines: Served) -> None:
    made = ines.client(None).sign_in(name="ines  WALDER", password=PASSWORD, label="phone")
    ines.keys["phone"] = made.token or ""
    entry = ines.send("POST", "/charges", CHARGE, key="phone").json()
    who = ines.client("phone").who()

    assert f"keeper/-/{made.person.person}" == entry["recorded_by"]
    assert ("person", made.person.person, "Ines Walder", False) == (who.kind, who.id, who.name, who.is_operator)
    assert [(POOL, "Riverside", "keeper", None)] == [
        (each.pool, each.name, each.role, each.member) for each in who.pools
    ]
    assert who.session
    assert (made.session, "phone", True) == (who.session.session, who.session.label, who.session.current)
    assert [POOL] == [pool.id for pool in ines.client("phone").pools()]


def test_a_key_is_told_who_it_is(ines: Served) -> None:
    clerk, operator = ines.client("clerk").who(), ines.client("operator").who()

    assert ("key", "counter", None) == (clerk.kind, clerk.name, clerk.session)
    assert [(POOL, "clerk", "ALDER")] == [(each.pool, each.role, each.member) for each in clerk.pools]
    assert (True, ()) == (operator.is_operator, operator.pools)


def test_each_sign_in_has_a_token_of_its_own_that_is_never_stored(ines: Served) -> None:
    assert 201 == sign_in(ines, key="one")
    assert 201 == sign_in(ines, key="two")

    assert 3 == len({ines.keys[key] for key in ("ines", "one", "two")})
    assert {"cps"} == {ines.keys[key].split("_")[0] for key in ("ines", "one", "two")}
    assert {160} == {4 * len(ines.keys[key].split("_")[2]) for key in ("ines", "one", "two")}


def test_a_wrong_name_is_told_in_the_words_of_a_wrong_password(ines: Served) -> None:
    answers = [
        open_call(ines, "POST", "/v1/sessions", {"name": name, "password": password})
        for name, password in (("Ines Walder", "something else"), ("Nobody", PASSWORD), ("Ines Walder", PASSWORD + " "))
    ]

    assert {(401, "sign-in-refused")} == {code(answer) for answer in answers}
    assert 1 == len({answer.content for answer in answers})
    assert 1 == len({answer.headers["www-authenticate"] for answer in answers})


def test_wrong_passwords_make_the_next_try_wait_for_names_that_nobody_has_too(ines: Served) -> None:
    for name in ("Ines Walder", "Nobody"):
        answers = [sign_in(ines, "wrong words", name=name) for _ in range(8)]
        assert [401] * 6 + [429] * 2 == answers
    waiting = open_call(ines, "POST", "/v1/sessions", {"name": "Ines Walder", "password": PASSWORD})

    assert (429, "rate-limited") == code(waiting)
    assert "1" == waiting.headers["retry-after"]
    ines.clock.pass_seconds(1)
    assert 201 == sign_in(ines)


def test_no_password_and_no_token_reaches_the_log_or_an_answer(ines: Served, caplog: pytest.LogCaptureFixture) -> None:
    with caplog.at_level(logging.DEBUG):
        sign_in(ines)
        sign_in(ines, "wrong words")
        sign_in(ines, name="No\u202ebody")
        said = [
            open_call(ines, "POST", "/v1/sessions", {"name": "Ines", "password": ["wrong words"]}),
            open_call(ines, "POST", "/v1/sessions", {"name": "Ines", "password": "wrong\u0007words"}),
            open_call(ines, "POST", "/v1/invitations/reading", {"token": "cpi_wrong words"}),
            open_call(ines, "PUT", "/v1/password", {"current": PASSWORD, "new": "wrong"}, key="ines"),
            open_call(ines, "POST", "/v1/session/confirmation", {"password": "wrong words"}, key="ines"),
        ]
    told = caplog.text + "".join(answer.text for answer in said)

    assert [422, 422, 422, 422, 401] == [answer.status_code for answer in said]
    assert "wrong" not in told.replace("password is wrong", "")
    assert PASSWORD not in told
    assert not [key for key in ines.keys.values() if key in told]
    assert "No\u202ebody" not in told
    assert "signed in: person p" in told
    assert "sign-in refused: peer" in told


def test_whoever_is_shut_out_while_the_password_is_looked_at_gets_no_session(ines: Served) -> None:
    passwords = ines.office.passwords
    hasher = passwords._hasher

    class ShutOutMeanwhile:
        def verify(self, stored: str, password: str) -> bool:
            right = hasher.verify(stored, password)
            shut_out(ines.office, "Ines Walder", out=True)
            return right

        check_needs_rehash = staticmethod(hasher.check_needs_rehash)

    passwords._hasher = ShutOutMeanwhile()  # type: ignore[assignment]

    assert 401 == sign_in(ines)
    assert not is_live(ines, "ines")


# --- how sessions end ------------------------------------------------------------------------------------------------


def test_a_session_ends_when_it_is_not_used(ines: Served) -> None:
    for _ in range(4):
        ines.clock.pass_seconds(29 * 60)
        assert is_live(ines, "ines")
    ines.clock.pass_seconds(31 * 60)

    assert not is_live(ines, "ines")
    assert 401 == ines.send("POST", "/charges", CHARGE, key="ines").status_code


def test_a_session_ends_after_half_a_day_however_much_it_is_used(ines: Served) -> None:
    for _ in range(24 * 2 - 1):
        ines.clock.pass_seconds(15 * 60)
        assert is_live(ines, "ines")
    ines.clock.pass_seconds(15 * 60)

    assert not is_live(ines, "ines")


def test_signing_out_ends_this_session_and_no_other(ines: Served) -> None:
    sign_in(ines)
    ines.client("ines").sign_out()

    assert not is_live(ines, "ines")
    assert is_live(ines, "again")


def test_sessions_are_seen_and_ended_by_their_person(ines: Served) -> None:
    for key in ("one", "two"):
        sign_in(ines, key=key)
    join(ines, "Olav Berg", "olav")
    client = ines.client("ines")
    listed = list(client.sessions())
    one = ines.client("one").who().session
    assert one

    assert 3 == len(listed)
    assert [client.who().session] == [each for each in listed if each.current]
    client.end_session(session=one.session)
    assert not is_live(ines, "one")
    client.end_other_sessions()
    assert [False, True, True] == [is_live(ines, key) for key in ("two", "ines", "olav")]
    assert 1 == len(list(client.sessions()))


def test_nobody_ends_the_session_of_another(ines: Served) -> None:
    join(ines, "Olav Berg", "olav")
    olavs = ines.client("olav").who().session
    assert olavs

    assert (404, "not-found") == code(ines.send("DELETE", f"/v1/sessions/{olavs.session}", key="ines"))
    assert is_live(ines, "olav")


def test_keys_have_neither_sessions_nor_passwords(service: Served) -> None:
    asked: list[tuple[str, str, Any]] = [
        ("GET", "/v1/sessions", None),
        ("DELETE", "/v1/sessions", None),
        ("DELETE", "/v1/session", None),
        ("DELETE", "/v1/sessions/000000000000", None),
        ("POST", "/v1/session/confirmation", {"password": PASSWORD}),
        ("PUT", "/v1/password", {"current": PASSWORD, "new": NEW}),
    ]

    for key in ("operator", "keeper"):
        assert {(403, "not-permitted")} == {code(open_call(service, *each, key=key)) for each in asked}
    assert {401} == {open_call(service, *each).status_code for each in asked}


# --- passwords -------------------------------------------------------------------------------------------------------


def test_another_password_ends_the_other_sessions_and_the_old_password(ines: Served) -> None:
    sign_in(ines)
    ines.client("ines").change_password(current=PASSWORD, new=NEW)

    assert [True, False] == [is_live(ines, key) for key in ("ines", "again")]
    assert 401 == sign_in(ines)
    assert 201 == sign_in(ines, NEW)


def test_a_password_is_not_changed_by_somebody_else_or_to_one_that_is_no_secret(ines: Served) -> None:
    answers = [
        code(open_call(ines, "PUT", "/v1/password", {"current": current, "new": new}, key="ines"))
        for current, new in (
            ("something else", NEW),
            (PASSWORD, "short"),
            (PASSWORD, "x1" * 64 + "x"),
            (PASSWORD, "qwertyuiop"),
            (PASSWORD, "Riverside 1"),
            (PASSWORD, "inesWalder"),
        )
    ]

    assert [(401, "sign-in-refused"), *[(422, "invalid-request")] * 2, *[(422, "password-unfit")] * 3] == answers
    assert 201 == sign_in(ines)


def test_a_password_of_128_characters_of_any_script_is_taken_whole(ines: Served) -> None:
    long = "Ä語😀z" * 32
    ines.client("ines").change_password(current=PASSWORD, new=long)

    assert 401 == sign_in(ines, long[:-1])
    assert 201 == sign_in(ines, long)


def test_guessing_the_password_in_a_session_has_to_wait(ines: Served) -> None:
    answers = [
        open_call(ines, "POST", "/v1/session/confirmation", {"password": "wrong words"}, key="ines") for _ in range(8)
    ]

    assert [401] * 6 + [429] * 2 == [answer.status_code for answer in answers]
    assert is_live(ines, "ines")


# --- the password again ----------------------------------------------------------------------------------------------


def test_what_is_very_sensitive_asks_for_the_password_again_after_a_while(ines: Served) -> None:
    olav = join(ines, "Olav Berg", "olav")
    second_factor(ines, "ines")
    asked: list[tuple[str, str, Any, dict[str, str]]] = [
        ("POST", "/keys", {"name": "more", "role": "reader"}, {}),
        ("POST", "/invitations", {"role": "reader"}, {}),
        ("PUT", f"/people/{olav}", {"role": "reader"}, {"If_Match": '"1"'}),
    ]
    ines.clock.pass_seconds(15 * 60)
    before = [ines.send(method, path, body, key="ines", **more) for method, path, body, more in asked]
    confirmed = ines.client("ines").confirm_session(password=PASSWORD)
    after = [ines.send(method, path, body, key="ines", **more) for method, path, body, more in asked]

    assert {(401, "confirmation-required")} == {code(answer) for answer in before}
    assert {15} == {answer.json()["minutes"] for answer in before}
    assert all("insufficient_user_authentication" in answer.headers["www-authenticate"] for answer in before)
    assert [201, 201, 200] == [answer.status_code for answer in after]
    assert 15 * 60 == (confirmed.confirmed_until - ines.clock.at).total_seconds()


def test_everything_else_goes_on_without_the_password(ines: Served) -> None:
    ines.clock.pass_seconds(20 * 60)

    assert 201 == ines.send("POST", "/charges", CHARGE, key="ines").status_code
    assert 200 == ines.send("GET", "/keys", key="ines").status_code


def test_a_repeated_request_of_another_session_records_once(ines: Served) -> None:
    sign_in(ines)
    answers = [
        ines.send("POST", "/charges", CHARGE, key=key, idempotency_key="same-key-1") for key in ("ines", "again")
    ]

    assert answers[0].json() == answers[1].json()
    assert "true" == answers[1].headers["idempotency-replayed"]


# --- keys ------------------------------------------------------------------------------------------------------------


def test_a_key_tells_when_it_was_used_last_to_within_a_minute(service: Served) -> None:
    def used() -> Any:
        return next(key.last_used_at for key in list(service.book().keys()) if key.role == "clerk")

    assert used() is None
    service.send("GET", "/positions", key="clerk")
    first = used()
    service.clock.pass_seconds(59)
    service.send("GET", "/positions", key="clerk")
    assert service.clock.at > used() == first
    service.clock.pass_seconds(1)
    service.send("GET", "/positions", key="clerk")

    assert service.clock.at == used()


def test_two_pools_of_one_person_are_two_roles(ines: Served) -> None:
    set_up(ines, "hillside", prefix="other ")
    token = ines.book("other keeper", "hillside").invite(role=Role.CLERK, member="ALDER").token or ""
    ines.client("ines").accept_invitation(token=token)
    draw = {"member": "BIRCH", "quantity": 1}

    assert [200, 403] == [
        ines.send("GET", f"/v1/pools/{pool}/keys", key="ines").status_code for pool in (POOL, "hillside")
    ]
    assert (409, "not-enough-in-stock") == code(ines.send("POST", "/draws", draw, key="ines"))
    assert (403, "not-permitted") == code(ines.send("POST", "/v1/pools/hillside/draws", draw, key="ines"))
    assert [POOL, "hillside"] == sorted((pool.id for pool in ines.client("ines").pools()), reverse=True)
