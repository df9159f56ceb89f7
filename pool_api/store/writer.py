"""The group commit: the only way into a journal, and the only place where recording commits.

Requests of one pool wait in its lane. Whoever serves the lane takes all that wait, opens one transaction, locks the
pool's head row, reads what deciding needs, decides each request in memory one after the other, appends all accepted
entries at once, moves the projections on, commits, and only then answers. A refused request refuses itself alone.
Several processes may write: the row lock orders them, and a book kept in memory is used only while the head still has
its number and hash.

What a request was answered is stored in the same transaction under its idempotency key, refusals too, and given again
when the key comes again, for as long as the journal lives.
"""

from collections import deque
from collections.abc import Callable, Iterable, Mapping, Sequence
from concurrent.futures import Future, ThreadPoolExecutor
from dataclasses import dataclass, field
from datetime import date, datetime
from itertools import chain
from threading import Lock
from zoneinfo import ZoneInfo

from sqlalchemy import Connection, Engine

from pool_api.domain import access
from pool_api.domain.access import Caller
from pool_api.domain.book import Book
from pool_api.domain.entries import Acknowledgement, Body, Close, Command, Entry, Opening, Reopening, Reversal
from pool_api.domain.errors import (
    DomainError,
    KeyEnded,
    KeyReused,
    NotFound,
    NotPermitted,
    revive,
)
from pool_api.domain.hashing import chained
from pool_api.domain.journal import OF_STOCK, Desk
from pool_api.domain.references import recorded_as
from pool_api.domain.values import instant_text
from pool_api.store import answers, directory, journal, people
from pool_api.store.answers import Answer, Slot
from pool_api.store.arrangements import Accord
from pool_api.store.directory import Directory
from pool_api.store.engine import writing
from pool_api.store.errors import StoreConflict
from pool_api.store.journal import EntryFilter

MOST_PER_TRANSACTION = 5_000
"""Commands that share a transaction at the most, unless a single request has more."""

THREADS = 4
"""Pools that are written to at one time by one process."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Request:
    """What a caller asks to have recorded, all or nothing, once per (caller, operation, key).

    fingerprint tells whether a later request with the same key asks for the same. accord is what changes besides the
    journal, in the same transaction."""

    pool: str
    caller: Caller
    operation: str
    key: str
    fingerprint: str
    commands: tuple[Command, ...]
    accord: Accord | None = None

    @property
    def slot(self) -> Slot:
        """Where its answer is kept."""
        return Slot(self.caller.key_id, self.operation, self.key)


@dataclass(frozen=True, slots=True)
class Recorded:
    """What was recorded; replayed when an earlier request with the same key or reference had recorded it already."""

    entries: tuple[Entry, ...]
    replayed: bool


@dataclass(slots=True)
class _Waiting:
    request: Request
    answered: "Future[Recorded]" = field(default_factory=Future)


@dataclass(slots=True)
class _Lane:
    waiting: deque[_Waiting] = field(default_factory=deque)
    served: bool = False
    book: Book | None = None
    directory: Directory | None = None


class Writer:
    """Records for all pools of one database, from any thread."""

    def __init__(self, engine: Engine, now: Callable[[], datetime], *, together: bool = True) -> None:
        """Takes: now — gives the aware present instant; together — False gives every request its own transaction."""
        self._engine = engine
        self._now = now
        self._most = MOST_PER_TRANSACTION if together else 1
        self._lanes: dict[str, _Lane] = {}
        self._lock = Lock()
        self._threads = ThreadPoolExecutor(THREADS, thread_name_prefix="writer")

    def record(self, request: Request) -> "Future[Recorded]":
        """Queue a request; its future ends after the commit, or with the DomainError or StoreError that refused it.

        Cancelling the future takes back a request that still waits; one that is being decided can't be taken back."""
        waiting = _Waiting(request)
        with self._lock:
            lane = self._lanes.setdefault(request.pool, _Lane())
            lane.waiting.append(waiting)
            if lane.served:
                return waiting.answered
            lane.served = True
        self._threads.submit(self._serve, request.pool, lane)
        return waiting.answered

    def close(self) -> None:
        """Answer all that waits, then stop."""
        self._threads.shutdown(wait=True)

    def _serve(self, pool: str, lane: _Lane) -> None:
        while batch := self._take(lane):
            self._answer(pool, lane, batch)

    def _take(self, lane: _Lane) -> list[_Waiting]:
        batch: list[_Waiting] = []
        commands = 0
        with self._lock:
            while lane.waiting and (not batch or commands + len(lane.waiting[0].request.commands) <= self._most):
                waiting = lane.waiting.popleft()
                if waiting.answered.set_running_or_notify_cancel():
                    batch.append(waiting)
                    commands += len(waiting.request.commands)
            lane.served = bool(batch)
        return batch

    def _answer(self, pool: str, lane: _Lane, batch: list[_Waiting]) -> None:
        try:
            results = self._write(pool, lane, [waiting.request for waiting in batch])
        except StoreConflict as error:
            lane.book = None
            if len(batch) == 1:
                batch[0].answered.set_exception(error)
                return
            for waiting in batch:
                self._answer(pool, lane, [waiting])
            return
        except BaseException as error:  # noqa: BLE001 - whatever it is, those who wait must hear of it
            lane.book = None
            for waiting in batch:
                waiting.answered.set_exception(error)
            return
        for waiting, result in zip(batch, results, strict=True):
            if isinstance(result, DomainError):
                waiting.answered.set_exception(result)
            else:
                waiting.answered.set_result(result)

    def _write(self, pool: str, lane: _Lane, requests: Sequence[Request]) -> list[Recorded | DomainError]:
        now = self._now()
        with writing(self._engine, pool) as connection:
            facts = gather(connection, pool, lane, requests, now)
            if facts is None:
                return [NotFound(what="pool", name=pool) for _ in requests]
            session = Deciding(facts, instant_text(now))
            results = [session.answer(request) for request in requests]
            session.save(connection)
        lane.book, lane.directory = session.book, facts.directory
        lane.book.undone.clear()
        return results


