"""What brings about each kind of event of the access log, by what somebody does, and what the event then says."""

from collections.abc import Callable
from typing import Any

from pool_client.models.access import AccessDetail
from pool_client.models.directory import Role

from pool_api.domain.access_log import EventKind
from pool_api.services import sessions
from pool_api.services.access_log import note_left_out
from pool_api.services.refusals import MOST_OF_ONE
from pool_api.services.second_factors import end_lost
from tests.served import PASSWORD, POOL, Served, code_of

OTHER = "four other words in a row"


def sign_in(served: Served, name: str = "Sam", password: str = PASSWORD, *, key: str = "", **headers: str) -> int:
    body = {"name": name, "password": password, "label": "phone"}
    answer = served.send("POST", "/v1/sessions", body, key=None, idempotency_key=None, **headers)
    if key:
        served.keys[key] = answer.json()["token"]
    return answer.status_code


Act = Callable[[Served, dict[str, str]], Any]
A_TIME: Any = "*"


def invite(served: Served) -> str:
    return served.book("ines").invite(role=Role.CLERK, member="BIRCH").invitation


def invite_and_withdraw(served: Served, _: dict[str, str]) -> str:
    made = invite(served)
    served.book("ines").withdraw_invitation(invitation=made)
    served.book("ines").withdraw_invitation(invitation=made)
    return made


def make_key(served: Served) -> str:
    return served.book("ines").make_key(name="the till", role=Role.CLERK, member="ALDER").key_id


def make_and_end_key(served: Served, _: dict[str, str]) -> str:
    made = make_key(served)
    served.book("ines").end_key(key_id=made)
    served.book("ines").end_key(key_id=made)
    return made


def change_role(served: Served, people: dict[str, str]) -> None:
    read = served.book("ines").person(person=people["sam"])
    served.send("PUT", f"/people/{people['sam']}", {"role": "reader"}, key="ines", If_Match=read.tag)


def set_up_factor(served: Served, _: object = None) -> list[str]:
    client = served.client("sam")
    begun = client.begin_second_factor()
    return [*client.confirm_second_factor(code=code_of(served, begun.secret)).recovery_codes]


def give_wrong_code(served: Served, _: dict[str, str]) -> None:
    set_up_factor(served)
    complete(served, "000000")


def use_recovery_code(served: Served, _: dict[str, str]) -> None:
    complete(served, set_up_factor(served)[0])


def complete(served: Served, code: str) -> None:
    asked = {"name": "Sam", "password": PASSWORD}
    ticket = served.send("POST", "/v1/sessions", asked, key=None, idempotency_key=None).json()["ticket"]
    told = {"name": "Sam", "ticket": ticket, "code": code}
    served.send("POST", "/v1/session/completion", told, key=None, idempotency_key=None)


def renew_recovery_codes(served: Served, _: dict[str, str]) -> None:
    served.client("sam").renew_recovery_codes(code=set_up_factor(served)[1])


def lose_factor(served: Served, _: dict[str, str]) -> None:
    set_up_factor(served)
    end_lost(served.office, "Sam")
    end_lost(served.office, "Sam")


def take_out(served: Served, people: dict[str, str]) -> None:
    served.book("ines").take_person_out(person=people["sam"])
    served.book("ines").take_person_out(person=people["sam"])


def take_in_again(served: Served, people: dict[str, str]) -> None:
    take_out(served, people)
    change_role(served, people)


def end_others(served: Served, _: dict[str, str]) -> None:
    sign_in(served)
    served.client("sam").end_other_sessions()


def wait(served: Served, _people: dict[str, str]) -> None:
    assert 429 in {sign_in(served, password="wrong words") for _ in range(8)}


def change_as_clerk(served: Served) -> None:
    assert 403 == served.send("PUT", "/members/ELM", {"name": "Elm", "joined_on": "2026-09-01"}, key="sam").status_code


def flood(served: Served, _people: dict[str, str]) -> None:
    for _ in range(MOST_OF_ONE + 3):
        change_as_clerk(served)
    note_left_out(served.office, at_the_end=True)


