"""Reading the journal: entries with all that refers to them, the book that entries make, and the proof that all of it
holds.
"""

from collections.abc import Iterable, Iterator
from dataclasses import dataclass, replace

from pool_api.domain import access
from pool_api.domain.access import Caller, Right
from pool_api.domain.book import Book
from pool_api.domain.entries import Acknowledgement, Body, Close, Entry, Reopening, Reversal, SignOff, digest, parties
from pool_api.domain.errors import NotFound
from pool_api.domain.hashing import entry_hash
from pool_api.domain.pool import Pool
from pool_api.domain.sheets import costs_json, sheet_json
from pool_api.domain.values import Month
from pool_api.services.costs import CostedPool, costed_anew, preview_digest
from pool_api.services.frozen import COSTS, SAVING
from pool_api.services.office import Office
from pool_api.store import directory, journal
from pool_api.store.engine import reading
from pool_api.store.errors import StoreDamaged
from pool_api.store.journal import EntryFilter, Filed


@dataclass(frozen=True, slots=True, kw_only=True)
class EntryInFull:
    """An entry with the entries that refer to it and how much of it is reversed."""

    entry: Entry
    referring: tuple[Entry, ...]
    undone: int


@dataclass(frozen=True, slots=True, kw_only=True)
class Finding:
    """One thing that doesn't hold: the entry where it shows (0 for the head as a whole) and what is wrong."""

    number: int
    problem: str


@dataclass(frozen=True, slots=True, kw_only=True)
class VerificationReport:
    """What a verification found: how far the journal reaches, its last hash, and the findings, first entry first."""

    entries: int
    head: str
    findings: tuple[Finding, ...]


def list_entries(
    office: Office,
    caller: Caller,
    pool: str,
    wanted: EntryFilter,
    *,
    before: int | None,
    limit: int,
) -> list[Entry]:
    """Give entries that pass a filter, newest first, with numbers below before; a clerk gets its member's only.

    Refuses: NotFound, NotPermitted."""
    access.permit_into(caller, pool, Right.READ_ENTRIES)
    office.check_pool(pool)
    own = access.own_side(caller, Right.READ_ENTRIES)
    if own is not None and wanted.member not in (None, own):
        return []
    narrowed = wanted if own is None else replace(wanted, member=own)
    with reading(office.engine, pool) as connection:
        return list(journal.read_entries(connection, pool, narrowed, before=before, limit=limit, newest_first=True))


def read_entry(office: Office, caller: Caller, pool: str, number: int) -> EntryInFull:
    """Give one entry and what refers to it. Refuses: NotFound, also for an entry that a clerk may not see."""
    access.permit_into(caller, pool, Right.READ_ENTRIES)
    with reading(office.engine, pool) as connection:
        entry = journal.read_entry(connection, pool, number)
        if entry is None:
            raise NotFound(what="entry", name=str(number))
        sides = parties(entry.body)
        if isinstance(entry.body, Reversal | Acknowledgement):
            target = journal.read_entry(connection, pool, entry.body.entry)
            sides = parties(target.body) if target else ()
        if not access.sees_entry(caller, sides) and entry.kind not in journal.WHOLE_POOL_KINDS:
            raise NotFound(what="entry", name=str(number))
        referring = tuple(journal.read_entries(connection, pool, EntryFilter(target=number)))
        undone = journal.read_undone(connection, pool, [number]).get(number, 0)
    return EntryInFull(entry=entry, referring=referring, undone=undone)


def replayed(terms: Pool, entries: Iterable[Entry]) -> Book:
    """Give the book that entries make, in order of number from the first."""
    replay = Replay(terms)
    for entry in entries:
        replay.add(entry)
    return replay.book


class Replay:
    """A book made from entries alone, in order; remembers what later entries may refer to."""

    def __init__(self, terms: Pool) -> None:
        self.book = Book(first_month=Month.of(terms.began_on), custodian=terms.custodian)
        self._seen: dict[int, Entry] = {}
        self._closes: dict[str, Entry] = {}

    def add(self, entry: Entry) -> None:
        """Apply one more entry."""
        body = entry.body
        self._seen[entry.number] = entry
        match body:
            case Close():
                self._closes[body.month] = entry
                self.book.apply(entry)
            case Reversal():
                self.book.apply(entry, self._seen[body.entry])
            case Reopening():
                self.book.apply(entry, self._closes[body.month])
            case _:
                self.book.apply(entry)

    def is_unsigned(self, entry: Entry) -> bool:
        """Tell whether an entry is a close that names as its month's sign-off what isn't one."""
        body = entry.body
        if not isinstance(body, Close) or body.sign_off is None:
            return False
        signed = self._seen.get(body.sign_off)
        return signed is None or not isinstance(signed.body, SignOff) or signed.body.month != body.month

    def target(self, entry: Entry) -> Body | None:
        """Give the body of the entry that one reverses or acknowledges, None for any other kind."""
        body = entry.body
        return self._seen[body.entry].body if isinstance(body, Reversal | Acknowledgement) else None


SHORTEST_HASH = 16
"""As much of a hash as stands at the foot of a statement."""


