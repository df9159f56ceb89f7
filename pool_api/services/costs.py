"""A pool's months, costed one after the other, and kept for as long as the book doesn't move.

Months that are closed are costed again from their entries, under the policy and with the dues that their close froze;
open ones under the policy agreed for them, as they would be settled now. What is kept counts while its Stamp is the
present one.
"""

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date
from functools import cached_property

from pool_api.domain.book import closes_of, held_change, policy_under
from pool_api.domain.costing import month_chain
from pool_api.domain.entries import Close, Entry, Json, Reversal, digest
from pool_api.domain.errors import NotFound
from pool_api.domain.netting import Settlement, settle
from pool_api.domain.paying import Plan, plan
from pool_api.domain.reversals import IN_ORDER
from pool_api.domain.sheets import Sheet, sheet_json
from pool_api.domain.values import Month, months_between
from pool_api.services.office import Office, Stamp
from pool_api.store import directory, journal
from pool_api.store.directory import Directory
from pool_api.store.engine import Connection, reading
from pool_api.store.journal import EntryFilter


@dataclass(frozen=True, kw_only=True)
class CostedMonth:
    """One month: its sheet, and what became or would become of its dues. hub is the keeper's member; close is the entry
    that froze the month, None while open; computed_at is the number of the entry up to which the journal was read."""

    month: Month
    sheet: Sheet
    settled: Json
    hub: str | None
    close: Entry | None
    computed_at: int

    @cached_property
    def settlement(self) -> Json:
        """What becomes of the dues with the payments, as a close freezes it. Those of an open month are planned when
        this is first asked for: finding the fewest may take a second."""
        if self.close is not None:
            return self.settled
        nets = {each["member"]: each["amount"] for each in self.settled["nets"]}
        return self.settled | plan_json(plan(nets, self.sheet.policy, self.hub))

    @property
    def digest(self) -> str:
        """What a keeper states to have seen when closing: equal for equal sheets and settlements."""
        if self.close is not None and isinstance(self.close.body, Close):
            return self.close.body.digest
        return digest({"month": str(self.month), "sheet": sheet_json(self.sheet), "settlement": self.settlement})


@dataclass(frozen=True, slots=True, kw_only=True)
class CostedPool:
    """All months of a pool up to the present one, and the facts they rest on."""

    directory: Directory
    number: int
    hash: str
    entries: tuple[Entry, ...]
    months: Mapping[Month, CostedMonth]

    def month(self, month: Month) -> CostedMonth:
        """Give one month. Refuses: NotFound for one before the pool began or after the present one."""
        if month not in self.months:
            raise NotFound(what="month", name=str(month))
        return self.months[month]

    def latest(self) -> CostedMonth:
        """Give the present month."""
        return self.months[max(self.months)]

    def targets(self) -> dict[int, Entry]:
        """Give the entries that reversals reverse, by number."""
        reversed_ = {entry.body.entry for entry in self.entries if isinstance(entry.body, Reversal)}
        return {entry.number: entry for entry in self.entries if entry.number in reversed_}

    def held_before(self, month: Month, member: str) -> int:
        """Give the credits that a member held when a month began."""
        targets = self.targets()
        return sum(
            held_change(member, entry, targets.get(entry.body.entry) if isinstance(entry.body, Reversal) else None)
            for entry in self.entries
            if entry.effective_on < month.first
        )

    def entries_in(self, month: Month) -> list[Entry]:
        """Give the entries effective in a month, in order of (effective_on, number)."""
        found = (entry for entry in self.entries if Month.of(entry.effective_on) == month)
        return sorted(found, key=IN_ORDER)


def costed(office: Office, pool: str) -> CostedPool:
    """Cost a pool's months up to the present one. Refuses: NotFound."""
    today = office.pool_today(pool)
    with reading(office.engine, pool) as connection:
        head = journal.read_head(connection, pool)
        if head is None:
            raise NotFound(what="pool", name=pool)
        stamp = (head.number, head.hash, head.directory_version, Month.of(today))
        kept: tuple[Stamp, CostedPool] | None = office.costings.get(pool)
        if kept is not None and kept[0] == stamp:
            return kept[1]
        entries = tuple(journal.read_entries(connection, pool, EntryFilter()))
        found = _cost(_directory(connection, pool), entries, (head.number, head.hash), until=today)
    office.costings[pool] = (stamp, found)
    return found


def costed_as_of(office: Office, pool: str, as_of: date) -> CostedPool:
    """Cost a pool's months, up to the present one at the most, from what was effective on a day or before.

    Refuses: NotFound."""
    until = min(as_of, office.pool_today(pool))
    with reading(office.engine, pool) as connection:
        return costed_within(connection, pool, EntryFilter(to_day=as_of), until=until)


def costed_within(connection: Connection, pool: str, wanted: EntryFilter, *, until: date) -> CostedPool:
    """Cost a pool's months up to a day's from some of its entries, by the terms and members that a connection sees:
    those that its own transaction has changed, too.

    Refuses: NotFound."""
    head = journal.read_head(connection, pool)
    if head is None:
        raise NotFound(what="pool", name=pool)
    entries = tuple(journal.read_entries(connection, pool, wanted))
    return _cost(_directory(connection, pool), entries, (head.number, head.hash), until=until)


def _directory(connection: Connection, pool: str) -> Directory:
    found = directory.read_directory(connection, pool)
    if found is None:
        raise NotFound(what="pool", name=pool)
    return found


def _cost(facts: Directory, entries: tuple[Entry, ...], head: tuple[int, str], *, until: date) -> CostedPool:
    first = Month.of(facts.pool.began_on)
    last = max([Month.of(until), first, *(Month.of(entry.effective_on) for entry in entries)])
    closes = closes_of(entries)
    settlements: dict[Month, Json] = {}

    def dues_after(sheet: Sheet) -> Mapping[str, int]:
        close = closes.get(sheet.month)
        found = close.body.settlement if close and isinstance(close.body, Close) else settled(sheet, facts)
        settlements[sheet.month] = found
        return brought_forward(found)

    chain = month_chain(
        entries,
        months=months_between(first, last),
        policy_of=lambda month: policy_under(facts.pool, closes.get(month), month),
        members=sorted(facts.members.values(), key=lambda member: member.code),
        currency=facts.pool.currency,
        settle=dues_after,
    )
    months = {
        sheet.month: CostedMonth(
            month=sheet.month,
            sheet=sheet,
            settled=settlements[sheet.month],
            hub=facts.pool.keeper_member,
            close=closes.get(sheet.month),
            computed_at=head[0],
        )
        for sheet, _ in chain
    }
    return CostedPool(directory=facts, number=head[0], hash=head[1], entries=entries, months=months)


def brought_forward(settlement: Json) -> dict[str, int]:
    """Give what remains of dues once a month is settled; of a member that isn't named nothing does."""
    found: dict[str, int] = {}
    for each in (*settlement["carried"], *settlement["small"]):
        found[each["member"]] = found.get(each["member"], 0) + each["amount"]
    return found


def settled(sheet: Sheet, facts: Directory) -> Json:
    """Settle a sheet by the pool's present terms and members, apart from the payments."""
    found = settle(
        sheet.dues,
        sheet.stock.closing.cost,
        sheet.policy,
        {each.code: each.share for each in facts.members.values() if each.is_in(sheet.month.last)},
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
