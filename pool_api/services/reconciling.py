"""The journal against the vendor's record of one month: what each side says, how they match, and the proof.

What the vendor should show follows from the entries (expected.py). What people have decided stands: matches that they
confirmed, or that were there when a month was signed off, are matched before everything else.
"""

from collections.abc import Collection, Container, Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import timedelta
from functools import cached_property
from typing import NamedTuple

from pool_api.domain import access
from pool_api.domain.access import Caller, Right
from pool_api.domain.acts import OF_DIFFERENCES, OF_MATCHES, Kept, Standing, carried_on, pin_name, standing
from pool_api.domain.entries import (
    Entry,
    SignOff,
    digest,
)
from pool_api.domain.errors import NotFound
from pool_api.domain.matching import (
    WINDOW_DAYS,
    AccountProof,
    Difference,
    Match,
    Movement,
    Report,
    Revisions,
    Status,
    match,
)
from pool_api.domain.matching.coverage import Span, clipped
from pool_api.domain.record import RecordType, VendorRow
from pool_api.domain.revisions import Revision
from pool_api.domain.values import Month
from pool_api.services.expected import Accounts, movements, opened
from pool_api.services.office import Office
from pool_api.services.undone_mends import left_alone, reopened, undone_mends
from pool_api.store import acts, directory, journal, revisions, vendor
from pool_api.store.directory import Directory
from pool_api.store.engine import Connection, reading
from pool_api.store.journal import EntryFilter
from pool_api.store.vendor import Decision, Shows

Spans = dict[str, list[Span]]

MOST_REMEMBERED = 8
"""Comparisons that a process remembers, of all pools together."""


class Signed(NamedTuple):
    """A sign-off, as an entry and what it says."""

    entry: Entry
    body: SignOff


@dataclass(frozen=True, kw_only=True)
class Reconciliation:
    """A month's comparison: what is of the month, what people have decided so far, and the proof per vendor account.

    entries are those that differences speak of; movements, by entry, and rows are of the days that were compared;
    waiting are rows that files show in place of rows that still count; broken are matches of the month that somebody
    kept and whose entries or rows aren't there any more; sign_offs are the month's, in order."""

    month: Month
    matches: tuple[Match, ...]
    differences: tuple[Difference, ...]
    proof: tuple[AccountProof, ...]
    limits: tuple[str, ...]
    broken: tuple[Kept, ...]
    decisions: dict[str, Decision]
    standing: Standing
    sign_offs: tuple[Signed, ...]
    rows: dict[str, VendorRow]
    waiting: dict[str, VendorRow]
    movements: dict[int, Movement]
    entries: dict[int, Entry]
    directory: Directory
    accounts: Accounts

    def undecided(self) -> tuple[Difference, ...]:
        """Give the differences that nobody has accepted or dismissed."""
        return tuple(each for each in self.differences if each.key not in self.decisions)

    def suggested(self) -> tuple[Match, ...]:
        """Give the matches that wait for a person's word."""
        return tuple(each for each in self.matches if each.status is Status.SUGGESTED)

    def kept(self, found: Match) -> Kept | None:
        """Give by which word a match stands, None for one that stands by itself or waits for a word."""
        return self.standing.kept.get(pin_name(found.entries, found.rows))

    @cached_property
    def digest(self) -> str:
        """What a sign-off states to have seen: equal where the same entries and rows are matched, the same differences
        are there with the same decisions, and every account comes to the same."""
        verdicts = {key: made.verdict for key, made in self.decisions.items()}
        return digest(
            {
                "month": str(self.month),
                "matches": sorted([each.key, sorted(each.entries), sorted(each.rows)] for each in self.matches),
                "differences": sorted([each.key, verdicts.get(each.key, "")] for each in self.differences),
                "broken": sorted(each.act.subject for each in self.broken),
                "accounts": [_closing(each) for each in self.proof],
            }
        )

    @property
    def sign_off(self) -> Signed | None:
        """What signed the month off as it is now, else what last signed it off at all."""
        fitting = (each for each in reversed(self.sign_offs) if each.body.digest == self.digest)
        return next(fitting, self.sign_offs[-1] if self.sign_offs else None)

    @property
    def changed(self) -> bool:
        """Whether the month was signed off and is no longer what was signed."""
        return self.sign_off is not None and self.sign_off.body.digest != self.digest


def _closing(proof: AccountProof) -> list[str | int | None]:
    return [proof.account, str(proof.first), str(proof.last), proof.journal.closing, proof.record.closing]


