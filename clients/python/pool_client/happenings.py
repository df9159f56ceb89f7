"""What happened with access, in words, for a terminal and for pages alike."""

from collections.abc import Callable

from pool_client.models.access import AccessDetail, AccessEvent

KINDS = {
    "signed_in": "signed in",
    "sign_in_refused": "sign-in refused",
    "sign_in_throttled": "made to wait after wrong passwords",
    "signed_out": "signed out",
    "sessions_ended": "other sessions ended",
    "password_refused": "wrong password given again",
    "password_changed": "password changed",
    "password_given_anew": "password given anew",
    "code_refused": "wrong code of the second factor",
    "second_factor_set_up": "second factor set up",
    "second_factor_taken_off": "second factor taken off",
    "recovery_code_used": "recovery code used",
    "recovery_codes_renewed": "recovery codes made anew",
    "shut_out": "shut out",
    "let_in": "let in again",
    "invitation_made": "invitation made",
    "invitation_withdrawn": "invitation withdrawn",
    "invitation_accepted": "invitation accepted",
    "role_given": "role given",
    "role_changed": "role changed",
    "role_taken_away": "taken out",
    "key_made": "key made",
    "key_revoked": "key ended",
    "pool_made": "pool made",
    "write_refused": "not permitted",
    "left_out": "more were refused",
}
"""The kinds of events, in words."""


def in_words(event: AccessEvent) -> str:
    """Say what happened."""
    words = KINDS.get(event.kind, event.kind.replace("_", " "))
    more = _MORE[event.kind](event) if event.kind in _MORE else ""
    return f"{words}: {more}" if more else words


def by_whom(event: AccessEvent) -> str:
    """Say who did it, as far as that is known."""
    if event.by_name:
        return event.by_name
    if event.by == "server":
        return "the operator, on the server"
    return event.by or "somebody unknown"


def to_whom(event: AccessEvent) -> str:
    """Say to whom or what it happened, where that isn't who did it."""
    return "" if event.about == event.by_id else event.about_name or event.about or ""


def _part(detail: AccessDetail) -> str:
    return _of(detail.role, detail.member)


def _changed(event: AccessEvent) -> str:
    detail = event.detail
    return f"{_of(detail.role_before, detail.member_before)} before, {_part(detail)} now"


def _of(role: str | None, member: str | None) -> str:
    return f"{role} of {member}" if member else role or ""


def _left_out(event: AccessEvent) -> str:
    detail = event.detail
    return f"{detail.count} times “{KINDS.get(detail.of or '', detail.of)}” within ten minutes, not written down singly"


_MORE: dict[str, Callable[[AccessEvent], str]] = {
    "signed_in": lambda event: event.detail.label or "",
    "sign_in_refused": lambda event: "" if event.about else "nobody has that name",
    "sessions_ended": lambda event: str(event.detail.count),
    "invitation_made": lambda event: _part(event.detail),
    "invitation_accepted": lambda event: _part(event.detail),
    "role_given": lambda event: _part(event.detail),
    "role_changed": _changed,
    "role_taken_away": lambda event: f"{_of(event.detail.role_before, event.detail.member_before)} before",
    "key_made": lambda event: _part(event.detail),
    "write_refused": lambda event: f"{event.detail.method} {event.detail.path}",
    "left_out": _left_out,
}
