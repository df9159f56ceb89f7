"""What happened with access: writing it down beside what was done, reading it, and proving that all of it is there.

`note` is one call at the end of the transaction that does what the event tells of. What was refused has changed
nothing: it has a transaction of its own, and is bounded (refusals.py). Which kinds there are stands in the core.
"""

import logging
from concurrent.futures import Future
from dataclasses import dataclass, replace
from datetime import UTC, date, datetime, time, timedelta

from pool_api.domain import access
from pool_api.domain.access import Caller, Reach, Right
from pool_api.domain.access_log import PERSONAL, Actor, EventKind, actor_of, broken
from pool_api.domain.hashing import GENESIS
from pool_api.domain.values import instant_text
from pool_api.services.office import Office
from pool_api.services.refusals import Source
from pool_api.store import access_log
from pool_api.store.access_log import EventFilter, Happening
from pool_api.store.engine import Connection, reading, writing
from pool_api.store.errors import StoreDamaged

_log = logging.getLogger(__name__)


@dataclass(frozen=True, slots=True, kw_only=True)
class AccessReport:
    """What a verification found: how many events there are, the last hash, and what is wrong first, None for nothing;
    number is 0 for the chain as a whole."""

    events: int
    head: str
    number: int = 0
    problem: str | None = None


# --- writing down ----------------------------------------------------------------------------------------------------


def note(
    office: Office,
    connection: Connection,
    kind: EventKind,
    by: Caller | Actor,
    *,
    about: str | None = None,
    pool: str | None = None,
    **detail: str | int | None,
) -> None:
    """Write an event in the transaction that does what it tells of, as the last thing in it (store/access_log.py).

    The pool where it happened is told of it; of what happens to a person (PERSONAL), the pools that it is in then."""
    told_in = [pool] if pool else []
    if pool is None and kind in PERSONAL and about is not None:
        told_in = access_log.read_pools_of(connection, about)
    actor = actor_of(by) if isinstance(by, Caller) else by
    access_log.append(connection, office.instant, kind, actor, about=about, pool=pool, told_in=told_in, detail=detail)


def note_refusal(
    office: Office,
    kind: EventKind,
    by: Caller | Actor,
    *,
    about: str | None = None,
    pool: str | None = None,
    **detail: str | int | None,
) -> None:
    """Write that something was refused, unless there were too many of its kind already: then it is counted.

    It is written behind the answer: how long that takes must not tell whether somebody has the name that was tried. So
    it never refuses either; what can't be written down now is a line of the log."""
    note_left_out(office)
    actor = actor_of(by) if isinstance(by, Caller) else by
    known = about or actor.by_id
    source = Source(name=known or actor.peer or "unknown", is_known=known is not None, pool=pool)
    if office.refusals.admit(kind, source, office.now()):
        _write_behind(office, kind, actor, about=about, pool=pool, **detail)


def note_refused_write(office: Office, caller: Caller, *, code: str, method: str, path: str) -> None:
    """Write that a caller may not do what it asked for, as note_refusal does."""
    asked = {"code": code, "method": method, "path": path}
    note_refusal(office, EventKind.WRITE_REFUSED, caller, pool=caller.pool, **asked)


def note_left_out(office: Office, *, at_the_end: bool = False) -> None:
    """Write how many refusals were left out of a stretch of time that is over, or at the end of the process of the
    present one."""
    for each in office.refusals.due(None if at_the_end else office.now()):
        source = each.source
        about, peer = (source.name, None) if source and source.is_known else (None, source.name if source else None)
        said: dict[str, str | int | None] = {
            "of": each.kind,
            "count": each.count,
            "since": instant_text(each.since),
        }
        where = source.pool if source else None
        _write_behind(office, EventKind.LEFT_OUT, Actor(peer=peer), about=about, pool=where, **said)


def settle(office: Office) -> None:
    """Wait until what is written behind answers is written."""
    note_left_out(office)
    office.behind.submit(int).result()