class Undecided(NamedTuple):
    """What is open between journal and record: differences that nobody has decided, and matches that nobody has
    confirmed, which are those only suggested and those kept whose rows have changed; and the entry that signed the
    month off as it is, None without one."""

    differences: int = 0
    unconfirmed: int = 0
    sign_off: int | None = None

    @property
    def any(self) -> bool:
        """Whether anything is open."""
        return bool(self.differences or self.unconfirmed)


def reconcile(office: Office, caller: Caller, pool: str, month: Month) -> Reconciliation:
    """Compare a month. Refuses: NotFound, NotPermitted."""
    access.permit_into(caller, pool, Right.READ_RECORDS)
    return compared(office, pool, month)


def undecided(office: Office, pool: str, month: Month) -> Undecided:
    """Give what is open between journal and record in a month; nothing where no record was imported.

    Refuses: NotFound."""
    with reading(office.engine, pool) as connection:
        if not any(vendor.read_shows(connection, pool)):
            return Undecided()
    found = compared(office, pool, month)
    signed = found.sign_off
    return Undecided(
        differences=len(found.undecided()),
        unconfirmed=len(found.suggested()) + len(found.broken),
        sign_off=None if signed is None or found.changed else signed.entry.number,
    )


def compared(office: Office, pool: str, month: Month) -> Reconciliation:
    """As `reconcile`, for a caller whose right was asked already.

    A comparison is remembered while nothing that it rests on has changed."""
    with reading(office.engine, pool) as connection:
        stamp = acts.read_stamp(connection, pool)
        if stamp is None:
            raise NotFound(what="pool", name=pool)
        known = office.reconciliations.get((pool, month))
        if known is not None and known[0] == stamp:
            remembered: Reconciliation = known[1]
            return remembered
        facts = _gather(connection, pool, month)
    found = _compare(facts, month)
    with office.reconciling:
        office.reconciliations.pop((pool, month), None)
        office.reconciliations[pool, month] = (stamp, found)
        while len(office.reconciliations) > MOST_REMEMBERED:
            del office.reconciliations[next(iter(office.reconciliations))]
    return found


@dataclass(frozen=True, slots=True, kw_only=True)
class _Facts:
    """kept are the kept matches that reach into the days compared: span, the month with a margin."""

    span: Span
    directory: Directory
    entries: list[Entry]
    rows: list[VendorRow]
    revised: tuple[Revision, ...]
    shows: tuple[Shows, ...]
    decisions: dict[str, Decision]
    standing: Standing
    kept: tuple[Kept, ...]
    sign_offs: tuple[Signed, ...]

    @property
    def since(self) -> Revisions:
        """The rows that have a later word, and the differences that were dismissed."""
        return Revisions.of(self.revised, {e.difference for e in self.decisions.values() if e.verdict == "dismissed"})


def _gather(connection: Connection, pool: str, month: Month) -> _Facts:
    facts = directory.read_directory(connection, pool)
    if facts is None:
        raise NotFound(what="pool", name=pool)
    margin = timedelta(days=WINDOW_DAYS)
    span = (month.first - margin, month.last + margin)
    signing = journal.read_entries(connection, pool, EntryFilter(kinds=(SignOff.kind,)))
    signed = [Signed(each, each.body) for each in signing if isinstance(each.body, SignOff)]
    near = {str(each) for each in (month.previous(), month, month.next())}
    said = acts.read_acts(connection, pool, OF_MATCHES, near)
    said += acts.read_acts(connection, pool, OF_DIFFERENCES, [str(month)])
    stands = standing(said, {(each.body.month, each.body.digest) for each in signed})
    reach = [each for each in stands.kept.values() if each.first <= span[1] and each.last >= span[0]]
    begin, until = min([span[0], *(each.first for each in reach)]), max([span[1], *(each.last for each in reach)])
    rows, record = revisions.read_counting(connection, pool, first_day=begin, last_day=until)
    stands.kept = carried_on(stands.kept.values(), record.instead)
    kept = tuple(each for each in stands.kept.values() if each.first <= span[1] and each.last >= span[0])
    return _Facts(
        span=span,
        directory=facts,
        entries=list(journal.read_entries(connection, pool, EntryFilter(to_day=until))),
        rows=rows,
        revised=record.open,
        shows=tuple(vendor.read_shows(connection, pool)),
        decisions=vendor.read_decisions(connection, pool),
        standing=stands,
        kept=kept,
        sign_offs=tuple(each for each in signed if each.body.month == str(month)),
    )