@dataclass(frozen=True, slots=True, kw_only=True)
class _Facts:
    pool: str
    directory: Directory
    book: Book
    today: date
    targets: dict[int, Entry]
    referenced: Mapping[str, Entry]
    answers: Mapping[Slot, Answer]
    replayed: Mapping[int, Entry]
    ended: set[str]
    opening: int | None
    connection: Connection


def gather(
    connection: Connection, pool: str, lane: _Lane | None, requests: Sequence[Request], now: datetime
) -> _Facts | None:
    """Give what deciding needs, None when there is no such pool; for a lane the pool's head is locked."""
    head = (journal.lock_head if lane else journal.read_head)(connection, pool)
    if head is None:
        return None
    known, book = (lane.directory, lane.book) if lane else (None, None)
    if known is None or known.version != head.directory_version:
        known = directory.read_directory(connection, pool)
    if book is None or (book.number, book.hash) != (head.number, head.hash):
        book = journal.read_book(connection, pool)
    if known is None or book is None:
        raise AssertionError("a pool with a head has terms and a book")
    commands = [command for request in requests for command in request.commands]
    bodies = [command.body for command in commands]
    targets = journal.read_numbered(
        connection, pool, (body.entry for body in bodies if isinstance(body, Reversal | Acknowledgement))
    )
    if targets:
        book.undone.update(journal.read_undone(connection, pool, targets))
    kept = answers.read_answers(connection, pool, [request.slot for request in requests])
    return _Facts(
        pool=pool,
        directory=known,
        book=book,
        today=now.astimezone(ZoneInfo(known.pool.time_zone)).date(),
        targets=targets,
        referenced=journal.read_referenced(
            connection, pool, (command.reference for command in commands if command.reference is not None)
        ),
        answers=kept,
        replayed=journal.read_numbered(connection, pool, _numbers(kept.values())),
        ended=people.read_ended(connection, pool, [request.caller for request in requests], instant_text(now)),
        opening=journal.read_opening(connection, pool) if any(isinstance(body, Opening) for body in bodies) else None,
        connection=connection,
    )


