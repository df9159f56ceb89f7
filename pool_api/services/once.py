"""Doing something once per idempotency key: what it made is named beside it, in one transaction, and given again.

This file knows how, for all that the writer doesn't record; what is done, and what an answer names, its callers know.
"""

from collections.abc import Callable
from typing import NamedTuple, TypeVar

from pool_api.domain.access import Caller
from pool_api.domain.entries import Json, digest
from pool_api.domain.errors import NotFound
from pool_api.services.office import Office
from pool_api.store import answers, journal
from pool_api.store.answers import Answer, Slot
from pool_api.store.engine import Connection, writing

Made = TypeVar("Made")


class Asked(NamedTuple):
    """Under which key a caller asked for which operation, and what: equal fingerprints ask for the same."""

    slot: Slot
    fingerprint: str


def asked(caller: Caller, operation: str, key: str, said: Json) -> Asked:
    """Give where the answer to a request is kept."""
    return Asked(Slot(caller.key_id, operation, key), digest(said))


def do(
    office: Office,
    pool: str,
    request: Asked | None,
    again: Callable[[Connection, Json], Made],
    make: Callable[[Connection, str], tuple[Made, Json]],
) -> Made:
    """Do something with the pool's head row locked, unless the same request did it before; always, without a request.

    Takes:   make — does it at an instant, and gives what it made with the names by which it is found again; again —
             gives what was made by those names.
    Refuses: NotFound, KeyReused; as make does, with nothing kept."""
    with writing(office.engine, pool) as connection:
        if journal.lock_head(connection, pool) is None:
            raise NotFound(what="pool", name=pool)
        before = None if request is None else answers.outcome_of(connection, pool, *request)
        if before is not None:
            return again(connection, before)
        at = office.instant()
        made, names = make(connection, at)
        if request is not None:
            answers.write_answers(connection, pool, {request.slot: Answer(request.fingerprint, names)}, at)
    return made
