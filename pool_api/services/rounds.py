"""Rounds: opened with a deadline, committed to by members, and closed into one purchase and its draws, or called off.

What a round comes to is computed whenever it is looked at; only steps are kept. The step that closes it is written in
the transaction that records its entries.
"""

import asyncio
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, datetime
from zoneinfo import ZoneInfo

from pool_api.domain import access
from pool_api.domain.access import Caller, Right
from pool_api.domain.arrangements import Matter, Step, StepKind, later
from pool_api.domain.entries import Command, Purchase, digest
from pool_api.domain.errors import (
    DomainError,
    NoLadder,
    NotFound,
    OrderUnpriced,
    RoundOver,
)
from pool_api.domain.journal import check_member
from pool_api.domain.ladder import Ladder, valid_on
from pool_api.domain.rounds import Effect, Round, RoundState, bought, effect, round_of
from pool_api.domain.values import STOCK, half_up
from pool_api.services import arranging, once, recording
from pool_api.services.arranging import NAMES, Taken
from pool_api.services.office import Office
from pool_api.services.versions import agree
from pool_api.store import arrangements, journal, plans
from pool_api.store.answers import Slot
from pool_api.store.arrangements import Accord
from pool_api.store.engine import reading
from pool_api.store.writer import Recorded

_ROUND = Matter.ROUND


@dataclass(frozen=True, slots=True, kw_only=True)
class RoundView:
    """A round as it is seen at an instant. While it isn't over: who hasn't answered of those who are in the pool today,
    and its effect by the ladder of the day of its order, the deadline's or today, None where none counts."""

    round: Round
    state: RoundState
    unanswered: Sequence[str]
    effect: Effect | None


def open_round(office: Office, caller: Caller, pool: str, *, deadline: str, note: str, key: str) -> Taken:
    """Open a round that takes commitments until a deadline. Refuses: NotFound, NotPermitted, KeyReused, TooSoon."""
    access.permit_into(caller, pool, Right.RUN_ROUNDS)
    request = once.asked(caller, "open order round", key, {"deadline": deadline, "note": note})

    def make(_: Sequence[Step], at: str) -> Step:
        return arranging.step(caller, StepKind.OPENED, {"note": note}, until=later(deadline, at))

    return arranging.take(office, pool, _ROUND, None, make, request)


def extend(office: Office, caller: Caller, pool: str, name: str, *, deadline: str, reason: str, key: str) -> Taken:
    """Move a round's deadline to a later instant, also when it has passed.

    Refuses: NotFound, NotPermitted, KeyReused, RoundOver, TooSoon."""
    access.permit_into(caller, pool, Right.RUN_ROUNDS)
    request = once.asked(caller, f"extend order round {name}", key, {"deadline": deadline, "reason": reason})

    def make(steps: Sequence[Step], at: str) -> Step:
        found = round_of(name, steps)
        found.permit_change()
        until = later(deadline, max(at, found.deadline))
        return arranging.step(caller, StepKind.EXTENDED, {"reason": reason}, until=until)

    return arranging.take(office, pool, _ROUND, name, make, request)


def call_off(office: Office, caller: Caller, pool: str, name: str, *, reason: str, key: str) -> Taken:
    """End a round without a purchase. Refuses: NotFound, NotPermitted, KeyReused, RoundOver."""
    access.permit_into(caller, pool, Right.RUN_ROUNDS)
    request = once.asked(caller, f"call off order round {name}", key, {"reason": reason})

    def make(steps: Sequence[Step], _: str) -> Step:
        round_of(name, steps).permit_change()
        return arranging.step(caller, StepKind.CALLED_OFF, {"reason": reason})

    return arranging.take(office, pool, _ROUND, name, make, request)


# --- commitments -----------------------------------------------------------------------------------------------------


