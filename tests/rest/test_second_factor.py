"""Second factors in the real service, under a clock that moves when it is told to: set up, asked for at sign-in, each
code taken once, guessing bounded, lost and taken off (STANDARDS: ASVS 5.0, 6.3.3 and 6.5)."""

import logging
from concurrent.futures import ThreadPoolExecutor
from typing import Any

import httpx
import pytest
from pool_client.models.directory import Role

from pool_api.domain.keys import key_digest
from pool_api.services import second_factors
from pool_api.services.callers import identify
from pool_api.services.passwords import Passwords
from pool_api.services.second_factors import end_lost
from pool_api.services.sessions import new_password, shut_out
from pool_api.store import people
from pool_api.store.engine import reading
from tests.served import PASSWORD, POOL, Served, code_of, join, second_factor

NAME = "Ines Walder"
SENSITIVE: list[tuple[str, str, Any, dict[str, str]]] = [
    ("POST", "/keys", {"name": "more", "role": "reader"}, {}),
    ("POST", "/invitations", {"role": "reader"}, {}),
]


@pytest.fixture
def ines(service: Served) -> Served:
    """The service with a keeper, Ines, who has joined and is signed in, without a second factor."""
    join(service, NAME, "ines")
    return service


@pytest.fixture
def secret(ines: Served) -> str:
    """The secret of a second factor that Ines has set up, half a minute ago."""
    made = second_factor(ines, "ines")
    ines.clock.pass_seconds(30)
    return made


def call(served: Served, path: str, body: Any = None, key: str | None = None, method: str = "POST") -> httpx.Response:
    return served.send(method, path, body, key=key, idempotency_key=None)


def code(answer: httpx.Response) -> tuple[int, str]:
    return answer.status_code, answer.json().get("code", "")


def first_step(served: Served, password: str = PASSWORD) -> httpx.Response:
    return call(served, "/v1/sessions", {"name": NAME, "password": password})


def second_step(served: Served, given: str, ticket: str = "", name: str = NAME) -> httpx.Response:
    ticket = ticket or first_step(served).json()["ticket"]
    answer = call(served, "/v1/session/completion", {"name": name, "ticket": ticket, "code": given})
    if answer.status_code == 201:
        served.keys["again"] = answer.json()["token"]
    return answer


def is_live(served: Served, key: str) -> bool:
    return served.send("GET", "/v1/session", key=key).status_code == 200


# --- setting one up --------------------------------------------------------------------------------------------------


def test_a_factor_counts_from_its_first_code_on(ines: Served) -> None:
    client = ines.client("ines")
    begun = client.begin_second_factor()
    assert client.second_factor().confirmed_at is None
    assert 201 == first_step(ines).status_code

    codes = client.confirm_second_factor(code=code_of(ines, begun.secret)).recovery_codes

    assert f"secret={begun.secret}" in begun.address
    assert 10 == len(set(codes))
    assert (ines.clock.at, 10) == (client.second_factor().confirmed_at, client.second_factor().recovery_codes)
    assert client.who().has_second_factor
    assert (401, "code-needed") == code(first_step(ines))


def test_setting_one_up_ends_the_other_sessions(ines: Served) -> None:
    ines.keys["other"] = first_step(ines).json()["token"]
    second_factor(ines, "ines")

    assert [True, False] == [is_live(ines, key) for key in ("ines", "other")]


def test_it_needs_a_password_given_lately_a_right_code_and_a_beginning(ines: Served) -> None:
    client = ines.client("ines")
    assert (409, "second-factor-not-begun") == code(
        call(ines, "/v1/second-factor/confirmation", {"code": "000000"}, "ines")
    )
    ines.clock.pass_seconds(15 * 60)
    assert (401, "confirmation-required") == code(call(ines, "/v1/second-factor", key="ines"))
    client.confirm_session(password=PASSWORD)
    earlier = client.begin_second_factor().secret
    begun = client.begin_second_factor().secret
    wrong = [
        code(call(ines, "/v1/second-factor/confirmation", {"code": given}, "ines"))
        for given in (code_of(ines, earlier), code_of(ines, begun, later=2))
    ]

    assert [(401, "code-refused")] * 2 == wrong
    client.confirm_second_factor(code=code_of(ines, begun))
    for path, body in (("", None), ("/confirmation", {"code": "000000"})):
        assert (409, "second-factor-there") == code(call(ines, f"/v1/second-factor{path}", body, "ines"))


