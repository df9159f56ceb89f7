"""A pool's months, costed one after the other, and kept so that one more entry costs little more than itself.

Months that are closed are costed from their entries too, under the policy, with the members' shares, the dues and the
hub that their close froze; open ones under the policy agreed for them, as they would be settled now. What is kept of a
pool is what its months add up to and their sheets, never an entry; it counts for as long as the journal still has the
entry that it reached, with its hash.
"""

from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field, replace
from datetime import date, timedelta
from functools import cached_property
from threading import Lock
from typing import Any

from pool_api.domain.activity import Activities, Activity, gathered_month
from pool_api.domain.book import closes_of
from pool_api.domain.chain import Link, month_chain, under
from pool_api.domain.effects import Original
from pool_api.domain.entries import Close, Entry, Json, Reopening, digest
from pool_api.domain.errors import NotFound
from pool_api.domain.ladder import Ladder
from pool_api.domain.netting import Settlement, settle
from pool_api.domain.paying import Plan, plan
from pool_api.domain.pool import Member
from pool_api.domain.reversals import Fact
from pool_api.domain.sheets import MemberLoans, Sheet, loans_by_member, sheet_json
from pool_api.domain.values import Month, months_between
from pool_api.services import frozen
from pool_api.services.office import Office
from pool_api.store import directory, facts, journal, plans
from pool_api.store.directory import Directory
from pool_api.store.engine import Connection, reading
from pool_api.store.journal import EntryFilter, Head

Stamp = tuple[int, str, int, Month]
"""What a costing rests on: the head's number and hash, the directory's version, the present month."""

_OF_MONTHS = frozenset({Close, Reopening})
"""Kinds that close or reopen a month."""


@dataclass(frozen=True, kw_only=True)
class CostedMonth:
    """One month: its sheet, and what became or would become of its dues. hub is the keeper's member, in a closed month
    the one that its close froze, if any; close is the entry that froze the month, None while open; computed_at is the
    number of the entry up to which the journal was read; members are those that count for the month, with their shares;
    ladder is the one of the month's last day, or that by which its close froze a saving as shared; numbers are the
    lowest and the highest of the month's entries; originals are the original amounts of entries of earlier months that
    are ever reversed, as they stand when the month begins."""

    month: Month
    sheet: Sheet
    settled: Json
    hub: str | None
    close: Entry | None
    computed_at: int
    members: Sequence[Member]
    ladder: Ladder | None
    numbers: tuple[int, int]
    originals: Mapping[int, Original]

    @cached_property
    def settlement(self) -> Json:
        """What becomes of the dues with the payments, as a close freezes it. Those of an open month are planned when
        this is first asked for: finding the fewest may take a second."""
        if self.close is not None:
            return self.settled
        nets = {each["member"]: each["amount"] for each in self.settled["nets"]}
        return self.settled | {frozen.HUB: self.hub} | plan_json(plan(nets, self.sheet.policy, self.hub))

    @cached_property
    def loans(self) -> Mapping[str, MemberLoans]:
        """The month's loans by member: every statement would look through all of them for its own."""
        return loans_by_member(self.sheet)

    @cached_property
    def digest(self) -> str:
        """What a keeper states to have seen when closing: equal for equal sheets and settlements."""
        if self.close is not None and isinstance(self.close.body, Close):
            return self.close.body.digest
        return preview_digest(str(self.month), sheet_json(self.sheet), self.settlement)


def preview_digest(month: str, sheet: Json, settlement: Json) -> str:
    """Give the digest of a month's preview, which its close freezes beside the sheet and the settlement."""
    return digest({"month": month, "sheet": sheet, "settlement": settlement})


@dataclass(frozen=True, slots=True, kw_only=True)
class CostedPool:
    """All months of a pool up to the present one, and the entry of the journal that they rest on; ladders are those
    that stand, by the day that they are valid from."""

    directory: Directory
    ladders: Sequence[Ladder]
    number: int
    hash: str
    months: Mapping[Month, CostedMonth]

    def month(self, month: Month) -> CostedMonth:
        """Give one month. Refuses: NotFound for one before the pool began or after the present one."""
        if month not in self.months:
            raise NotFound(what="month", name=str(month))
        return self.months[month]

    def latest(self) -> CostedMonth:
        """Give the present month."""
        return self.months[max(self.months)]

    def held_before(self, month: Month, member: str) -> int:
        """Give the credits that a member held when a month began."""
        before = self.months.get(month.previous())
        closings = {each.member: each.closing.quantity for each in before.sheet.members} if before else {}
        return closings.get(member, 0)

    def stock_before(self, month: Month) -> int:
        """Give the credits that were in stock when a month began; below zero when more was drawn than there was."""
        before = self.months.get(month.previous())
        return before.sheet.stock.closing.quantity if before else 0


@dataclass(slots=True)
class Costing:
    """What is kept of one pool, by whoever holds the lock; found, which goes with stamp, may be read without it.
    reached is the entry, with its hash, that activities and closes go up to: None while they are being moved on, and
    for good when that fails. links are those of found."""

    lock: Lock = field(default_factory=Lock)
    reached: tuple[int, str] | None = None
    activities: Activities = field(default_factory=Activities)
    closes: dict[Month, Entry] = field(default_factory=dict)
    links: dict[Month, Link] = field(default_factory=dict)
    stamp: Stamp | None = None
    found: CostedPool | None = None


