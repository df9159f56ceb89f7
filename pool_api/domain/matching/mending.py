"""What to record so that a difference is gone, as plain data with handles, entry numbers, quantities and days.

A mend is an offer from what the vendor shows; whether it may be recorded is the journal's to say. A transfer within the
pool is offered as a loan: whether it was a return or a draw, only its members know.
"""

from pool_api.domain.matching.course import Course
from pool_api.domain.matching.report import DifferenceKind, Mend, MendKind, Movement
from pool_api.domain.matching.sides import Accounts, Shown, normal
from pool_api.domain.record import MovementKind


class Mender:
    """Makes offers; each use is offered for as many refunds as it has credits left."""

    def __init__(self, course: Course, accounts: Accounts) -> None:
        self._accounts = accounts
        self._uses: dict[str, list[Movement]] = {}
        self._left_of: dict[int, int] = {}
        for place, movement in enumerate(course.journal):
            if movement.kind is MovementKind.USE and movement.reverses is None and movement.giver:
                self._uses.setdefault(movement.giver.casefold(), []).append(movement)
                self._left_of[movement.entry] = course.rest(place)

    def missing(self, shown: Shown) -> Mend | None:
        """Offer the entry that the journal lacks; None for a refund of which no use is known."""
        facts: dict[str, str | int] = {"quantity": shown.quantity, "day": shown.day.isoformat(), "note": shown.note}
        match shown.kind:
            case MovementKind.TRANSFER:
                return self._transfer(shown, facts)
            case MovementKind.PURCHASE:
                known = {"amount": shown.amount} if shown.amount else {}
                order = {"order_number": shown.reference} if shown.reference else {}
                asks = ("paid_by",) if known else ("paid_by", "amount")
                return Mend(
                    kind=MendKind.RECORD_PURCHASE,
                    fields={"account": shown.receiver or "", **facts, **known, **order},
                    asks=asks,
                )
            case MovementKind.USE:
                fields = {"account": shown.giver or "", **facts}
                return Mend(kind=MendKind.RECORD_USE, fields=fields, asks=("item", "job"))
            case MovementKind.REFUND:
                return self._refund(shown)

    def reverse(self, movement: Movement, quantity: int) -> Mend:
        """Offer to take back so many credits of an entry."""
        return Mend(kind=MendKind.REVERSE, fields={"entry": movement.entry, "quantity": quantity})

    def deviation(self, kind: DifferenceKind, movement: Movement, shown: Shown, quantity: int) -> Mend | None:
        """Offer what makes an entry say what the vendor shows; quantity is the entry's after its reversals.

        A smaller quantity is reached by reversing the rest, all else by recording the entry anew. None for reversals
        and for accounts outside the pool, which another kind of entry would have to name."""
        if movement.reverses is not None:
            return None
        if kind is DifferenceKind.QUANTITY and shown.quantity < quantity:
            return self.reverse(movement, quantity - shown.quantity)
        if kind is DifferenceKind.QUANTITY:
            return _correct(movement, quantity=shown.quantity)
        sides = {
            role: theirs
            for role, ours, theirs in (
                ("giver", movement.giver, shown.giver),
                ("receiver", movement.receiver, shown.receiver),
            )
            if theirs is not None and self._accounts.code(ours) != self._accounts.code(theirs)
        }
        if not all(self._accounts.among(handle) for handle in sides.values()):
            return None
        return (
            _correct(movement, **sides)
            if shown.quantity == quantity
            else _correct(movement, **sides, quantity=shown.quantity)
        )

    def redate(self, movement: Movement, shown: Shown) -> Mend:
        """Offer to move an entry to the vendor's day."""
        return _correct(movement, day=shown.day.isoformat())

    def reprice(self, movement: Movement, shown: Shown) -> Mend:
        """Offer to record a purchase anew at what the vendor charged."""
        return _correct(movement, amount=shown.amount or "")

    def _transfer(self, shown: Shown, facts: dict[str, str | int]) -> Mend:
        giver, receiver = shown.giver or "", shown.receiver or ""
        if self._accounts.among(giver) and self._accounts.among(receiver):
            return Mend(kind=MendKind.RECORD_LOAN, fields={"lender": giver, "borrower": receiver, **facts})
        inward = self._accounts.among(receiver)
        account, party = (receiver, giver) if inward else (giver, receiver)
        fields = {"account": account, "direction": "in" if inward else "out", "party": party, **facts}
        return Mend(kind=MendKind.RECORD_OUTSIDE, fields=fields, asks=("amount",))

    def _refund(self, shown: Shown) -> Mend | None:
        """Offer to reverse the use that a refund takes back: the latest before it that fits best."""
        fitting = [
            use
            for use in self._uses.get((shown.receiver or "").casefold(), ())
            if use.day <= shown.day and self._left_of[use.entry] >= shown.quantity
        ]
        if not fitting:
            return None
        best = max(
            fitting,
            key=lambda use: (
                bool(shown.reference) and use.reference == shown.reference,
                self._left_of[use.entry] == shown.quantity,
                bool(shown.note) and normal(use.note) == normal(shown.note),
                use.day,
                use.entry,
            ),
        )
        self._left_of[best.entry] -= shown.quantity
        return Mend(
            kind=MendKind.REVERSE,
            fields={"entry": best.entry, "quantity": shown.quantity, "day": shown.day.isoformat()},
        )


def _correct(movement: Movement, **changed: str | int) -> Mend:
    return Mend(kind=MendKind.CORRECT, fields={"entry": movement.entry, **changed})
