"""What the writer would make of a request now: decided by the very same code, on one state of the database, and written
nowhere.

Nothing is locked, so what is told can have changed by the time that the same is recorded.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime

from pool_api.domain.access import Caller
from pool_api.domain.book import Book
from pool_api.domain.entries import Command, Entry
from pool_api.domain.errors import DomainError, NotFound
from pool_api.domain.values import instant_text
from pool_api.store.engine import Engine, reading
from pool_api.store.writer import Deciding, Request, gather


@dataclass(frozen=True, slots=True, kw_only=True)
class Rehearsed:
    """What commands would become, all of them: their entries, and the book before and after. An entry whose number
    isn't above that of the book before is recorded already, under the reference that its command has."""

    entries: tuple[Entry, ...]
    before: Book
    after: Book


def rehearse(engine: Engine, caller: Caller, pool: str, commands: Sequence[Command], now: datetime) -> Rehearsed:
    """Decide commands as if they were one request under a new key. Refuses: as the writer would."""
    asked = Request(pool=pool, caller=caller, operation="", key="", fingerprint="", commands=tuple(commands))
    with reading(engine, pool) as connection:
        facts = gather(connection, pool, None, [asked], now)
        if facts is None:
            raise NotFound(what="pool", name=pool)
        deciding = Deciding(facts, instant_text(now))
        found = deciding.answer(asked)
    if isinstance(found, DomainError):
        raise found
    return Rehearsed(entries=found.entries, before=facts.book, after=deciding.book)
