"""The vendor's record against the journal: comparing a month, deciding on what differs, and signing it off."""

from collections.abc import Iterable, Sequence
from typing import Any

import click

from pool_client import show, show_mending
from pool_client.commands.desk import Desk, json_option, pass_desk, repeat_option, together
from pool_client.commands.values import one_of
from pool_client.models.mending import Answer


@click.command("reconcile", epilog="Example: pool reconcile 2026-10")
@click.argument("month")
@json_option
@pass_desk
def reconcile(desk: Desk, month: str) -> None:
    """Compare a month with the vendor's record."""
    desk.tell(desk.book.reconciliation(month=month), show_mending.reconciliation)


_reason_option = click.option("--reason", required=True, help="Why; it stays with the decision.")
_set_option = click.option(
    "--set", "fields", multiple=True, metavar="NAME=VALUE", help="What the mend asks for, or what it gets wrong."
)
_decision = together(
    pass_desk,
    click.argument("month"),
    click.argument("difference"),
    _reason_option,
    click.option("--as-answered", is_flag=True, help="As the member answered that has it in hand."),
    repeat_option,
    json_option,
)
"""What accepting and dismissing have in common."""


@click.command("accept", epilog="Example: pool accept 2026-10 bae5a3cb --reason 'as the vendor shows'")
@_set_option
@_decision
def accept(desk: Desk, month: str, difference: str, fields: Sequence[str], **said: Any) -> None:
    """Record what mends a difference.

    DIFFERENCE is its key, which may be cut short. --set changes what the mend offers: quantity, note, effective_on,
    giver, receiver, and kind (loan, return, draw) of a transfer; member, into, paid_by, amount, item, job, price."""
    _decide(desk, month, difference, verdict="accepted", fields=_fields(fields), **said)


@click.command("dismiss", epilog="Example: pool dismiss 2026-10 bae5a3cb --reason 'the vendor is wrong here'")
@_decision
def dismiss(desk: Desk, month: str, difference: str, **said: Any) -> None:
    """Let a difference stand, with a reason.

    DIFFERENCE is its key, which may be cut short."""
    _decide(desk, month, difference, verdict="dismissed", **said)


def _decide(desk: Desk, month: str, beginning: str, **said: Any) -> None:
    key = _difference(desk, month, beginning)
    desk.tell(desk.book.decide(month=month, difference=key, **said), show_mending.decision)


_of_a_kind = together(
    pass_desk,
    click.argument("month"),
    click.argument("kind"),
    _reason_option,
    click.option("--record", is_flag=True, help="Do it; without this word it is only shown."),
    repeat_option,
    json_option,
)
"""What accepting and dismissing all of a kind have in common."""


@click.command("accept-all", epilog="Example: pool accept-all 2026-10 missing_in_journal --reason 'as shown'")
@_set_option
@_of_a_kind
def accept_all(desk: Desk, fields: Sequence[str], **said: Any) -> None:
    """Record what mends all differences of a kind.

    Shows what would be recorded and what would be refused; --record does it."""
    _decide_all(desk, verdict="accepted", fields=_fields(fields), **said)


@click.command("dismiss-all", epilog="Example: pool dismiss-all 2026-10 one_record_only --reason 'no export from it'")
@_of_a_kind
def dismiss_all(desk: Desk, **said: Any) -> None:
    """Let all differences of a kind stand.

    Shows which they are; --record does it."""
    _decide_all(desk, verdict="dismissed", **said)


def _decide_all(desk: Desk, *, record: bool, idempotency_key: str, **said: Any) -> None:
    if record:
        desk.tell(desk.book.decide_all(**said, idempotency_key=idempotency_key), show_mending.decided)
    else:
        desk.tell(desk.book.preview_all(**said), show_mending.previewed)


_doing = together(pass_desk, repeat_option, json_option)
"""What everything else that is done has in common."""


@click.command("confirm", epilog="Example: pool confirm 2026-10 5d1c09af --word 'as CEDAR says'")
@click.argument("month")
@click.argument("matches", nargs=-1)
@click.option("--all", "all_suggested", is_flag=True, help="All matches that are suggested.")
@click.option("--entry", "entries", type=int, multiple=True, help="An entry of a pair made by hand.")
@click.option("--row", "rows", multiple=True, help="The identity of a row of a pair made by hand; see --json.")
@click.option("--word", default="", help="Free text.")
@_doing
def confirm(desk: Desk, month: str, matches: Sequence[str], **said: Any) -> None:
    """Confirm matches, so that nothing moves them.

    MATCHES are keys, which may be cut short."""
    if not matches and not any(said[how] for how in ("all_suggested", "entries", "rows")):
        raise click.UsageError("name matches, say --all, or give --entry and --row")
    known = [each.key for each in desk.book.reconciliation(month=month).matches] if matches else []
    keys = [_whole(beginning, known, "matches") for beginning in matches]
    desk.tell(list(desk.book.confirm(month=month, matches=keys, **said)), show_mending.acts)


