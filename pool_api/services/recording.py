"""Recording: handing commands to the writer, one or many, and waiting for what it says."""

import asyncio
from collections.abc import Sequence
from datetime import date

from pool_api.domain import access
from pool_api.domain.access import Caller
from pool_api.domain.entries import Body, Command
from pool_api.domain.errors import NotFound
from pool_api.domain.values import Currency
from pool_api.services.office import Office
from pool_api.store import answers, rehearsal
from pool_api.store.answers import Slot
from pool_api.store.arrangements import Accord
from pool_api.store.engine import reading
from pool_api.store.rehearsal import Rehearsed
from pool_api.store.writer import Recorded, Request


def fixed_terms(office: Office, caller: Caller, pool: str) -> tuple[Currency, date]:
    """Give a pool's currency and its present day to a caller who may know of it. Refuses: NotFound."""
    if not access.sees_pool(caller, pool):
        raise NotFound(what="pool", name=pool)
    return office.currency(pool), office.pool_today(pool)


def command(caller: Caller, body: Body, effective_on: date, *, note: str = "", reference: str | None = None) -> Command:
    """Make the command by which a caller asks to have a body recorded."""
    return Command(
        body=body,
        effective_on=effective_on,
        recorded_by=access.signature(caller),
        note=note,
        reference=reference,
    )


def is_answered(office: Office, pool: str, slot: Slot) -> bool:
    """Tell whether a request was answered before."""
    with reading(office.engine, pool) as connection:
        return slot in answers.read_answers(connection, pool, [slot])


def rehearse(office: Office, caller: Caller, pool: str, commands: Sequence[Command]) -> Rehearsed:
    """Tell what would become of commands if they were recorded now; records nothing. Refuses: as `record` would."""
    return rehearsal.rehearse(office.engine, caller, pool, commands, office.now())


async def record(
    office: Office,
    caller: Caller,
    pool: str,
    commands: Sequence[Command],
    *,
    operation: str,
    key: str,
    fingerprint: str,
    accord: Accord | None = None,
) -> Recorded:
    """Have commands recorded, all or nothing, once per caller, operation and key; holds no thread while it waits.

    Takes:   fingerprint — equal exactly for requests that ask for the same; accord — what changes with them.
    Refuses: as the writer says."""
    request = Request(
        pool=pool,
        caller=caller,
        operation=operation,
        key=key,
        fingerprint=fingerprint,
        commands=tuple(commands),
        accord=accord,
    )
    return await asyncio.wrap_future(office.writer.record(request))
