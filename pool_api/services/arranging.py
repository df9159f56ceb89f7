"""Taking a step in what members arrange, once per idempotency key where there is one."""

from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace

from pool_api.domain import access
from pool_api.domain.access import Caller
from pool_api.domain.arrangements import Matter, Step, StepKind
from pool_api.domain.entries import Json
from pool_api.domain.errors import NotFound
from pool_api.services import once
from pool_api.services.office import Office
from pool_api.store import arrangements
from pool_api.store.engine import Connection

Make = Callable[[Sequence[Step], str], Step]
"""Gives the step to be taken by the steps so far and the present instant, or raises what stands against it."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Taken:
    """The step that was taken, in which arrangement; replayed where an earlier request had taken it."""

    name: str
    step: Step
    replayed: bool = False


def step(caller: Caller, kind: StepKind, content: Json, *, member: str | None = None, until: str | None = None) -> Step:
    """Make a step that isn't kept yet."""
    return Step(kind=kind, member=member, until=until, content=content, made_by=access.signature(caller))


def take(  # noqa: PLR0917 - what is asked, and of which arrangement
    office: Office, pool: str, matter: Matter, name: str | None, make: Make, request: once.Asked | None = None
) -> Taken:
    """Take a step in an arrangement, the first one in a new one where it has no name yet.

    Refuses: NotFound, KeyReused; as make does."""

    def again(connection: Connection, before: Json) -> Taken:
        steps = arrangements.read_steps(connection, pool, matter, before["name"])
        return Taken(name=before["name"], step=steps[before["number"] - 1], replayed=True)

    def write(connection: Connection, at: str) -> tuple[Taken, Json]:
        steps = arrangements.read_steps(connection, pool, matter, name) if name else []
        if name and not steps:
            raise NotFound(what=NAMES[matter], name=name)
        of = name or arrangements.next_name(connection, pool, matter)
        taken = replace(make(steps, at), number=len(steps) + 1, made_at=at)
        arrangements.write_step(connection, pool, matter, of, taken)
        return Taken(name=of, step=taken), {"name": of, "number": taken.number}

    return once.do(office, pool, request, again, write)


NAMES = {Matter.ROUND: "order round", Matter.REQUEST: "credit request"}
"""What a matter is called in refusals."""
