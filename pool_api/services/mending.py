"""Deciding on differences between journal and vendor record: recording what would mend one, or dismissing it.

Accepting writes entries through the writer like anybody's request, under references made from the difference's key, so
that doing it twice records once; a refused try can be made again. A decision stands for good.
"""

import asyncio
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, fields, replace
from datetime import date
from decimal import Decimal, InvalidOperation

from pool_api.domain import access
from pool_api.domain.access import Caller, Right
from pool_api.domain.entries import (
    Body,
    Command,
    Direction,
    Draw,
    Entry,
    Loan,
    Outside,
    Purchase,
    Return,
    Reversal,
    Use,
    digest,
    parties,
)
from pool_api.domain.errors import (
    AlreadyDecided,
    DomainError,
    MendIncomplete,
    NotFound,
    NotMendable,
)
from pool_api.domain.matching import Difference, Mend, MendKind
from pool_api.domain.values import STOCK, Month
from pool_api.services import recording
from pool_api.services.office import Office
from pool_api.services.reconciling import Reconciliation, compared
from pool_api.store import answers, journal, vendor
from pool_api.store.answers import Answer, Slot
from pool_api.store.engine import reading, writing
from pool_api.store.vendor import Decision

OPERATION = "mend"


@dataclass(frozen=True, slots=True, kw_only=True)
class Verdict:
    """What a keeper says of a difference. fields fills in what a mend asks for, or overrides what it offers: paid_by,
    amount (decimal text), item, job, price, effective_on (an ISO day)."""

    difference: str
    accepted: bool
    reason: str
    fields: Mapping[str, str]
    key: str

    @property
    def fingerprint(self) -> str:
        """Equal exactly for requests that ask for the same."""
        return digest([self.difference, self.accepted, self.reason, dict(self.fields)])


async def decide(office: Office, caller: Caller, pool: str, month: Month, verdict: Verdict) -> Decision:
    """Accept a difference's mend or dismiss the difference, for good.

    Refuses: NotFound, NotPermitted, AlreadyDecided, NotMendable, MendIncomplete; as the writer says."""
    access.permit_into(caller, pool, Right.RECONCILE)
    slot = Slot(caller.key_id, f"decide {month}", verdict.key)
    await asyncio.to_thread(_check_key, office, pool, slot, verdict)
    found = await asyncio.to_thread(compared, office, pool, month)
    earlier = found.decisions.get(verdict.difference)
    wanted = "accepted" if verdict.accepted else "dismissed"
    if earlier is not None:
        if earlier.verdict != wanted:
            raise AlreadyDecided(difference=verdict.difference, verdict=earlier.verdict)
        return earlier
    recorded: tuple[int, ...] = ()
    difference = next((each for each in found.differences if each.key == verdict.difference), None)
    withdrawn = difference.withdraws if difference and verdict.accepted else ()
    if verdict.accepted and not withdrawn:
        recorded = await _mended(office, caller, pool, found, difference, verdict)
    elif difference is None:
        raise NotFound(what="difference", name=verdict.difference)
    made = Decision(
        difference=verdict.difference,
        verdict=wanted,
        reason=verdict.reason,
        decided_by=access.signature(caller),
        decided_at=office.instant(),
        entries=recorded,
        withdrawn=withdrawn,
    )
    return await asyncio.to_thread(_keep, office, pool, slot, verdict, made)


def _keep(office: Office, pool: str, slot: Slot, verdict: Verdict, made: Decision) -> Decision:
    """Keep a decision, unless the difference was decided meanwhile, and give the one that stands."""
    with writing(office.engine, pool) as connection:
        journal.lock_head(connection, pool)
        there = vendor.read_decisions(connection, pool, [verdict.difference]).get(verdict.difference)
        if there is None:
            vendor.write_decision(connection, pool, made)
        if slot not in answers.read_answers(connection, pool, [slot]):
            kept = Answer(verdict.fingerprint, {"difference": verdict.difference})
            answers.write_answers(connection, pool, {slot: kept}, office.instant())
    return there or made


def _check_key(office: Office, pool: str, slot: Slot, verdict: Verdict) -> None:
    with reading(office.engine, pool) as connection:
        answers.outcome_of(connection, pool, slot, verdict.fingerprint)


async def _mended(  # noqa: PLR0917 - the request's parts
    office: Office,
    caller: Caller,
    pool: str,
    found: Reconciliation,
    difference: Difference | None,
    verdict: Verdict,
) -> tuple[int, ...]:
    """Record what mends a difference. One that is gone was mended before, when only the decision could not be kept."""
    if difference is None:
        return await asyncio.to_thread(_recorded_before, office, pool, verdict.difference)
    if difference.mend is None:
        raise NotMendable(difference=difference.key)
    builder = _Builder(found, caller, verdict, difference.day)
    refusal: DomainError | None = None
    for way, built in enumerate(builder.ways(difference, difference.mend)):
        commands = [
            replace(command, reference=_reference(difference.key, place)) for place, command in enumerate(built)
        ]
        try:
            recorded = await recording.record(
                office,
                caller,
                pool,
                commands,
                operation=OPERATION,
                key=digest([verdict.key, difference.key, way])[:48],
                fingerprint=digest([repr(command.body) for command in commands]),
            )
        except DomainError as error:
            refusal = refusal or error
        else:
            return tuple(entry.number for entry in recorded.entries)
    raise refusal or NotMendable(difference=difference.key)