@click.command("take-back", epilog="Example: pool take-back 2026-10 5d1c09af --word 'it was the other loan'")
@click.argument("month")
@click.argument("match")
@click.option("--word", required=True, help="Why.")
@_doing
def take_back(desk: Desk, month: str, match: str, **said: Any) -> None:
    """Take back that a match is confirmed.

    MATCH is its key, or the name of a confirmed match that has changed; it may be cut short."""
    found = desk.book.reconciliation(month=month)
    known = [*(each.key for each in found.matches), *(each.subject for each in found.broken)]
    key = _whole(match, known, "matches")
    desk.tell(desk.book.take_back(month=month, match=key, **said), show_mending.act)


@click.command("hand-over", epilog="Example: pool hand-over 2026-10 bae5a3cb CEDAR --word 'what was this?'")
@click.argument("month")
@click.argument("difference")
@click.argument("member", required=False)
@click.option("--back", is_flag=True, help="Back to the keeper, instead of to a member.")
@click.option("--word", default="", help="What is to be said with it.")
@_doing
def hand_over(desk: Desk, month: str, difference: str, member: str | None, back: bool, **said: Any) -> None:
    """Hand a difference to a member that can explain it.

    DIFFERENCE is its key, which may be cut short. It stays open."""
    if back == (member is not None):
        raise click.UsageError("name a member, or say --back")
    key = _difference(desk, month, difference)
    desk.tell(desk.book.hand(month=month, difference=key, member=member, **said), show_mending.act)


@click.command("handed", epilog="Example: pool handed --member CEDAR")
@click.option("--member", help="Only what is in this member's hands.")
@json_option
@pass_desk
def handed(desk: Desk, member: str | None) -> None:
    """List the differences in members' hands."""
    desk.tell(list(desk.book.handed(member=member)), show_mending.handed)


@click.command("answer", epilog="Example: pool answer bae5a3cb mend --set kind=return --word 'we gave it back'")
@click.argument("difference")
@click.argument("answer", type=one_of(Answer))
@_set_option
@click.option("--word", default="", help="What is to be said with it.")
@_doing
def answer(desk: Desk, difference: str, answer: str, fields: Sequence[str], **said: Any) -> None:
    """Answer a difference in your hands; the keeper decides.

    DIFFERENCE is its key, which may be cut short."""
    months = {each.difference.key: each.month for each in desk.book.handed()}
    key = _whole(difference, months, "differences")
    if key not in months:
        raise click.UsageError(f"no difference {difference} is in your hands; see 'pool handed'")
    reply = {"answer": Answer(answer), "fields": _fields(fields), **said}
    desk.tell(desk.book.answer(month=months[key], difference=key, **reply), show_mending.act)


@click.command("sign-off", epilog="Example: pool sign-off 2026-10 --digest d1bf23b947efe36e…")
@click.argument("month")
@click.option("--digest", required=True, help="The digest of the comparison that you saw.")
@click.option("--accept-open", is_flag=True, help="What is undecided or unconfirmed is understood.")
@click.option("--note", default="", help="Free text.")
@_doing
def sign_off(desk: Desk, month: str, **said: Any) -> None:
    """Sign a month's reconciliation off by an entry.

    Refused when it is another by now; see 'pool reconcile'."""
    desk.tell(desk.book.sign_off(month=month, **said), show.recorded)


_NUMBERS = ("quantity", "entry")


def _fields(given: Sequence[str]) -> dict[str, str | int]:
    return dict(map(_field, given))


def _field(text: str) -> tuple[str, str | int]:
    name, stated, value = text.partition("=")
    if not stated:
        raise click.BadParameter(f"{text}: write NAME=VALUE")
    if name in _NUMBERS:
        if not value.isascii() or not value.isdigit():
            raise click.BadParameter(f"{text}: {name} is a whole number")
        return name, int(value)
    return name, value


def _difference(desk: Desk, month: str, beginning: str) -> str:
    known = [each.key for each in desk.book.reconciliation(month=month).differences]
    key = _whole(beginning, known, "differences")
    if key != beginning:
        desk.say(f"difference {key}")
    return key


def _whole(beginning: str, known: Iterable[str], what: str) -> str:
    """Give the key that begins like this, or what was given where none does."""
    keys = {key for key in known if key.startswith(beginning)}
    if len(keys) > 1:
        raise click.UsageError(f"{beginning} begins the keys of {len(keys)} {what}; give more of it")
    return keys.pop() if keys else beginning


COMMANDS = (
    reconcile,
    accept,
    dismiss,
    accept_all,
    dismiss_all,
    confirm,
    take_back,
    hand_over,
    handed,
    answer,
    sign_off,
)