class Deciding:
    """One transaction's deciding: each request sees what the ones before it changed; `book` is as they leave it."""

    def __init__(self, facts: _Facts, recorded_at: str) -> None:
        self._facts = facts
        self._recorded_at = recorded_at
        self._answers: dict[Slot, tuple[str, Recorded | DomainError]] = {}
        self._references = dict(facts.referenced)
        self._targets = dict(facts.targets)
        self._appended: list[Entry] = []
        self._stored: list[Entry] | None = None
        self.book = facts.book.copy()

    def answer(self, request: Request) -> Recorded | DomainError:
        """Give what a request is to be told; nothing of a refused one stays."""
        if (told := self._told(request)) is not None:
            return told
        entries: list[Entry] = []
        before, count = (self.book.copy() if len(request.commands) > 1 else None), len(self._appended)
        try:
            for command in request.commands:
                entries.append(self._record(request.caller, command))  # noqa: PERF401 - how far it came counts
        except DomainError as refusal:
            if before is not None:
                refusal.command = len(entries) + 1
                self._step_back(before, count)
            if not isinstance(refusal, NotPermitted):
                self._answers[request.slot] = (request.fingerprint, refusal)
            return refusal
        if request.accord:
            request.accord.keep(self._facts.connection, self._facts.pool, self._recorded_at, entries)
        result = Recorded(tuple(entries), replayed=len(self._appended) == count)
        self._answers[request.slot] = (request.fingerprint, result)
        return result

    def _told(self, request: Request) -> Recorded | DomainError | None:
        """Give what is said without deciding: that its key has ended, what it was answered, what its accord refuses."""
        if (request.caller.session or request.caller.key_id) in self._facts.ended:
            return KeyEnded(key_id=request.caller.key_id)
        if earlier := self._earlier(request.slot):
            fingerprint, result = earlier
            return result if fingerprint == request.fingerprint else KeyReused(key=request.key)
        try:
            if request.accord:
                request.accord.check(self._facts.connection, self._facts.pool, self._recorded_at)
        except DomainError as refusal:
            self._answers[request.slot] = (request.fingerprint, refusal)
            return refusal
        return None

    def _step_back(self, before: Book, count: int) -> None:
        self.book = before
        del self._appended[count:]
        self._references = {each: used for each, used in self._references.items() if used.number <= before.number}
        self._targets = {number: target for number, target in self._targets.items() if number <= before.number}

    def save(self, connection: Connection) -> None:
        """Write all that was decided."""
        facts = self._facts
        if self._appended:
            journal.append(connection, facts.pool, self._appended, self._targets)
            journal.save_book(connection, facts.pool, facts.book, self.book)
        kept = {slot: _kept(*said) for slot, said in self._answers.items()}
        answers.write_answers(connection, facts.pool, kept, self._recorded_at)

    def _earlier(self, slot: Slot) -> tuple[str, Recorded | DomainError] | None:
        if slot in self._answers:
            fingerprint, said = self._answers[slot]
            return fingerprint, said if isinstance(said, DomainError) else Recorded(said.entries, replayed=True)
        stored = self._facts.answers.get(slot)
        if stored is None:
            return None
        fingerprint, outcome = stored
        if "refusal" in outcome:
            return fingerprint, revive(outcome["refusal"], outcome["fields"], outcome.get("command"))
        return fingerprint, Recorded(tuple(self._facts.replayed[n] for n in outcome["entries"]), replayed=True)

    def _record(self, caller: Caller, command: Command) -> Entry:
        body = command.body
        target = None
        if isinstance(body, Reversal | Acknowledgement):
            target = self._find(body.entry)
        elif isinstance(body, Reopening):
            target = self._last_close()
        access.permit_recording(caller, body, target=target)
        if command.reference is not None and (used := self._references.get(command.reference)):
            return recorded_as(used, command)
        decided = Command(
            body=self._desk(body, target).decide(command),
            effective_on=command.effective_on,
            recorded_by=command.recorded_by,
            note=command.note,
            reference=command.reference,
        )
        entry = chained(self._facts.pool, self.book.number + 1, self.book.hash, decided, self._recorded_at)
        self.book.apply(entry, target)
        self._appended.append(entry)
        if command.reference is not None:
            self._references[command.reference] = entry
        return entry

    def _find(self, number: int) -> Entry | None:
        place = number - self._facts.book.number - 1
        if 0 <= place < len(self._appended):
            self._targets[number] = self._appended[place]
        return self._targets.get(number)

    def _last_close(self) -> Entry | None:
        """Give the close of the last closed month as it stands: later months may have been closed and reopened."""
        facts, closed = self._facts, str(self.book.closed_through)
        stored = journal.read_entries(facts.connection, facts.pool, EntryFilter(kinds=("close",)), newest_first=True)
        return next((each for each in chain(reversed(self._appended), stored) if _closes(each, closed)), None)

    def _standing_opening(self) -> int | None:
        appended = (each.number for each in self._appended if isinstance(each.body, Opening))
        known = (number for number in (self._facts.opening, *appended) if number is not None)
        return next((number for number in known if number not in self.book.undone), None)

    def _desk(self, body: Body, target: Entry | None) -> Desk:
        facts = self._facts
        return Desk(
            pool=facts.directory.pool,
            members=facts.directory.members,
            book=self.book,
            today=facts.today,
            targets=self._targets,
            history=self._history,
            opening=self._standing_opening() if isinstance(body, Opening) else None,
            last_close=target,
            moved_since=lambda month, number: (
                journal.moved_since(facts.connection, facts.pool, month, number)
                or any(e.number > number and e.effective_on <= month.last for e in self._appended)
            ),
        )

    def _history(self) -> Iterable[Entry]:
        if self._stored is None:
            wanted = EntryFilter(kinds=OF_STOCK)
            self._stored = list(journal.read_entries(self._facts.connection, self._facts.pool, wanted))
        return chain(self._stored, self._appended)


def _closes(entry: Entry, month: str) -> bool:
    return isinstance(entry.body, Close) and entry.body.month == month


def _numbers(answers: Iterable[Answer]) -> Iterable[int]:
    for kept in answers:
        yield from kept.outcome.get("entries", ())


def _kept(fingerprint: str, said: Recorded | DomainError) -> Answer:
    if isinstance(said, DomainError):
        return Answer(fingerprint, {"refusal": said.code, "fields": said.fields(), "command": said.command})
    return Answer(fingerprint, {"entries": [entry.number for entry in said.entries]})