def costed(office: Office, pool: str) -> CostedPool:
    """Cost a pool's months up to the present one. Refuses: NotFound."""
    today = office.pool_today(pool)
    kept: Costing = office.costings.setdefault(pool, Costing())
    with reading(office.engine, pool) as connection:
        stamp, found = kept.stamp, kept.found
        if found is not None and stamp == _stamp(_head(connection, pool), today):
            return found
    with kept.lock:
        return _moved_on(office, pool, kept, today)


def _moved_on(office: Office, pool: str, kept: Costing, today: date) -> CostedPool:
    """Bring what is kept of a pool to the present; to be called by who holds its lock."""
    with reading(office.engine, pool) as connection:
        head = _head(connection, pool)
        _read_to(connection, pool, kept, head)
        if kept.found is None or kept.stamp != _stamp(head, today):
            kept.found = _cost(*_terms(connection, pool), kept, head, until=today)
        kept.stamp = _stamp(head, today)
        return kept.found


def _read_to(connection: Connection, pool: str, kept: Costing, head: Head) -> None:
    """Bring what is read of a pool to its head; to be called by who holds the lock of what is kept."""
    reached, kept.reached = kept.reached, None
    if reached is None or not _has(connection, pool, *reached):
        kept.activities, kept.closes, kept.links = Activities(), {}, {}
    if reached != (head.number, head.hash):
        _read_on(connection, pool, kept)
    kept.reached = head.number, head.hash


def costed_otherwise(
    office: Office, pool: str, month: Month, changed: Mapping[str, Any]
) -> tuple[CostedMonth, CostedMonth]:
    """Give a month as it is, and as it would be, from what the month before really left, with some rules changed.

    Takes:   changed — rules of a Policy by name. What is kept stays as it is.
    Refuses: NotFound."""
    today = office.pool_today(pool)
    kept: Costing = office.costings.setdefault(pool, Costing())
    with kept.lock:
        found = _moved_on(office, pool, kept, today)
        there, link = found.month(month), kept.links[month]
        activity = kept.activities.months.get(month, Activity())
        sheet = under(link, activity, replace(there.sheet.policy, **changed))
    return there, replace(there, sheet=sheet, settled=_settled(sheet, link.terms.members), close=None)


def costed_as_of(office: Office, pool: str, as_of: date) -> CostedPool:
    """Cost a pool's months, up to the present one at the most, from what was effective on a day or before. Months that
    had ended by then are taken from what is kept.

    Refuses: NotFound."""
    today = office.pool_today(pool)
    kept: Costing = office.costings.setdefault(pool, Costing())
    with kept.lock:
        found = _moved_on(office, pool, kept, today)
    # read without the lock, as a long month takes a while; only where the journal moves on meanwhile, again with it
    then = _effective(office, pool, found, as_of)
    with kept.lock:
        if kept.reached != (found.number, found.hash):
            found = _moved_on(office, pool, kept, today)
            then = _effective(office, pool, found, as_of)
        ended = Month.of(as_of + timedelta(days=1))
        then.activities.months |= {each: sums for each, sums in kept.activities.months.items() if each < ended}
        then.links = {each: link for each, link in kept.links.items() if each < ended}
        return _cost(found.directory, found.ladders, then, found, until=min(as_of, today))


def costed_within(office: Office, connection: Connection, pool: str, *, until: date) -> CostedPool:
    """Cost a pool's months up to one by the terms and members that a connection sees, those that its own transaction
    has changed, too; its journal is as it was committed. The costing is not kept, what was read is.

    Refuses: NotFound."""
    kept: Costing = office.costings.setdefault(pool, Costing())
    with kept.lock:
        head = _head(connection, pool)
        _read_to(connection, pool, kept, head)
        then = Costing(activities=kept.activities, closes=kept.closes, links=kept.links)
        return _cost(*_terms(connection, pool), then, head, until=until)


def used_by_month(office: Office, pool: str) -> dict[Month, dict[str, int]]:
    """Give the credits that each member used, by month, without costing any (Activities.used). Refuses: NotFound."""
    kept: Costing = office.costings.setdefault(pool, Costing())
    with kept.lock, reading(office.engine, pool) as connection:
        _read_to(connection, pool, kept, _head(connection, pool))
        return kept.activities.used()


def costed_anew(office: Office, pool: str) -> CostedPool:
    """Cost a pool's months up to the present one from all entries, and from nothing that is kept. Refuses: NotFound."""
    with reading(office.engine, pool) as connection:
        head, then = _head(connection, pool), Costing()
        _read_on(connection, pool, then)
        return _cost(*_terms(connection, pool), then, head, until=office.pool_today(pool))