def put_commitment(  # noqa: PLR0917 - whose, of what, and what it replaces
    office: Office, caller: Caller, pool: str, name: str, member: str, quantity: int, version: int | None
) -> Step:
    """Commit a member to a quantity, 0 included, for the first time (version None) or otherwise than before; the number
    of the step is its version. To 0 one is committed that has left, so that its draw doesn't stand in the way.

    Refuses: NotFound, NotPermitted, UnknownMember, MemberLeft, MemberNotYetJoined, RoundOver, AlreadyThere,
             VersionStale."""
    access.permit_into(caller, pool, Right.COMMIT, member=member)
    check_member(office.directory(pool).members, member, office.pool_today(pool), may_have_left=quantity == 0)

    def make(steps: Sequence[Step], at: str) -> Step:
        found = round_of(name, steps)
        there = found.commitments.get(member)
        found.permit_commitment(at)
        agree("commitment of", member, there.number if there else None, version)
        return arranging.step(caller, StepKind.COMMITTED, {"quantity": quantity}, member=member)

    return arranging.take(office, pool, _ROUND, name, make).step


def read_commitment(office: Office, caller: Caller, pool: str, name: str, member: str) -> Step:
    """Give what a member has committed to. Refuses: NotFound, NotPermitted."""
    access.permit_into(caller, pool, Right.READ_ROUNDS)
    found = round_of(name, _steps(office, pool, name)).commitments.get(member)
    if found is None:
        raise NotFound(what="commitment of", name=member)
    return found


# --- reading ---------------------------------------------------------------------------------------------------------


def read_round(office: Office, caller: Caller, pool: str, name: str) -> RoundView:
    """Give a round as it is seen now. Refuses: NotFound, NotPermitted."""
    access.permit_into(caller, pool, Right.READ_ROUNDS)
    found, at = round_of(name, _steps(office, pool, name)), office.instant()
    if found.end is not None:
        return RoundView(round=found, state=found.state(at), unanswered=(), effect=None)
    terms = office.directory(pool)
    ladder = _ladder(office, pool, max(office.pool_today(pool), _day(found.deadline, terms.pool.time_zone)))
    return RoundView(
        round=found,
        state=found.state(at),
        unanswered=found.unanswered(_present(office, pool)),
        effect=effect(ladder, found.quantities) if ladder else None,
    )


def list_rounds(
    office: Office, caller: Caller, pool: str, *, before: str | None, limit: int
) -> list[tuple[Round, RoundState]]:
    """Give rounds, newest first. Refuses: NotFound, NotPermitted."""
    access.permit_into(caller, pool, Right.READ_ROUNDS)
    at = office.instant()
    with reading(office.engine, pool) as connection:
        names = arrangements.read_names(connection, pool, _ROUND, before=before, limit=limit)
        steps = arrangements.read_all(connection, pool, _ROUND, names)
    found = [round_of(name, steps[name]) for name in names]
    return [(each, each.state(at)) for each in found]


def _steps(office: Office, pool: str, name: str) -> list[Step]:
    with reading(office.engine, pool) as connection:
        steps = arrangements.read_steps(connection, pool, _ROUND, name)
    if not steps:
        raise NotFound(what=NAMES[_ROUND], name=name)
    return steps


def _present(office: Office, pool: str) -> list[str]:
    today, members = office.pool_today(pool), office.directory(pool).members
    return [each.code for each in members.values() if each.is_in(today)]


def _ladder(office: Office, pool: str, day: date) -> Ladder | None:
    with reading(office.engine, pool) as connection:
        return valid_on(plans.read_lawful(connection, pool, office.currency(pool)), day)


def _day(at: str, time_zone: str) -> date:
    return datetime.fromisoformat(at).astimezone(ZoneInfo(time_zone)).date()


# --- closing ---------------------------------------------------------------------------------------------------------


@dataclass(frozen=True, slots=True, kw_only=True)
class Closing:
    """What was ordered for a round, as a keeper tells it. seen is the version of the round that it saw. quantity None
    is what is committed, amount None what the ladder says, effective_on None today. accept_unanswered is the word that
    it was seen who hasn't answered."""

    seen: int
    paid_by: str
    quantity: int | None
    amount: int | None
    order_number: str | None
    effective_on: date | None
    note: str | None
    accept_unanswered: bool

    @property
    def told(self) -> str:
        """Equal exactly for closings that tell of the same order."""
        day = self.effective_on and self.effective_on.isoformat()
        return digest([self.paid_by, self.quantity, self.amount, self.order_number, day, self.note])

    @property
    def fingerprint(self) -> str:
        """Equal exactly for requests that ask for the same."""
        return digest([self.told, self.seen, self.accept_unanswered])


