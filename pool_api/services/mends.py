"""From the mend that a difference carries, and what a person changed in it, to the commands that record it.

A mend speaks of vendor accounts, an entry of members: whose an account was on the day is found here. Whether the
commands may be recorded is the journal's to say.
"""

from collections.abc import Mapping, Sequence
from dataclasses import fields, replace
from datetime import date
from decimal import Decimal, InvalidOperation

from pool_api.domain.access import Caller
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
    parties,
)
from pool_api.domain.errors import MendIncomplete, MendUnfit, NotMendable
from pool_api.domain.matching import Difference, Mend, MendKind
from pool_api.domain.values import STOCK
from pool_api.services import recording
from pool_api.services.reconciling import Reconciliation

Said = Mapping[str, str | int]
"""Fields of a mend by name: numbers, and text of members or vendor accounts, amounts, ISO days and words."""

_ALWAYS = ("quantity", "effective_on", "note")

CHANGEABLE: dict[MendKind, tuple[str, ...]] = {
    MendKind.RECORD_LOAN: ("kind", "giver", "receiver", *_ALWAYS),
    MendKind.RECORD_OUTSIDE: ("member", "direction", "party", "amount", *_ALWAYS),
    MendKind.RECORD_PURCHASE: ("into", "paid_by", "amount", "order_number", *_ALWAYS),
    MendKind.RECORD_USE: ("member", "item", "job", "price", *_ALWAYS),
    MendKind.REVERSE: ("entry", *_ALWAYS),
    MendKind.CORRECT: ("giver", "receiver", "amount", *_ALWAYS),
    MendKind.WITHDRAW: (),
}
"""What a person may state of each kind of mend. giver and receiver are those at the vendor, whatever the entry calls
them; a transfer's kind is loan, return or draw."""


def taken(difference: Difference, said: Said) -> Said:
    """Give of what is said for many differences what this one's mend takes."""
    takes = () if difference.mend is None else CHANGEABLE[difference.mend.kind]
    return {name: value for name, value in said.items() if name in takes}


def offered(found: Reconciliation, difference: Difference) -> dict[str, str | int]:
    """Give what a difference's mend offers, by the names of what may be stated in its place, with members for accounts
    of the pool; nothing without a mend."""
    if difference.mend is None:
        return {}
    said = {_OFFERED_AS.get(name, name): value for name, value in difference.mend.fields.items()}
    for side in ("giver", "receiver", "member"):
        if side in said:
            said[side] = found.accounts.member_of(str(said[side]), difference.day) or said[side]
    if difference.mend.kind is MendKind.RECORD_PURCHASE:
        account = said.pop("member")
        said = {"into": STOCK if account == found.accounts.custodian(difference.day) else account, **said}
    return said


_OFFERED_AS = {"lender": "giver", "borrower": "receiver", "account": "member", "day": "effective_on"}
"""What a mend calls by other names."""


def ways(
    found: Reconciliation, caller: Caller, difference: Difference, said: Said, reason: str
) -> Sequence[list[Command]]:
    """Give the ways to record what mends a difference, the better one first.

    An entry recorded anew may stand before or after the reversal of the old one, because credits may be too few for one
    order of the two.

    Takes:   said — what a person states in place of what the mend offers, or because it asks for it.
    Refuses: NotMendable, MendIncomplete, MendUnfit."""
    if difference.mend is None:
        raise NotMendable(difference=difference.key)
    return _Builder(found, caller, difference, reason).ways(difference.mend, said)