@dataclass(frozen=True, slots=True)
class Known:
    """An entry that a paper names: its number, and its hash or how that begins."""

    number: int
    hash: str

    @classmethod
    def parse(cls, text: str) -> "Known":
        """Read NUMBER:HASH. Refuses: ValueError."""
        number, _, begins = text.partition(":")
        if len(begins) < SHORTEST_HASH:
            raise ValueError(text)
        return cls(int(number), begins)


def verify(office: Office, caller: Caller, pool: str, known: Known | None = None) -> VerificationReport:
    """Recompute the whole journal: numbers, hashes, how it is filed, every projection, and what closes froze.

    Takes:   known — an entry that the journal must have, which shows whether its end is lost or it was written anew.
    Refuses: NotFound, NotPermitted."""
    access.permit_into(caller, pool, Right.VERIFY)
    return verify_journal(office, pool, known)


def verify_journal(office: Office, pool: str, known: Known | None = None) -> VerificationReport:
    """As `verify`, for whoever has the database at hand. Refuses: NotFound."""
    with reading(office.engine, pool) as connection:
        kept, found = journal.read_book(connection, pool), directory.read_directory(connection, pool)
        if kept is None or found is None:
            raise NotFound(what="pool", name=pool)
        kept.undone = journal.read_undone(connection, pool)
        replay = Replay(found.pool)
        finding = _audit(pool, replay, journal.read_filed(connection, pool), known)
    book = replay.book
    findings = [finding] if finding else [Finding(number=0, problem=each) for each in _differences(book, kept)]
    if not findings:
        findings += _closes_broken(costed_anew(office, pool))
    return VerificationReport(entries=book.number, head=book.hash, findings=tuple(findings))


def _closes_broken(found: CostedPool) -> Iterator[Finding]:
    """Give the closes that stand and froze what their digest, or their entries, don't give."""
    for month in found.months.values():
        close = month.close
        if close is None or not isinstance(close.body, Close):
            continue
        frozen = {name: each for name, each in close.body.sheet.items() if name != COSTS}
        if preview_digest(close.body.month, frozen, close.body.settlement) != close.body.digest:
            yield Finding(number=close.number, problem="the digest does not fit the sheet and settlement of the close")
        elif digest(costs_json(month.sheet)) != close.body.sheet.get(COSTS):
            yield Finding(number=close.number, problem="the month's entries do not give the costs that the close froze")
        elif (given := sheet_json(month.sheet)).get(SAVING) != close.body.sheet.get(SAVING):
            yield Finding(number=close.number, problem="what was drawn does not give the saving that the close froze")
        elif given["members"] != close.body.sheet["members"]:
            problem = "the month's entries do not give the members' figures that the close froze"
            yield Finding(number=close.number, problem=problem)


def _audit(pool: str, replay: Replay, entries: Iterator[tuple[Entry, Filed]], known: Known | None) -> Finding | None:
    """Replay entries, checking each link of the chain; stops at the first that is wrong: all after it rests on it."""
    while True:
        try:
            found = next(entries, None)
        except StoreDamaged as damage:
            return Finding(number=damage.number, problem="what is stored can't be read as an entry")
        if found is None:
            if known and known.number > replay.book.number:
                return Finding(number=known.number, problem="the journal ends before it")
            return None
        entry, filed = found
        if problem := _broken(pool, replay.book, entry):
            return Finding(number=entry.number, problem=problem)
        if known and known.number == entry.number and not entry.hash.startswith(known.hash):
            return Finding(number=entry.number, problem="it has another hash than it had when it was told of")
        replay.add(entry)
        if replay.is_unsigned(entry):
            return Finding(number=entry.number, problem="the sign-off that the close names is none of its month")
        if filed != journal.filed(entry.body, replay.target(entry)):
            return Finding(number=entry.number, problem="it is filed under other members, job or target than it says")


def _broken(pool: str, book: Book, entry: Entry) -> str | None:
    if entry.number != book.number + 1:
        return f"the number should be {book.number + 1}"
    if entry.previous_hash != book.hash:
        return "the previous hash is not the hash of the entry before it"
    if entry.hash != entry_hash(pool, entry):
        return "the hash does not fit what the entry says"
    return None


def _differences(book: Book, kept: Book) -> Iterator[str]:
    """Give, in words, each projection that differs from the replayed book."""
    by_replay, as_kept = _laid_out(book), _laid_out(kept)
    for name in sorted({*by_replay, *as_kept}):
        replayed, projected = by_replay.get(name), as_kept.get(name)
        if replayed != projected:
            yield f"{name}: the journal gives {replayed}, the projection says {projected}"


def _laid_out(book: Book) -> dict[str, object]:
    """Give all that a book says by name, without what is nothing."""
    said: dict[str, object] = {
        "number": book.number,
        "hash": book.hash,
        "stock": book.stock,
        "closed through": book.closed_through,
        "custodian": book.custodian,
        **{f"held by {member}": held for member, held in book.held.items()},
        **{f"open from {lender} to {borrower}": q for (lender, borrower), q in book.open.items()},
        **{f"reversed of entry {number}": quantity for number, quantity in book.undone.items()},
        **{f"settlement payment {name}": payment for name, payment in book.payments.items()},
    }
    return {name: value for name, value in said.items() if value}