def test_keys_have_no_second_factor_and_need_none(service: Served) -> None:
    body = {"code": "000000"}
    asked: list[tuple[str, str, Any]] = [("GET", "", None), ("POST", "", None)]
    asked += [("POST", f"/{what}", body) for what in ("confirmation", "recovery-codes", "removal")]

    assert {(403, "not-permitted")} == {
        code(call(service, f"/v1/second-factor{path}", said, "keeper", method)) for method, path, said in asked
    }
    assert not service.client("keeper").who().has_second_factor
    assert [201] * 2 == [service.send(method, path, said).status_code for method, path, said, _ in SENSITIVE]


# --- what it is needed for -------------------------------------------------------------------------------------------


def test_a_keeper_without_one_changes_nobodys_rights_and_does_everything_else(ines: Served) -> None:
    olav = join(ines, "Olav Berg", "olav", role=Role.READER)
    asked = [*SENSITIVE, ("PUT", f"/people/{olav}", {"role": "keeper"}, {"If_Match": '"1"'})]
    before = [ines.send(method, path, body, key="ines", **more) for method, path, body, more in asked]
    charge = {"from_member": "ALDER", "to_member": "BIRCH", "amount": "1.00", "reason": "courier"}

    assert {(403, "second-factor-missing")} == {code(answer) for answer in before}
    assert 201 == ines.send("POST", "/charges", charge, key="ines").status_code

    second_factor(ines, "ines")

    after = [ines.send(method, path, body, key="ines", **more) for method, path, body, more in asked]
    assert [201, 201, 200] == [answer.status_code for answer in after]


# --- signing in ------------------------------------------------------------------------------------------------------


def test_the_code_comes_after_the_password_and_there_is_no_session_before_it(ines: Served, secret: str) -> None:
    answer = first_step(ines)
    sessions = len(list(ines.client("ines").sessions()))

    assert {"type", "title", "status", "detail", "code", "ticket"} == answer.json().keys()
    assert "Bearer" in answer.headers["www-authenticate"]
    assert 401 == ines.send("GET", "/v1/session", key=answer.json()["ticket"]).status_code
    assert 201 == second_step(ines, code_of(ines, secret), answer.json()["ticket"]).status_code
    assert is_live(ines, "again")
    assert sessions + 1 == len(list(ines.client("ines").sessions()))
    assert "keeper" == ines.client("again").who().pools[0].role


def test_a_wrong_password_tells_nothing_of_a_second_factor(ines: Served, secret: str) -> None:
    join(ines, "Olav Berg", "olav")
    answers = [
        call(ines, "/v1/sessions", {"name": name, "password": "something else"})
        for name in (NAME, "Olav Berg", "Nobody")
    ]
    ticket = "cpt_" + "f" * 12 + "_" + "0" * 40
    completed = [second_step(ines, code_of(ines, secret), ticket, name) for name in (NAME, "Olav Berg", "Nobody")]

    assert {(401, "sign-in-refused")} == {code(answer) for answer in answers}
    assert {(401, "ticket-void")} == {code(answer) for answer in completed}
    assert [1, 1] == [len({answer.content for answer in each}) for each in (answers, completed)]


def test_a_code_opens_one_session_and_no_earlier_code_does_afterwards(ines: Served, secret: str) -> None:
    now, before = code_of(ines, secret), code_of(ines, secret, later=-1)
    answers = [second_step(ines, given) for given in (now, now, before)]
    ines.clock.pass_seconds(30)

    assert [201, 401, 401] == [answer.status_code for answer in answers]
    assert (401, "code-refused") == code(answers[1])
    assert 201 == second_step(ines, code_of(ines, secret, later=1)).status_code


def test_of_requests_that_bring_one_code_at_the_same_time_one_gets_a_session(ines: Served, secret: str) -> None:
    ticket = first_step(ines).json()["ticket"]
    with ThreadPoolExecutor(4) as threads:
        answers = list(threads.map(lambda given: second_step(ines, given, ticket), [code_of(ines, secret)] * 4))

    assert [201, 401, 401, 401] == sorted(answer.status_code for answer in answers)