def _reference(difference: str, place: int) -> str:
    """Give the permanent name of one of the entries that mend a difference, by which it is found however late."""
    return f"mend-{difference[:40]}-{place}"


def _recorded_before(office: Office, pool: str, difference: str) -> tuple[int, ...]:
    names = [_reference(difference, place) for place in range(2)]
    with reading(office.engine, pool) as connection:
        found = journal.read_referenced(connection, pool, names)
    if not found:
        raise NotFound(what="difference", name=difference)
    return tuple(sorted(entry.number for entry in found.values()))


class _Builder:
    """Makes the commands of a mend, with members in place of accounts."""

    def __init__(self, found: Reconciliation, caller: Caller, verdict: Verdict, shown_on: date) -> None:
        """Takes: shown_on — the day that says whose an account is."""
        self._found = found
        self._caller = caller
        self._verdict = verdict
        self._shown_on = shown_on
        self._currency = found.directory.pool.currency

    def ways(self, difference: Difference, mend: Mend) -> Sequence[list[Command]]:
        """Give the ways to record a mend, the better one first; an entry recorded anew may stand before or after the
        reversal of the old one, because credits may be too few for one order of the two."""
        given = {**mend.fields, **self._verdict.fields}
        self._check_asked(mend, given)
        if mend.kind is MendKind.REVERSE:
            entry = self._found.entries[int(given["entry"])]
            day = self._day(given, entry.effective_on)
            return [[self._command(Reversal(entry=entry.number, quantity=int(given["quantity"])), day)]]
        if mend.kind is MendKind.CORRECT:
            entry = self._found.entries[int(given["entry"])]
            new = self._command(self._corrected(entry, given), self._day(given, entry.effective_on), entry.note)
            old = self._command(Reversal(entry=entry.number), self._day({}, entry.effective_on))
            return [[old, new], [new, old]]
        return [[self._command(self._recorded(mend.kind, given), self._day(given, difference.day), str(given["note"]))]]

    def _check_asked(self, mend: Mend, given: Mapping[str, str | int]) -> None:
        missing = [name for name in mend.asks if not given.get(name)]
        if missing:
            raise MendIncomplete(difference=self._verdict.difference, missing=", ".join(missing))

    def _command(self, body: Body, day: date, note: str = "") -> Command:
        said = note or self._verdict.reason
        return recording.command(self._caller, body, day, note=said[:2_000])

    def _day(self, given: Mapping[str, str | int], otherwise: date) -> date:
        text = self._verdict.fields.get("effective_on") or given.get("day")
        try:
            return date.fromisoformat(str(text)) if text else otherwise
        except ValueError:
            raise MendIncomplete(difference=self._verdict.difference, missing="a day as YYYY-MM-DD") from None

    def _amount(self, text: str | int) -> int:
        try:
            return self._currency.minor(Decimal(str(text)))
        except InvalidOperation:
            raise MendIncomplete(difference=self._verdict.difference, missing="an amount as decimal text") from None

    def _member(self, account: str | int) -> str:
        found = self._found.accounts.member_of(str(account), self._shown_on)
        if found is None:
            raise NotMendable(difference=self._verdict.difference)
        return found

    def _recorded(self, kind: MendKind, given: Mapping[str, str | int]) -> Body:
        quantity = int(given["quantity"])
        match kind:
            case MendKind.RECORD_LOAN:
                lender, borrower = self._member(given["lender"]), self._member(given["borrower"])
                return Loan(lender=lender, borrower=borrower, quantity=quantity)
            case MendKind.RECORD_PURCHASE:
                member = self._member(given["account"])
                into = STOCK if member == self._found.accounts.custodian(self._shown_on) else member
                order = given.get("order_number")
                return Purchase(
                    into=into,
                    paid_by=str(given["paid_by"]),
                    quantity=quantity,
                    amount=self._amount(given["amount"]),
                    order_number=str(order) if order else None,
                )
            case MendKind.RECORD_USE:
                return Use(
                    member=self._member(given["account"]),
                    quantity=quantity,
                    item=str(given["item"]),
                    job=str(given["job"]),
                    price=self._amount(given["price"]) if given.get("price") else None,
                )
            case _:
                return Outside(
                    member=self._member(given["account"]),
                    direction=Direction(str(given["direction"])),
                    party=str(given["party"]),
                    quantity=quantity,
                    amount=self._amount(given["amount"]),
                )

    def _corrected(self, entry: Entry, given: Mapping[str, str | int]) -> Body:
        body = entry.body
        roles = _ROLES.get(type(body), {})
        changed: dict[str, str | int] = {}
        for side in ("giver", "receiver"):
            if side in given and side in roles:
                changed[roles[side]] = self._member(given[side])
            elif side in given:
                raise NotMendable(difference=self._verdict.difference)
        if "quantity" in given:
            changed["quantity"] = int(given["quantity"])
        if "amount" in given:
            changed["amount"] = self._amount(given["amount"])
        known = {field.name for field in fields(body)}
        if not set(changed) <= known or not parties(body):
            raise NotMendable(difference=self._verdict.difference)
        return replace(body, **changed)  # type: ignore[arg-type]


_ROLES: dict[type, dict[str, str]] = {
    Loan: {"giver": "lender", "receiver": "borrower"},
    Return: {"giver": "borrower", "receiver": "lender"},
    Draw: {"receiver": "member"},
    Use: {"giver": "member"},
}
"""Which field of a body names the giver and the receiver at the vendor."""