def _write_behind(
    office: Office, kind: EventKind, actor: Actor, *, about: str | None, pool: str | None, **detail: str | int | None
) -> None:
    def write() -> None:
        with writing(office.engine, pool) as connection:
            note(office, connection, kind, actor, about=about, pool=pool, **detail)

    def tell(done: Future[None]) -> None:
        if error := done.exception():
            _log.error("what happened with access could not be written down: %s", kind, exc_info=error)

    office.behind.submit(write).add_done_callback(tell)


# --- reading ---------------------------------------------------------------------------------------------------------


@dataclass(frozen=True, slots=True, kw_only=True)
class Wanted:
    """Which events are wanted: of one kind, by or about one person or key, from one day to another."""

    kind: str | None = None
    who: str | None = None
    from_day: date | None = None
    to_day: date | None = None


def list_of_pool(
    office: Office, caller: Caller, pool: str, wanted: Wanted, *, before: str | None, limit: int
) -> list[Happening]:
    """Give what happened in a pool, and outside of pools with its people while they were in it, newest first; days are
    those of the pool.

    Takes:   before — the hash of the event to go on from.
    Refuses: NotFound, NotPermitted."""
    access.permit_into(caller, pool, Right.READ_ACCESS)
    office.check_pool(pool)
    settle(office)
    found = EventFilter(
        kind=wanted.kind,
        who=wanted.who,
        from_at=office.day_end(pool, wanted.from_day - timedelta(days=1)) if wanted.from_day else None,
        to_at=office.day_end(pool, wanted.to_day) if wanted.to_day else None,
    )
    with reading(office.engine, pool) as connection:
        return access_log.read_of_pool(connection, pool, found, before=before, limit=limit)


def list_own(office: Office, caller: Caller, wanted: Wanted, *, before: str | None, limit: int) -> list[Happening]:
    """Give an operator everything that happened, and everybody else what it did itself and what happened to it, newest
    first; days are those of UTC. From where somebody else did it is not told.

    Takes:   before — the hash of the event to go on from."""
    sees_all = access.reach(caller, Right.READ_OWN_ACCESS) is Reach.ALL
    if not sees_all and wanted.who not in {None, caller.key_id}:
        return []
    settle(office)
    found = EventFilter(
        kind=wanted.kind,
        who=wanted.who if sees_all else caller.key_id,
        from_at=_begin_of(wanted.from_day) if wanted.from_day else None,
        to_at=_begin_of(wanted.to_day + timedelta(days=1)) if wanted.to_day else None,
    )
    with reading(office.engine, None) as connection:
        rows = access_log.read_all(connection, found, before=before, limit=limit)
    return rows if sees_all else [_as_seen_by(caller, each) for each in rows]


def _begin_of(day: date) -> str:
    return instant_text(datetime.combine(day, time(), UTC))


def _as_seen_by(caller: Caller, found: Happening) -> Happening:
    if found.actor.by_id in {None, caller.key_id}:
        return found
    return replace(found, actor=replace(found.actor, peer=None, session=None))


# --- verifying -------------------------------------------------------------------------------------------------------


def verify_access(office: Office) -> AccessReport:
    """Recompute the chain of events from the first, for whoever has the database at hand; stops at what is wrong."""
    settle(office)
    with reading(office.engine, None) as connection:
        count, head = access_log.read_head(connection)
        number, last_hash = 0, GENESIS
        try:
            for event in access_log.read_chain(connection):
                if problem := broken(event, number, last_hash):
                    return AccessReport(events=count, head=head, number=event.number, problem=problem)
                number, last_hash = event.number, event.hash
        except StoreDamaged as damage:
            problem = "what is stored can't be read as an event"
            return AccessReport(events=count, head=head, number=damage.number, problem=problem)
    if (count, head) != (number, last_hash):
        problem = f"the last of {count} events should have the hash {head}, but {number} are there, up to {last_hash}"
        return AccessReport(events=count, head=head, problem=problem)
    return AccessReport(events=count, head=head)