def test_a_recovery_code_opens_one_session(ines: Served, secret: str) -> None:
    given = ines.client("ines").renew_recovery_codes(code=code_of(ines, secret)).recovery_codes
    answers = [second_step(ines, each) for each in (given[3].upper().replace("-", " "), given[3], given[4])]

    assert [201, 401, 201] == [answer.status_code for answer in answers]
    assert 8 == ines.client("again").second_factor().recovery_codes


def test_a_ticket_counts_for_five_minutes_and_while_the_password_stands(ines: Served, secret: str) -> None:
    ticket = first_step(ines).json()["ticket"]
    ines.clock.pass_seconds(299)
    assert 201 == second_step(ines, code_of(ines, secret), ticket).status_code
    ines.clock.pass_seconds(30)
    assert (401, "ticket-void") == code(second_step(ines, code_of(ines, secret), ticket))

    ticket = first_step(ines).json()["ticket"]
    ines.client("ines").change_password(current=PASSWORD, new="other words altogether")
    assert (401, "ticket-void") == code(second_step(ines, code_of(ines, secret), ticket))


def test_whoever_is_shut_out_between_the_steps_gets_no_session(ines: Served, secret: str) -> None:
    ticket = first_step(ines).json()["ticket"]
    shut_out(ines.office, NAME, out=True)

    assert (401, "ticket-void") == code(second_step(ines, code_of(ines, secret), ticket))


def test_a_factor_that_is_set_up_while_the_password_is_looked_at_is_asked_for(ines: Served) -> None:
    begun = ines.client("ines").begin_second_factor()
    hasher = ines.office.passwords._hasher

    class SetUpMeanwhile:
        def verify(self, stored: str, password: str) -> bool:
            right = hasher.verify(stored, password)
            caller = identify(ines.office, key_digest(ines.keys["ines"]))
            assert caller
            second_factors.confirm(ines.office, caller, code_of(ines, begun.secret))
            return right

        check_needs_rehash = staticmethod(hasher.check_needs_rehash)

    ines.office.passwords._hasher = SetUpMeanwhile()  # type: ignore[assignment]

    assert (401, "code-needed") == code(first_step(ines))


def test_a_hash_of_weaker_parameters_is_renewed_and_the_ticket_counts(ines: Served, secret: str) -> None:
    ines.office.passwords._hasher = Passwords(memory_kib=16, rounds=1)._hasher

    assert 201 == second_step(ines, code_of(ines, secret)).status_code
    with reading(ines.office.engine, None) as connection:
        person = people.find_person(connection, "ines walder")
    assert person
    assert "m=16," in person.password


def test_a_forgotten_password_given_anew_leaves_the_factor_on(ines: Served, secret: str) -> None:
    given = new_password(ines.office, NAME)

    assert (401, "code-needed") == code(first_step(ines, given))
    assert secret


# --- guessing --------------------------------------------------------------------------------------------------------


def test_guesses_wait_at_the_address_like_wrong_passwords(ines: Served, secret: str) -> None:
    void = "cpt_" + "0" * 12 + "_" + "0" * 40
    tried = [second_step(ines, code_of(ines, secret), void) for _ in range(8)]

    assert [(401, "ticket-void")] * 6 + [(429, "rate-limited")] * 2 == [code(answer) for answer in tried]
    assert (429, "rate-limited") == code(first_step(ines))


def test_wrong_codes_in_a_row_make_codes_wait_everywhere_but_not_recovery_codes(ines: Served, secret: str) -> None:
    recovery = ines.client("ines").renew_recovery_codes(code=code_of(ines, secret)).recovery_codes
    for _ in range(5):
        ines.clock.pass_seconds(3_601)  # the address is forgiven meanwhile, the codes are not
        assert (401, "code-refused") == code(second_step(ines, "000000"))
    paused = second_step(ines, code_of(ines, secret))
    ines.clock.pass_seconds(29)
    still = second_step(ines, code_of(ines, secret))
    ines.clock.pass_seconds(1)

    assert [(429, "codes-paused")] * 2 == [code(paused), code(still)]
    assert ["30", "1"] == [answer.headers["retry-after"] for answer in (paused, still)]
    assert 30 == paused.json()["seconds"]
    assert (401, "code-refused") == code(second_step(ines, "000000"))
    assert (429, "codes-paused") == code(second_step(ines, code_of(ines, secret)))
    assert 201 == second_step(ines, recovery[0]).status_code
    assert 201 == second_step(ines, code_of(ines, secret)).status_code