async def close(office: Office, caller: Caller, pool: str, name: str, closing: Closing, *, key: str) -> Recorded:
    """Record a round's purchase and its draws, once: closed again alike, the entries are given that were recorded.

    Refuses: NotFound, NotPermitted, RoundOver, VersionStale, RoundEmpty, RoundUnanswered, NoLadder, OrderUnpriced; as
             the writer says."""
    access.permit_into(caller, pool, Right.RUN_ROUNDS)
    slot = Slot(caller.key_id, f"close order round {name}", key)
    commands: list[Command] = []
    accord = None
    try:
        if not await asyncio.to_thread(recording.is_answered, office, pool, slot):
            commands, accord = await asyncio.to_thread(_prepared, office, caller, pool, name, closing)
        return await recording.record(
            office,
            caller,
            pool,
            commands,
            operation=slot.operation,
            key=key,
            fingerprint=closing.fingerprint,
            accord=accord,
        )
    except RoundOver:
        if earlier := await asyncio.to_thread(_closed_alike, office, pool, name, closing):
            return earlier
        raise
    except DomainError as refusal:
        refusal.command = None
        raise


def _prepared(office: Office, caller: Caller, pool: str, name: str, closing: Closing) -> tuple[list[Command], Accord]:
    """Give what closing a round records, and the step that stands or falls with it."""
    steps, members = _steps(office, pool, name), _present(office, pool)

    def permit(now: Sequence[Step], at: str) -> None:
        open_ = round_of(name, now)
        open_.permit_close(at, closing.seen, members, accept_unanswered=closing.accept_unanswered)

    permit(steps, office.instant())
    wanted, day = round_of(name, steps), closing.effective_on or office.pool_today(pool)
    quantity = closing.quantity or wanted.total
    listed = _listed(office, pool, day, quantity, needed=closing.amount is None)
    amount = closing.amount if closing.amount is not None else listed or 0
    said = {
        "told": closing.told,
        "paid_by": closing.paid_by,
        "quantity": quantity,
        "amount": amount,
        "listed": listed,
        "order_number": closing.order_number,
    }
    note = f"Order round {name}" + (f": {closing.note}" if closing.note else "")
    bodies = bought(
        wanted.quantities,
        Purchase(
            into=STOCK, paid_by=closing.paid_by, quantity=quantity, amount=amount, order_number=closing.order_number
        ),
    )
    accord = Accord(
        matter=_ROUND,
        name=name,
        step=arranging.step(caller, StepKind.CLOSED, said),
        permit=permit,
        said=lambda entries: {"entries": [entry.number for entry in entries]},
    )
    return [recording.command(caller, body, day, note=note) for body in bodies], accord


def _listed(office: Office, pool: str, day: date, quantity: int, *, needed: bool) -> int | None:
    """Give what one order costs by the ladder of its day, in minor units. Refuses: NoLadder, OrderUnpriced when that is
    needed and isn't known."""
    ladder = _ladder(office, pool, day)
    order = ladder and ladder.order(quantity)
    if needed and ladder is None:
        raise NoLadder(day=day.isoformat())
    if needed and order is None:
        raise OrderUnpriced(quantity=quantity, day=day.isoformat())
    return half_up(order.cost) if order else None


def _closed_alike(office: Office, pool: str, name: str, closing: Closing) -> Recorded | None:
    """Give the entries of a round that was closed with the same order, None for one that wasn't."""
    end = round_of(name, _steps(office, pool, name)).end
    if end is None or end.content.get("told") != closing.told:
        return None
    with reading(office.engine, pool) as connection:
        entries = journal.read_numbered(connection, pool, end.content["entries"])
    return Recorded(tuple(entries[number] for number in end.content["entries"]), replayed=True)
