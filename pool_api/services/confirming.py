"""Keeping matches by a keeper's word: those that the comparison suggests, a pair by hand, and taking one back.

A match that is kept goes before all matching, and is never moved by later rows or entries.
"""

from collections import defaultdict
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import date

from pool_api.domain import access
from pool_api.domain.access import Caller, Right
from pool_api.domain.acts import Act, ActKind, pin_name
from pool_api.domain.entries import Json
from pool_api.domain.errors import NotConfirmable, NotFound
from pool_api.domain.matching import Movement
from pool_api.domain.record import VendorRow
from pool_api.domain.values import Month
from pool_api.services import acting, once
from pool_api.services.office import Office
from pool_api.services.reconciling import Reconciliation, compared


@dataclass(frozen=True, slots=True, kw_only=True)
class Confirmation:
    """Which matches a keeper confirms: some by their keys, all that are suggested, or a pair by hand: entries and rows
    that are one movement."""

    matches: tuple[str, ...] = ()
    all_suggested: bool = False
    entries: tuple[int, ...] = ()
    rows: tuple[str, ...] = ()
    word: str = ""

    @property
    def said(self) -> Json:
        """All of it as JSON."""
        return {
            "matches": list(self.matches),
            "all": self.all_suggested,
            "entries": list(self.entries),
            "rows": list(self.rows),
            "word": self.word,
        }


def confirm(office: Office, caller: Caller, pool: str, month: Month, asked: Confirmation, *, key: str) -> list[Act]:
    """Keep matches, and give the acts by which they stand; those kept already stay as they are.

    Refuses: NotFound, NotPermitted, NotConfirmable."""
    access.permit_into(caller, pool, Right.RECONCILE)
    request = once.asked(caller, f"confirm {month}", key, asked.said)
    if (before := acting.made_before(office, pool, request)) is not None:
        return before
    found = compared(office, pool, month)
    pairs = [*_matches(found, asked), *_by_hand(found, asked)]
    standing = found.standing.kept
    there = [standing[name].act for name in (pin_name(*pair) for pair in pairs) if name in standing]
    made = [
        acting.new(caller, month, ActKind.CONFIRMED, pin_name(*pair), content(found, *pair), asked.word)
        for pair in pairs
        if pin_name(*pair) not in standing
    ]
    return there + acting.keep(office, pool, made, request)


def take_back(office: Office, caller: Caller, pool: str, month: Month, subject: str, *, word: str, key: str) -> Act:
    """Take back by which word a match is kept; it is matched again like all others.

    Takes:   subject — the key of the match, or the name under which it is kept.
    Refuses: NotFound, NotPermitted."""
    access.permit_into(caller, pool, Right.RECONCILE)
    request = once.asked(caller, f"take back {month}", key, {"subject": subject, "word": word})
    if before := acting.made_before(office, pool, request):
        return before[0]
    found = compared(office, pool, month)
    named = {each.key: pin_name(each.entries, each.rows) for each in found.matches}
    kept = found.standing.kept.get(named.get(subject, subject))
    if kept is None or kept.act.month != str(month):
        raise NotFound(what="confirmed match", name=subject)
    said: Json = {"entries": kept.act.content["entries"], "rows": kept.act.content["rows"]}
    act = acting.new(caller, month, ActKind.TAKEN_BACK, kept.act.subject, said, word)
    return acting.keep(office, pool, [act], request)[0]


def content(found: Reconciliation, entries: Sequence[int], rows: Sequence[str]) -> Json:
    """Give what an act says of a match."""
    days = _days(found, entries, rows)
    return {
        "entries": sorted(entries),
        "rows": sorted(rows),
        "first": min(days).isoformat(),
        "last": max(days).isoformat(),
    }


def _days(found: Reconciliation, entries: Iterable[int], rows: Iterable[str]) -> list[date]:
    return [found.movements[each].day for each in entries] + [found.rows[each].day for each in rows]


Pair = tuple[tuple[int, ...], tuple[str, ...]]


def _matches(found: Reconciliation, asked: Confirmation) -> list[Pair]:
    by_key = {each.key: each for each in found.matches}
    for key in asked.matches:
        if key not in by_key:
            raise NotFound(what="match", name=key)
    chosen = {key: by_key[key] for key in asked.matches}
    if asked.all_suggested:
        chosen |= {each.key: each for each in found.suggested()}
    return [(each.entries, each.rows) for each in chosen.values()]


def _by_hand(found: Reconciliation, asked: Confirmation) -> list[Pair]:
    """Give the pair made by hand. Refuses: NotFound, NotConfirmable where journal and record don't say the same."""
    if not asked.entries and not asked.rows:
        return []
    for number in asked.entries:
        if number not in found.movements:
            raise NotFound(what="movement at the vendor by entry", name=str(number))
    for name in asked.rows:
        if name not in found.rows:
            raise NotFound(what="row", name=name)
    movements = [found.movements[number] for number in dict.fromkeys(asked.entries)]
    rows = [found.rows[name] for name in dict.fromkeys(asked.rows)]
    _check_days(found, movements, rows)
    _check_free(found, asked)
    _check_credits(found, movements, rows)
    return [(tuple(each.entry for each in movements), tuple(each.identity for each in rows))]


def _check_days(found: Reconciliation, movements: Sequence[Movement], rows: Sequence[VendorRow]) -> None:
    if not movements or not rows:
        raise NotConfirmable(reason="a match has entries and rows")
    days = [*(each.day for each in movements), *(each.day for each in rows)]
    if all(Month.of(day) != found.month for day in days):
        raise NotConfirmable(reason=f"none of it is of {found.month}")


def _check_free(found: Reconciliation, asked: Confirmation) -> None:
    wanted = pin_name(asked.entries, asked.rows)
    for name, kept in found.standing.kept.items():
        if name != wanted and ({*kept.pin.entries} & {*asked.entries} or {*kept.pin.rows} & {*asked.rows}):
            raise NotConfirmable(reason="some of it is confirmed as another match, which has to be taken back first")


def _check_credits(found: Reconciliation, movements: Sequence[Movement], rows: Sequence[VendorRow]) -> None:
    """A match says that both sides tell of one movement: in every account whose record shows it the credits are equal,
    and the accounts on either side are the same, where they are the pool's."""
    journal: dict[str, int] = defaultdict(int)
    for each in movements:
        journal[_place(found, each.giver)] -= each.quantity
        journal[_place(found, each.receiver)] += each.quantity
    record: dict[str, int] = defaultdict(int)
    for row in rows:
        record[row.account.casefold()] += row.signed
    for account, change in record.items():
        if change != journal.get(account, 0):
            reason = f"the record of {account} has {change} credits, the journal {journal.get(account, 0)}"
            raise NotConfirmable(reason=reason)
    theirs = {(_place(found, row.giver), _place(found, row.receiver)) for row in rows}
    ours = {(_place(found, each.giver), _place(found, each.receiver)) for each in movements if each.reverses is None}
    if ours and ours != theirs:
        raise NotConfirmable(reason="they are between different accounts")


def _place(found: Reconciliation, account: str | None) -> str:
    """Give an account in one spelling; nobody, and all outside the pool, are one each."""
    if account is None:
        return ""
    own = found.accounts.member_of(account, found.month.last) is not None
    return account.casefold() if own else "outside the pool"