def test_no_code_secret_or_ticket_reaches_the_log(ines: Served, caplog: pytest.LogCaptureFixture) -> None:
    with caplog.at_level(logging.DEBUG):
        secret = second_factor(ines, "ines")
        ines.clock.pass_seconds(30)
        recovery = ines.client("ines").renew_recovery_codes(code=code_of(ines, secret)).recovery_codes
        ticket = first_step(ines).json()["ticket"]
        said = call(ines, "/v1/session/completion", {"name": NAME, "ticket": [ticket], "code": "wrong!code"})
        second_step(ines, "987654", ticket)
        second_step(ines, recovery[0], ticket)

    assert "second factor set up: person p" in caplog.text
    assert "code refused: person p" in caplog.text
    assert "recovery code used: person p" in caplog.text
    assert 422 == said.status_code
    assert "wrong!code" not in said.text
    assert not [each for each in (secret, ticket, "987654", *recovery) if each in caplog.text]


# --- recovery codes, taking it off, losing it ------------------------------------------------------------------------


def test_new_recovery_codes_end_the_old_ones(ines: Served, secret: str) -> None:
    client = ines.client("ines")
    old = client.renew_recovery_codes(code=code_of(ines, secret)).recovery_codes
    new = client.renew_recovery_codes(code=old[0]).recovery_codes

    assert not {*old} & {*new}
    assert (10, 401) == (client.second_factor().recovery_codes, second_step(ines, old[1]).status_code)
    assert 201 == second_step(ines, new[1]).status_code


def test_a_factor_is_taken_off_by_password_and_code(ines: Served, secret: str) -> None:
    assert 201 == second_step(ines, code_of(ines, secret)).status_code
    ines.clock.pass_seconds(15 * 60)
    for path in ("recovery-codes", "removal"):
        late = call(ines, f"/v1/second-factor/{path}", {"code": code_of(ines, secret)}, "ines")
        assert (401, "confirmation-required") == code(late)
    client = ines.client("ines")
    client.confirm_session(password=PASSWORD)
    assert (401, "code-refused") == code(call(ines, "/v1/second-factor/removal", {"code": "000000"}, "ines"))
    client.take_off_second_factor(code=code_of(ines, secret))

    assert (None, 0) == (client.second_factor().confirmed_at, client.second_factor().recovery_codes)
    assert [True, False] == [is_live(ines, key) for key in ("ines", "again")]
    assert 201 == first_step(ines).status_code
    assert 403 == ines.send("POST", "/invitations", {"role": "reader"}, key="ines").status_code
    assert (409, "second-factor-not-begun") == code(
        call(ines, "/v1/second-factor/removal", {"code": code_of(ines, secret)}, "ines")
    )


def test_another_factor_may_be_set_up_and_knows_no_code_of_the_first(ines: Served, secret: str) -> None:
    client = ines.client("ines")
    recovery = client.renew_recovery_codes(code=code_of(ines, secret)).recovery_codes
    client.take_off_second_factor(code=recovery[0])
    other = second_factor(ines, "ines")

    assert other != secret
    assert [401, 401] == [second_step(ines, given).status_code for given in (recovery[1], code_of(ines, secret))]
    ines.clock.pass_seconds(30)
    assert 201 == second_step(ines, code_of(ines, other)).status_code


def test_a_lost_factor_is_taken_off_by_whoever_has_the_database_at_hand(ines: Served, secret: str) -> None:
    ticket = first_step(ines).json()["ticket"]
    end_lost(ines.office, "ines  WALDER")

    assert not is_live(ines, "ines")
    assert (401, "ticket-void") == code(second_step(ines, code_of(ines, secret), ticket))
    assert 201 == first_step(ines).status_code
    assert POOL in [pool.id for pool in ines.client("keeper").pools()]