def _compare(facts: _Facts, month: Month) -> Reconciliation:
    members = facts.directory.members.values()
    own = {each.handle.casefold(): each.handle for member in members for each in member.handles}
    spans: dict[RecordType, Spans] = {record: {account: [] for account in own.values()} for record in RecordType}
    for each in facts.shows:
        if each.account.casefold() in own:
            spans[each.record][own[each.account.casefold()]].append((each.first, each.last))
    accounts = Accounts(facts.directory, facts.entries)
    sides = _Sides(
        movements=list(movements(facts.directory, accounts, facts.entries)),
        rows=[row for row in facts.rows if row.account.casefold() in own],
        spans=spans,
        opened=opened(accounts, facts.entries),
        kept=facts.kept,
        since=facts.since,
    )
    proven, decisions = (month.first, month.last), facts.decisions.values()
    report = sides.matched(facts.span, proven)
    if undone := left_alone(undone_mends(decisions, facts.entries), report):
        sides = sides.without({number for entry, reversals in undone.items() for number in (entry, *reversals)})
        report = sides.matched(facts.span, proven, reopened(undone, decisions))
    differences = tuple(each for each in report.differences if Month.of(each.day) == month)
    spoken = {number for each in differences for number in (*each.entries, *_mended(each))}
    return Reconciliation(
        month=month,
        matches=tuple(each for each in report.matches if Month.of(each.day) == month),
        differences=differences,
        proof=report.proof,
        limits=(*report.limits, *_left_out({each.account for each in facts.shows}, own)),
        broken=tuple(_broken(facts.kept, report, month)),
        decisions=facts.decisions,
        standing=facts.standing,
        sign_offs=facts.sign_offs,
        rows={row.identity: row for row in sides.rows},
        waiting={each.later.identity: each.later for each in facts.revised if each.later is not None},
        movements={each.entry: each for each in sides.movements if facts.span[0] <= each.day <= facts.span[1]},
        entries={each.number: each for each in facts.entries if each.number in spoken},
        directory=facts.directory,
        accounts=accounts,
    )


def _broken(kept: Iterable[Kept], report: Report, month: Month) -> Iterator[Kept]:
    broken = {pin_name(each.entries, each.rows) for each in report.broken_pins}
    for each in kept:
        if pin_name(each.pin.entries, each.pin.rows) in broken and each.act.month == str(month):
            yield each


def _mended(difference: Difference) -> Iterator[int]:
    if difference.mend is not None and "entry" in difference.mend.fields:
        yield int(difference.mend.fields["entry"])


def _left_out(accounts: Iterable[str], own: Container[str]) -> Iterator[str]:
    for account in sorted(accounts):
        if account.casefold() not in own:
            yield f"The record of {account} is left out: no member has or had this vendor account."


@dataclass(frozen=True, slots=True, kw_only=True)
class _Sides:
    """What is compared: all movements of the journal, and the rows of the pool's own accounts."""

    movements: Sequence[Movement]
    rows: Sequence[VendorRow]
    spans: Mapping[RecordType, Spans]
    opened: Mapping[str, int]
    kept: Sequence[Kept]
    since: Revisions

    def without(self, entries: Container[int]) -> "_Sides":
        """Leave entries out."""
        return replace(self, movements=[each for each in self.movements if each.entry not in entries])

    def matched(self, span: Span, proven: Span, reopened: Collection[str] = ()) -> Report:
        """Match what is of some days, and all of kept matches that reach into them; prove some of these days."""
        first, last = span
        entries = {number for each in self.kept for number in each.pin.entries}
        names = {name for each in self.kept for name in each.pin.rows}
        openings = dict(self.opened)
        taken = [each for each in self.movements if first <= each.day <= last or each.entry in entries]
        earlier = [each for each in self.movements if each.day < first and each.entry not in entries]
        for movement in earlier:
            for account, sign in ((movement.giver, -1), (movement.receiver, 1)):
                if account in self.spans[RecordType.HISTORY]:
                    openings[account] = openings.get(account, 0) + sign * movement.quantity
        return match(
            taken,
            [row for row in self.rows if first <= row.day <= last or row.identity in names],
            self._clipped(RecordType.HISTORY, span),
            parts={record: self._clipped(record, span) for record in self.spans if record is not RecordType.HISTORY},
            openings=openings,
            pins=[each.pin for each in self.kept],
            proven=proven,
            revisions=self.since,
            reopened=reopened,
        )

    def _clipped(self, record: RecordType, span: Span) -> Spans:
        return {account: list(clipped(days, span)) for account, days in self.spans[record].items()}
