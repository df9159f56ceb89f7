"""Requests for credits: asked by a member, seen by those who hold enough, taken up by one of them as a loan.

The step that takes a request up is written in the transaction that records the loan: of two who take it up at once,
one lends.
"""

import asyncio
from collections.abc import Sequence
from dataclasses import dataclass

from pool_api.domain import access
from pool_api.domain.access import Caller, Right
from pool_api.domain.arrangements import Matter, Step, StepKind, later
from pool_api.domain.entries import Command, digest
from pool_api.domain.errors import NotFound
from pool_api.domain.journal import check_member
from pool_api.domain.requests import CreditRequest, RequestState, request_of
from pool_api.services import arranging, once, recording
from pool_api.services.arranging import NAMES, Taken
from pool_api.services.office import Office
from pool_api.store import arrangements, journal
from pool_api.store.answers import Slot
from pool_api.store.arrangements import Accord
from pool_api.store.engine import Connection, reading
from pool_api.store.writer import Recorded

_REQUEST = Matter.REQUEST
_AT_ONCE = 200
"""Requests that are read at one time."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Seen:
    """A request as it is seen at an instant; replayed where an earlier call had come to this."""

    request: CreditRequest
    state: RequestState
    replayed: bool = False


def ask(
    office: Office, caller: Caller, pool: str, member: str, quantity: int, *, needed_by: str, note: str, key: str
) -> Taken:
    """Ask for credits that a member needs by an instant.

    Refuses: NotFound, NotPermitted, KeyReused, UnknownMember, MemberLeft, MemberNotYetJoined, TooSoon."""
    access.permit_into(caller, pool, Right.ASK_FOR_CREDITS, member=member)
    said = {"member": member, "quantity": quantity, "needed_by": needed_by, "note": note}
    check_member(office.directory(pool).members, member, office.pool_today(pool))

    def make(_: Sequence[Step], at: str) -> Step:
        content = {"quantity": quantity, "note": note}
        return arranging.step(caller, StepKind.ASKED, content, member=member, until=later(needed_by, at))

    return arranging.take(office, pool, _REQUEST, None, make, once.asked(caller, "ask for credits", key, said))


def withdraw(office: Office, caller: Caller, pool: str, name: str, *, reason: str, key: str) -> Seen:
    """Withdraw a request of one's own member. Refuses: NotFound, NotPermitted, KeyReused, RequestOver."""
    access.permit_into(caller, pool, Right.ASK_FOR_CREDITS)
    found = _read(office, pool, name)
    access.permit(caller, Right.ASK_FOR_CREDITS, member=found.member)

    def make(steps: Sequence[Step], at: str) -> Step:
        request_of(name, steps).permit_end(at)
        return arranging.step(caller, StepKind.WITHDRAWN, {"reason": reason})

    request = once.asked(caller, f"withdraw credit request {name}", key, {"reason": reason})
    taken = arranging.take(office, pool, _REQUEST, name, make, request)
    ended = request_of(name, [found.asked, taken.step])
    return Seen(request=ended, state=RequestState.WITHDRAWN, replayed=taken.replayed)


async def take_up(
    office: Office, caller: Caller, pool: str, name: str, lender: str, *, note: str | None, key: str
) -> Recorded:
    """Record the loan that a request asks for, with the lender's own member as the one who lends.

    Refuses: NotFound, NotPermitted, RequestOver; as the writer says."""
    access.permit_into(caller, pool, Right.TAKE_UP_REQUESTS, member=lender)
    found = await asyncio.to_thread(_read, office, pool, name)
    slot = Slot(caller.key_id, f"take up credit request {name}", key)
    words = f"Credit request {name}" + (f": {note}" if note else "")
    command: Command = recording.command(caller, found.loan_of(lender), office.pool_today(pool), note=words)
    accord = Accord(
        matter=_REQUEST,
        name=name,
        step=arranging.step(caller, StepKind.TAKEN_UP, {}, member=lender),
        permit=lambda steps, at: request_of(name, steps).permit_end(at),
        said=lambda entries: {"entry": entries[0].number},
    )
    return await recording.record(
        office,
        caller,
        pool,
        [command],
        operation=slot.operation,
        key=slot.key,
        fingerprint=digest([lender, note]),
        accord=accord,
    )


def read_request(office: Office, caller: Caller, pool: str, name: str) -> Seen:
    """Give a request; to a clerk as list_requests does. Refuses: NotFound, NotPermitted."""
    access.permit_into(caller, pool, Right.READ_REQUESTS)
    found, own, at = _read(office, pool, name), access.own_side(caller, Right.READ_REQUESTS), office.instant()
    if own is not None:
        with reading(office.engine, pool) as connection:
            held = _held(connection, pool, own)
        if not found.concerns(own, held, at):
            raise NotFound(what=NAMES[_REQUEST], name=name)
    return Seen(request=found, state=found.state(at))


def list_requests(
    office: Office, caller: Caller, pool: str, *, ended: bool, before: str | None, limit: int
) -> list[Seen]:
    """Give requests, newest first: those that are open, or (ended) all; a clerk gets its member's own, those that it
    took up, and open ones that it holds enough credits for.

    Refuses: NotFound, NotPermitted."""
    access.permit_into(caller, pool, Right.READ_REQUESTS)
    own, at, found = access.own_side(caller, Right.READ_REQUESTS), office.instant(), list[CreditRequest]()
    with reading(office.engine, pool) as connection:
        held = 0 if own is None else _held(connection, pool, own)
        while len(found) < limit:
            names = arrangements.read_names(
                connection, pool, _REQUEST, before=before, limit=_AT_ONCE, until_after=None if ended else at
            )
            steps = arrangements.read_all(connection, pool, _REQUEST, names)
            read = [request_of(name, steps[name]) for name in names]
            found += [each for each in read if own is None or each.concerns(own, held, at)]
            if len(names) < _AT_ONCE:
                break
            before = names[-1]
    return [Seen(request=each, state=each.state(at)) for each in found[:limit]]


def _read(office: Office, pool: str, name: str) -> CreditRequest:
    with reading(office.engine, pool) as connection:
        steps = arrangements.read_steps(connection, pool, _REQUEST, name)
    if not steps:
        raise NotFound(what=NAMES[_REQUEST], name=name)
    return request_of(name, steps)


def _held(connection: Connection, pool: str, member: str) -> int:
    book = journal.read_book(connection, pool)
    if book is None:
        raise NotFound(what="pool", name=pool)
    return book.held.get(member, 0)