def _effective(office: Office, pool: str, found: CostedPool, as_of: date) -> Costing:
    """Read what was effective on a day or before, and up to the entry that a costing reached, of the day's month,
    unless it ends with it; and the closes that stood then."""
    month, then = Month.of(as_of), Costing()
    with reading(office.engine, pool) as connection:
        if as_of < month.last and month in found.months:
            read = facts.read_month(connection, pool, month, found.months[month].numbers)
            targets = facts.read_targets(connection, pool, read)
            effective = (each for each in read if each.effective_on <= as_of)
            then.activities.months[month] = gathered_month(effective, targets, month)
        closings = journal.read_entries(connection, pool, EntryFilter(kinds=(Close.kind, Reopening.kind), to_day=as_of))
        then.closes = closes_of(each for each in closings if each.number <= found.number)
    return then


def _head(connection: Connection, pool: str) -> Head:
    head = journal.read_head(connection, pool)
    if head is None:
        raise NotFound(what="pool", name=pool)
    return head


def _stamp(head: Head, today: date) -> Stamp:
    return head.number, head.hash, head.directory_version, Month.of(today)


def _has(connection: Connection, pool: str, number: int, hash_: str) -> bool:
    """Tell whether the journal has an entry of that hash, so that what came since only adds to it."""
    entry = journal.read_entry(connection, pool, number)
    return number == 0 or (entry is not None and entry.hash == hash_)


def _read_on(connection: Connection, pool: str, kept: Costing) -> None:
    """Add what was recorded since to what is kept."""
    after, closings = kept.activities.through, list[int]()
    forgotten = kept.activities.reverse(facts.read_reversals(connection, pool, after=after))
    read = facts.read_facts(connection, pool, after=after, days=forgotten)
    kept.activities.add(_noting(read, after, closings))
    entries = journal.read_numbered(connection, pool, closings)
    kept.closes = closes_of((entries[number] for number in closings), kept.closes)


def _noting(read: Iterable[Fact], after: int, closings: list[int]) -> Iterator[Fact]:
    """Give facts as they come, and note which of those after a number close or reopen a month."""
    for fact in read:
        if type(fact.body) in _OF_MONTHS and fact.number > after:
            closings.append(fact.number)
        yield fact


def _terms(connection: Connection, pool: str) -> tuple[Directory, Sequence[Ladder]]:
    found = directory.read_directory(connection, pool)
    if found is None:
        raise NotFound(what="pool", name=pool)
    return found, plans.read_lawful(connection, pool, found.pool.currency)


def _cost(
    terms: Directory, ladders: Sequence[Ladder], kept: Costing, head: Head | CostedPool, *, until: date
) -> CostedPool:
    first = Month.of(terms.pool.began_on)
    last = max([Month.of(until), first, *kept.activities.months])
    members = sorted(terms.members.values(), key=lambda member: member.code)
    settled: dict[Month, Json] = {}

    def dues_after(sheet: Sheet) -> Mapping[str, int]:
        close = kept.closes.get(sheet.month)
        found = close.body.settlement if close and isinstance(close.body, Close) else _settled(sheet, members)
        settled[sheet.month] = found
        return _brought_forward(found)

    chain = month_chain(
        kept.activities.months,
        months=months_between(first, last),
        terms_of=lambda month: frozen.terms_of(terms.pool, members, ladders, kept.closes.get(month), month),
        settle=dues_after,
        kept=kept.links,
    )
    kept.links = {link.sheet.month: link for link, _ in chain}
    months = {
        month: CostedMonth(
            month=month,
            sheet=link.sheet,
            settled=settled[month],
            hub=frozen.hub_of(kept.closes.get(month)) or terms.pool.keeper_member,
            close=kept.closes.get(month),
            computed_at=head.number,
            members=link.terms.members,
            ladder=link.terms.ladder,
            numbers=kept.activities.numbers(month),
            originals=link.earlier,
        )
        for month, link in kept.links.items()
    }
    return CostedPool(directory=terms, ladders=ladders, number=head.number, hash=head.hash, months=months)


def _brought_forward(settlement: Json) -> dict[str, int]:
    """Give what remains of dues once a month is settled; of a member that isn't named nothing does."""
    found: dict[str, int] = {}
    for each in (*settlement["carried"], *settlement["small"]):
        found[each["member"]] = found.get(each["member"], 0) + each["amount"]
    return found


def _settled(sheet: Sheet, members: Iterable[Member]) -> Json:
    """Settle a sheet among members with their shares, apart from the payments."""
    found = settle(
        sheet.dues,
        sheet.stock.closing.cost,
        sheet.policy,
        {each.code: each.share for each in members if each.is_in(sheet.month.last)},
    )
    return {
        name: [{"member": member, "amount": amount} for member, amount in getattr(found, name)]
        for name in Settlement.__slots__
    }


def plan_json(found: Plan) -> Json:
    """Give a plan as the JSON object that a close freezes with the rest of the settlement; amounts in minor units."""
    return {
        "payments": [{"payer": each.payer, "payee": each.payee, "amount": each.amount} for each in found.payments],
        "lower_bound": found.lower_bound,
        "proven": found.proven,
        "go_betweens": [*found.go_betweens],
        "unpayable": [*found.unpayable],
    }