class _Builder:
    def __init__(self, found: Reconciliation, caller: Caller, difference: Difference, reason: str) -> None:
        self._found = found
        self._caller = caller
        self._difference = difference
        self._reason = reason
        self._currency = found.directory.pool.currency

    def ways(self, mend: Mend, said: Said) -> Sequence[list[Command]]:
        given = offered(self._found, self._difference) | dict(said)
        self._check(mend, said, given)
        note = str(given.get("note") or "")
        if mend.kind is MendKind.REVERSE:
            number = int(given["entry"])
            reversal = Reversal(entry=number, quantity=int(given["quantity"]))
            return [[self._command(reversal, self._day(given, self._day_of(number)), note)]]
        if mend.kind is MendKind.CORRECT:
            entry = self._found.entries[int(given["entry"])]
            day = self._day(given, entry.effective_on)
            new = self._command(self._corrected(entry, given), day, note or entry.note)
            old = self._command(Reversal(entry=entry.number), entry.effective_on)
            return [[old, new], [new, old]]
        return [[self._command(self._recorded(mend.kind, given), self._day(given, self._difference.day), note)]]

    def _check(self, mend: Mend, said: Said, given: Said) -> None:
        if unknown := sorted(set(said) - set(CHANGEABLE[mend.kind])):
            takes = ", ".join(CHANGEABLE[mend.kind])
            raise self._unfit(f"it takes {takes}, and not {', '.join(unknown)}")
        missing = [name for name in mend.asks if not given.get(name)]
        if missing:
            raise self._incomplete(", ".join(missing))

    def _unfit(self, reason: str) -> MendUnfit:
        return MendUnfit(difference=self._difference.key, reason=reason)

    def _incomplete(self, missing: str) -> MendIncomplete:
        return MendIncomplete(difference=self._difference.key, missing=missing)

    def _command(self, body: Body, day: date, note: str = "") -> Command:
        return recording.command(self._caller, body, day, note=(note or self._reason)[:2_000])

    def _day(self, given: Said, otherwise: date) -> date:
        text = given.get("effective_on")
        try:
            return date.fromisoformat(str(text)) if text else otherwise
        except ValueError:
            raise self._incomplete("a day as YYYY-MM-DD") from None

    def _day_of(self, number: int) -> date:
        if number in self._found.entries:
            return self._found.entries[number].effective_on
        if number in self._found.movements:
            return self._found.movements[number].day
        raise self._unfit(f"entry {number} moves nothing at the vendor in these days")

    def _amount(self, text: str | int) -> int:
        try:
            return self._currency.minor(Decimal(str(text)))
        except InvalidOperation:
            raise self._incomplete("an amount as decimal text") from None

    def _member(self, side: str | int) -> str:
        """Give the member of a code, or whose a vendor account was on the day that the vendor shows."""
        if str(side) in self._found.directory.members:
            return str(side)
        found = self._found.accounts.member_of(str(side), self._difference.day)
        if found is None:
            raise self._unfit(f"{side} is neither a member nor a vendor account of one")
        return found

    def _recorded(self, kind: MendKind, given: Said) -> Body:
        quantity = int(given["quantity"])
        match kind:
            case MendKind.RECORD_LOAN:
                return self._transferred(given, quantity)
            case MendKind.RECORD_PURCHASE:
                order = given.get("order_number")
                return Purchase(
                    into=STOCK if given["into"] == STOCK else self._member(given["into"]),
                    paid_by=str(given["paid_by"]),
                    quantity=quantity,
                    amount=self._amount(given["amount"]),
                    order_number=str(order) if order else None,
                )
            case MendKind.RECORD_USE:
                return Use(
                    member=self._member(given["member"]),
                    quantity=quantity,
                    item=str(given["item"]),
                    job=str(given["job"]),
                    price=self._amount(given["price"]) if given.get("price") else None,
                )
            case _:
                return Outside(
                    member=self._member(given["member"]),
                    direction=Direction(str(given["direction"])),
                    party=str(given["party"]),
                    quantity=quantity,
                    amount=self._amount(given["amount"]),
                )

    def _transferred(self, given: Said, quantity: int) -> Body:
        giver, receiver = self._member(given["giver"]), self._member(given["receiver"])
        match given.get("kind", Loan.kind):
            case Return.kind:
                return Return(borrower=giver, lender=receiver, quantity=quantity)
            case Draw.kind:
                custodian = self._found.accounts.custodian(self._difference.day)
                if giver != custodian:
                    raise self._unfit(f"a draw comes from the stock, which {custodian or 'nobody'} has, not {giver}")
                return Draw(member=receiver, quantity=quantity)
            case _:
                return Loan(lender=giver, borrower=receiver, quantity=quantity)

    def _corrected(self, entry: Entry, given: Said) -> Body:
        body = entry.body
        roles = _ROLES.get(type(body), {})
        changed: dict[str, str | int] = {}
        for side in ("giver", "receiver"):
            if side in given and side in roles:
                changed[roles[side]] = self._member(given[side])
            elif side in given:
                raise NotMendable(difference=self._difference.key)
        if "quantity" in given:
            changed["quantity"] = int(given["quantity"])
        if "amount" in given:
            changed["amount"] = self._amount(given["amount"])
        known = {field.name for field in fields(body)}
        if not set(changed) <= known or not parties(body):
            raise NotMendable(difference=self._difference.key)
        return replace(body, **changed)  # type: ignore[arg-type]


_ROLES: dict[type, dict[str, str]] = {
    Loan: {"giver": "lender", "receiver": "borrower"},
    Return: {"giver": "borrower", "receiver": "lender"},
    Draw: {"receiver": "member"},
    Use: {"giver": "member"},
}
"""Which field of a body names the giver and the receiver at the vendor."""
