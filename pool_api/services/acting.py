"""Keeping what people did about reconciliations, once per idempotency key."""

from collections.abc import Sequence
from dataclasses import replace

from pool_api.domain import access
from pool_api.domain.access import Caller
from pool_api.domain.acts import Act, ActKind
from pool_api.domain.entries import Json
from pool_api.domain.values import Month
from pool_api.services import once
from pool_api.services.office import Office
from pool_api.store import acts, answers
from pool_api.store.engine import Connection, reading


def made_before(office: Office, pool: str, request: once.Asked) -> list[Act] | None:
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


def keep(office: Office, pool: str, made: Sequence[Act], request: once.Asked | None = None) -> list[Act]:
    """Keep acts, unless the same request was answered before, and give those that stand for it.

    Refuses: NotFound, KeyReused."""

    def again(connection: Connection, before: Json) -> list[Act]:
        return acts.read_numbered(connection, pool, before["acts"])

    def write(connection: Connection, at: str) -> tuple[list[Act], Json]:
        last = acts.last_number(connection, pool)
        kept = [replace(act, number=last + place, made_at=at) for place, act in enumerate(made, start=1)]
        acts.write_acts(connection, pool, kept)
        return kept, {"acts": [act.number for act in kept]}

    return once.do(office, pool, request, again, write)