EVENTS: dict[EventKind, tuple[Act, str | None, str | None, str | None, AccessDetail]] = {
    EventKind.SIGNED_IN: (lambda served, _: sign_in(served), "sam", "sam", None, AccessDetail(label="phone")),
    EventKind.SIGN_IN_REFUSED: (
        lambda served, _: sign_in(served, password="wrong words"), None, "sam", None, AccessDetail(),
    ),
    EventKind.SIGN_IN_THROTTLED: (wait, None, "sam", None, AccessDetail()),
    EventKind.SIGNED_OUT: (
        lambda served, _: served.client("sam").sign_out(), "sam", "sam", None, AccessDetail(session="*"),
    ),
    EventKind.SESSIONS_ENDED: (end_others, "sam", "sam", None, AccessDetail(count=1)),
    EventKind.PASSWORD_REFUSED: (
        lambda served, _: served.send("POST", "/v1/session/confirmation", {"password": "x"}, key="sam"),
        "sam", "sam", None, AccessDetail(),
    ),
    EventKind.PASSWORD_CHANGED: (
        lambda served, _: served.client("sam").change_password(current=PASSWORD, new=OTHER),
        "sam", "sam", None, AccessDetail(),
    ),
    EventKind.PASSWORD_GIVEN_ANEW: (
        lambda served, _: sessions.new_password(served.office, "Sam"), "server", "sam", None, AccessDetail(),
    ),
    EventKind.CODE_REFUSED: (give_wrong_code, "sam", "sam", None, AccessDetail()),
    EventKind.SECOND_FACTOR_SET_UP: (set_up_factor, "sam", "sam", None, AccessDetail()),
    EventKind.SECOND_FACTOR_TAKEN_OFF: (lose_factor, "server", "sam", None, AccessDetail()),
    EventKind.RECOVERY_CODE_USED: (use_recovery_code, "sam", "sam", None, AccessDetail()),
    EventKind.RECOVERY_CODES_RENEWED: (renew_recovery_codes, "sam", "sam", None, AccessDetail()),
    EventKind.SHUT_OUT: (
        lambda served, _: sessions.shut_out(served.office, "Sam", out=True), "server", "sam", None, AccessDetail(),
    ),
    EventKind.LET_IN: (
        lambda served, _: sessions.shut_out(served.office, "Sam", out=False), "server", "sam", None, AccessDetail(),
    ),
    EventKind.INVITATION_MADE: (
        lambda served, _: invite(served), "ines", "*", POOL, AccessDetail(role="clerk", member="BIRCH"),
    ),
    EventKind.INVITATION_WITHDRAWN: (invite_and_withdraw, "ines", "*", POOL, AccessDetail()),
    EventKind.INVITATION_ACCEPTED: (
        lambda *_: None, "sam", "sam", POOL, AccessDetail(invitation="*", role="clerk", member="ALDER"),
    ),
    EventKind.ROLE_GIVEN: (take_in_again, "ines", "sam", POOL, AccessDetail(role="reader")),
    EventKind.ROLE_CHANGED: (
        change_role, "ines", "sam", POOL, AccessDetail(role="reader", role_before="clerk", member_before="ALDER"),
    ),
    EventKind.ROLE_TAKEN_AWAY: (
        take_out, "ines", "sam", POOL, AccessDetail(role_before="clerk", member_before="ALDER"),
    ),
    EventKind.KEY_MADE: (
        lambda served, _: make_key(served), "ines", "*", POOL, AccessDetail(role="clerk", member="ALDER"),
    ),
    EventKind.KEY_REVOKED: (make_and_end_key, "ines", "*", POOL, AccessDetail()),
    EventKind.POOL_MADE: (lambda *_: None, "operator", None, POOL, AccessDetail()),
    EventKind.WRITE_REFUSED: (
        lambda served, _: change_as_clerk(served),
        "sam", None, POOL,
        AccessDetail(code="not-permitted", method="PUT", path=f"/v1/pools/{POOL}/members/ELM"),
    ),
    EventKind.LEFT_OUT: (flood, None, "sam", POOL, AccessDetail(of="write_refused", count=3, since=A_TIME)),
}  # fmt: skip
"""For each kind: what brings it about, who did it, to whom ("*" is what was made by it), where, what more it says."""
