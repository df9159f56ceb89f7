"""Keeping what people did about reconciliations, once per idempotency key."""

from collections.abc import Sequence
from dataclasses import replace
from typing import NamedTuple

from pool_api.domain import access
from pool_api.domain.access import Caller
from pool_api.domain.acts import Act, ActKind
from pool_api.domain.entries import Json, digest
from pool_api.domain.errors import NotFound
from pool_api.domain.values import Month
from pool_api.services.office import Office
from pool_api.store import acts, answers, journal
from pool_api.store.answers import Answer, Slot
from pool_api.store.engine import reading, writing


class Asked(NamedTuple):
    """Under which key a caller asked for which operation, and what: equal fingerprints ask for the same."""

    slot: Slot
    fingerprint: str


def asked(caller: Caller, operation: str, key: str, said: Json) -> Asked:
    """Give where the answer to a request is kept."""
    return Asked(Slot(caller.key_id, operation, key), digest(said))


def made_before(office: Office, pool: str, request: Asked) -> list[Act] | None:
    """Give what a request made when it came before, None for a new one. Refuses: KeyReused."""
    with reading(office.engine, pool) as connection:
        outcome = answers.outcome_of(connection, pool, *request)
        return None if outcome is None else acts.read_numbered(connection, pool, outcome["acts"])


def new(caller: Caller, month: Month, kind: ActKind, subject: str, content: Json, word: str) -> Act:  # noqa: PLR0917
    """Make an act that has no number and no instant yet."""
    return Act(
        number=0,
        month=str(month),
        kind=kind,
        subject=subject,
        content=content,
        word=word,
        made_by=access.signature(caller),
        made_at="",
    )


def keep(office: Office, pool: str, made: Sequence[Act], request: Asked | None = None) -> list[Act]:
    """Keep acts, unless the same request was answered before, and give those that stand for it.

    Refuses: NotFound, KeyReused."""
    at = office.instant()
    with writing(office.engine, pool) as connection:
        if journal.lock_head(connection, pool) is None:
            raise NotFound(what="pool", name=pool)
        before = None if request is None else answers.outcome_of(connection, pool, *request)
        if before is not None:
            return acts.read_numbered(connection, pool, before["acts"])
        last = acts.last_number(connection, pool)
        kept = [replace(act, number=last + place, made_at=at) for place, act in enumerate(made, start=1)]
        acts.write_acts(connection, pool, kept)
        if request is not None:
            outcome = Answer(request.fingerprint, {"acts": [act.number for act in kept]})
            answers.write_answers(connection, pool, {request.slot: outcome}, at)
    return kept
