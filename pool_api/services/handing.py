"""Handing a difference to the member that can say what happened, and what that member answers.

A difference that is handed over stays open: what becomes of it is the keeper's to decide. A member's clerks see the
differences in their hands, and of the vendor's record only the rows that these speak of.
"""

from collections.abc import Iterator
from dataclasses import dataclass
from itertools import groupby
from operator import attrgetter

from pool_api.domain import access
from pool_api.domain.access import Caller, Right
from pool_api.domain.acts import OF_DIFFERENCES, Act, ActKind, Answer, Handed, standing
from pool_api.domain.errors import AlreadyDecided, NotFound, UnknownMember
from pool_api.domain.matching import Difference
from pool_api.domain.record import VendorRow
from pool_api.domain.values import Month
from pool_api.services import acting, once
from pool_api.services.mends import Said, offered
from pool_api.services.office import Office
from pool_api.services.reconciling import Reconciliation, compared
from pool_api.store import acts
from pool_api.store.engine import reading


@dataclass(frozen=True, slots=True, kw_only=True)
class InHand:
    """A difference in a member's hands, with what its mend offers and the rows that it speaks of."""

    month: Month
    difference: Difference
    offered: Said
    rows: tuple[VendorRow, ...]
    handed: Handed


def hand(
    office: Office, caller: Caller, pool: str, month: Month, difference: str, *, member: str | None, word: str, key: str
) -> Act:
    """Hand a difference to a member, on to another, or (None) back to the keeper.

    Refuses: NotFound, NotPermitted, UnknownMember, AlreadyDecided."""
    access.permit_into(caller, pool, Right.RECONCILE)
    said = {"difference": difference, "member": member, "word": word}
    request = once.asked(caller, f"hand over {month}", key, said)
    if before := acting.made_before(office, pool, request):
        return before[0]
    found = compared(office, pool, month)
    _check_open(found, difference)
    if member is not None and member not in found.directory.members:
        raise UnknownMember(member=member)
    act = acting.new(caller, month, ActKind.HANDED, difference, {"member": member}, word)
    return acting.keep(office, pool, [act], request)[0]


def in_hands(office: Office, caller: Caller, pool: str, member: str | None, *, after: int, limit: int) -> list[InHand]:
    """Give the open differences in members' hands, in the order in which they came there; a clerk gets its own only.

    Takes:   after — the number of the act by which the one before was handed over.
    Refuses: NotFound, NotPermitted."""
    access.permit_into(caller, pool, Right.READ_HANDED)
    office.check_pool(pool)
    own = access.own_side(caller, Right.READ_HANDED)
    if own is not None and member not in (None, own):
        return []
    return sorted(_in_hands(office, pool, own or member, after), key=lambda each: each.handed.act.number)[:limit]


def _in_hands(office: Office, pool: str, member: str | None, after: int) -> Iterator[InHand]:
    with reading(office.engine, pool) as connection:
        handed = standing(acts.read_acts(connection, pool, OF_DIFFERENCES), ()).handed.values()
    wanted = [each for each in handed if member in (None, each.member) and each.act.number > after]
    by_month = attrgetter("act.month")
    for month, group in groupby(sorted(wanted, key=by_month), key=by_month):
        found = compared(office, pool, Month.parse(month))
        open_ = {each.key: each for each in found.undecided()}
        for each in group:
            if each.act.subject in open_:
                yield _in_hand(found, open_[each.act.subject], each)


def _in_hand(found: Reconciliation, difference: Difference, handed: Handed) -> InHand:
    rows = tuple(found.rows[name] for name in difference.rows)
    return InHand(
        month=found.month, difference=difference, offered=offered(found, difference), rows=rows, handed=handed
    )


@dataclass(frozen=True, slots=True, kw_only=True)
class Reply:
    """What a member answers of a difference: with the fields of the mend where it is to be mended, and a word."""

    difference: str
    answer: Answer
    fields: Said
    word: str
    key: str


def answer(office: Office, caller: Caller, pool: str, month: Month, reply: Reply) -> Act:
    """Answer what a difference in one's hands is about; answered again, the later answer counts.

    Refuses: NotFound, also for one that is in another member's hands; NotPermitted, AlreadyDecided."""
    access.permit_into(caller, pool, Right.ANSWER_HANDED)
    said = {"answer": reply.answer, "fields": dict(reply.fields), "word": reply.word, "difference": reply.difference}
    request = once.asked(caller, f"answer {month}", reply.key, said)
    if before := acting.made_before(office, pool, request):
        return before[0]
    found = compared(office, pool, month)
    handed, own = found.standing.handed.get(reply.difference), access.own_side(caller, Right.ANSWER_HANDED)
    if handed is None or own not in (None, handed.member):
        raise NotFound(what="difference in your hands", name=reply.difference)
    _check_open(found, reply.difference)
    content = {"member": handed.member, "answer": reply.answer, "fields": dict(reply.fields)}
    made = acting.new(caller, month, ActKind.ANSWERED, reply.difference, content, reply.word)
    return acting.keep(office, pool, [made], request)[0]


def _check_open(found: Reconciliation, difference: str) -> None:
    if difference in found.decisions:
        raise AlreadyDecided(difference=difference, verdict=found.decisions[difference].verdict)
    if all(each.key != difference for each in found.differences):
        raise NotFound(what="difference", name=difference)
