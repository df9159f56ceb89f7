"""What members arrange, in the database: steps, which are only ever added, by whoever holds the pool's head row locked.

A step that stands or falls with entries of the journal is an Accord: the writer writes both in one transaction.
"""

import json
from collections.abc import Callable, Collection, Sequence
from dataclasses import dataclass, replace
from itertools import groupby
from typing import Any

from sqlalchemy import Connection, Row, func, insert, select

from pool_api.domain.arrangements import Matter, Step, StepKind
from pool_api.domain.entries import Entry, Json, canonical
from pool_api.store.arrangement_tables import arrangement_step

_step = arrangement_step.c


def read_steps(connection: Connection, pool: str, matter: Matter, name: str) -> list[Step]:
    """Give the steps of an arrangement, in order; none when there is no such one."""
    return read_all(connection, pool, matter, [name]).get(name, [])


def read_all(connection: Connection, pool: str, matter: Matter, names: Collection[str]) -> dict[str, list[Step]]:
    """Give the steps of those arrangements that exist among some, in order."""
    query = select(arrangement_step).where(
        _step.pool_id == pool, _step.matter == matter.value, _step.arrangement_id.in_(sorted(names))
    )
    rows = connection.execute(query.order_by(_step.arrangement_id, _step.number))
    return {name: [_read(row) for row in of] for name, of in groupby(rows, key=lambda row: str(row.arrangement_id))}


def read_names(
    connection: Connection, pool: str, matter: Matter, *, before: str | None, limit: int, until_after: str | None = None
) -> list[str]:
    """Give names of arrangements, newest first, those below a name only.

    Takes:   until_after — narrows them to those of one step that holds beyond this instant."""
    query = select(_step.arrangement_id).where(_step.pool_id == pool, _step.matter == matter.value, _step.number == 1)
    if before is not None:
        query = query.where(_step.arrangement_id < before)
    if until_after is not None:
        more = arrangement_step.alias()
        second = (more.c.pool_id == pool, more.c.matter == matter.value, more.c.number == 2)
        gone = select(more.c.number).where(*second, more.c.arrangement_id == _step.arrangement_id)
        query = query.where(_step.until > until_after, ~gone.exists())
    return list(connection.scalars(query.order_by(_step.arrangement_id.desc()).limit(limit)))


def next_name(connection: Connection, pool: str, matter: Matter) -> str:
    """Give the name of an arrangement that is about to be made; names rise with time."""
    query = select(func.max(_step.arrangement_id)).where(_step.pool_id == pool, _step.matter == matter.value)
    return f"{int(connection.execute(query).scalar_one() or 0) + 1:08d}"


def write_step(connection: Connection, pool: str, matter: Matter, name: str, step: Step) -> None:
    """Write a step. StoreConflict where its number is taken."""
    connection.execute(
        insert(arrangement_step).values(
            pool_id=pool,
            matter=matter.value,
            arrangement_id=name,
            number=step.number,
            kind=step.kind.value,
            member=step.member,
            until=step.until,
            content=canonical(step.content).decode(),
            made_by=step.made_by,
            made_at=step.made_at,
        )
    )


def _read(row: Row[Any]) -> Step:
    return Step(
        number=row.number,
        kind=StepKind(row.kind),
        member=row.member,
        until=row.until,
        content=json.loads(row.content),
        made_by=row.made_by,
        made_at=row.made_at,
    )


@dataclass(frozen=True, slots=True, kw_only=True)
class Accord:
    """A step that is taken together with the entries that a request records, or not at all.

    permit raises the refusal that stands against it, by the steps so far and the present instant; said gives what the
    step says of the entries."""

    matter: Matter
    name: str
    step: Step
    permit: Callable[[Sequence[Step], str], None]
    said: Callable[[Sequence[Entry]], Json]

    def check(self, connection: Connection, pool: str, at: str) -> None:
        """Do nothing if the step may be taken now. Refuses: as permit does."""
        self.permit(read_steps(connection, pool, self.matter, self.name), at)

    def keep(self, connection: Connection, pool: str, at: str, entries: Sequence[Entry]) -> None:
        """Write the step with what it says of the entries. StoreConflict where its number is taken."""
        last = read_steps(connection, pool, self.matter, self.name)[-1].number
        content = {**self.step.content, **self.said(entries)}
        written = replace(self.step, number=last + 1, made_at=at, content=content)
        write_step(connection, pool, self.matter, self.name, written)
