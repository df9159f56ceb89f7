"""What recording something would change, told before it is done: pure arithmetic on positions that were just read.

It says what people will hold and what the credits are worth at the costs of the month so far. The book decides when it
is recorded; where it would refuse for what is held now, that is foreseen here.
"""

from collections.abc import Callable
from dataclasses import dataclass
from decimal import ROUND_HALF_UP, Decimal
from fractions import Fraction
from typing import Any

from pool_client.models.entries import STOCK, Direction, Recordable
from pool_client.models.months import MemberPosition, Positions

from pool_web.sentences import credits_of


@dataclass(frozen=True, slots=True, kw_only=True)
class Effect:
    """What would change, as sentences, and what stands in its way."""

    lines: tuple[str, ...] = ()
    obstacles: tuple[str, ...] = ()


def effect_of(body: Recordable, positions: Positions) -> Effect:
    """Say what recording a body would change."""
    tell = _TELL.get(body.kind)
    return tell(body, _Book(positions)) if tell else Effect()


class _Book:
    """Positions by member, and the worth of credits in them."""

    def __init__(self, positions: Positions) -> None:
        self.stock = positions.stock
        self._members = {each.member: each for each in positions.members}
        self._open = {(each.lender, each.borrower): each.quantity for each in positions.open_loans}
        self._digits = max((_digits(each.due) for each in positions.members), default=2)

    def member(self, code: str) -> MemberPosition | None:
        return self._members.get(code)

    def owed(self, lender: str, borrower: str) -> int:
        return self._open.get((lender, borrower), 0)

    def holds(self, code: str, change: int) -> Effect:
        """Say what a member or the stock will hold."""
        found = self._members.get(code)
        name, now = ("The stock", self.stock) if code == STOCK else (code, found.held if found else 0)
        if now + change < 0:
            return Effect(obstacles=(f"{name} holds {credits_of(now)}, which is {-change - now:,} too few.",))
        return Effect(lines=(f"{name} will hold {now + change:,} (now {now:,}).",))

    def worth(self, code: str, quantity: int) -> tuple[Decimal, Decimal] | None:
        """Give about what credits of a member are worth, and its blended unit cost."""
        found = self._members.get(code)
        cost = found.blended_unit_cost if found else None
        if cost is None:
            return None
        return self.money(Fraction(cost.exact) * quantity / 10**self._digits), cost.shown

    def money(self, value: Fraction) -> Decimal:
        exact = Decimal(value.numerator) / Decimal(value.denominator)
        return exact.quantize(Decimal(1).scaleb(-self._digits), ROUND_HALF_UP)


def _digits(value: Decimal) -> int:
    exponent = value.as_tuple().exponent
    return max(0, -exponent) if isinstance(exponent, int) else 0


def _together(*effects: Effect) -> Effect:
    return Effect(
        lines=tuple(line for each in effects for line in each.lines),
        obstacles=tuple(line for each in effects for line in each.obstacles),
    )


def _say(*lines: str) -> Effect:
    return Effect(lines=lines)


def _worth(book: _Book, member: str, quantity: int, what: str) -> Effect:
    found = book.worth(member, quantity)
    if found is None:
        return Effect()
    return _say(f"{what} about {found[0]:,} at {member}'s blended cost of {found[1]:,} a credit.")


def _loan(body: Any, book: _Book) -> Effect:
    moved = _together(book.holds(body.lender, -body.quantity), book.holds(body.borrower, body.quantity))
    if body.unit_price is not None:
        total = book.money(Fraction(body.unit_price) * body.quantity)
        return _together(moved, _say(f"It is settled at {total:,}, as agreed, and not given back."))
    owed = book.owed(body.lender, body.borrower) + body.quantity
    will = _say(f"{body.borrower} will have {credits_of(owed)} of {body.lender}'s to make good.")
    return _together(moved, will, _worth(book, body.lender, body.quantity, "This loan is worth"))


def _draw(body: Any, book: _Book) -> Effect:
    return _together(book.holds(STOCK, -body.quantity), book.holds(body.member, body.quantity))


def _return(body: Any, book: _Book) -> Effect:
    owed = book.owed(body.lender, body.borrower)
    if body.quantity > owed:
        return Effect(obstacles=(f"{body.borrower} has {credits_of(owed)} of {body.lender}'s to make good.",))
    moved = _together(book.holds(body.borrower, -body.quantity), book.holds(body.lender, body.quantity))
    left = owed - body.quantity
    return _together(moved, _say(f"{credits_of(left)} of that loan stay open." if left else "Nothing stays open."))


def _use(body: Any, book: _Book) -> Effect:
    held = book.holds(body.member, -body.quantity)
    cost = _worth(book, body.member, body.quantity, "They cost")
    found = book.worth(body.member, body.quantity)
    if body.price is None or found is None:
        return _together(held, cost)
    return _together(held, cost, _say(f"The job earns about {body.price - found[0]:,}."))


def _purchase(body: Any, book: _Book) -> Effect:
    each = Fraction(body.amount) / body.quantity
    price = Decimal(each.numerator) / Decimal(each.denominator)
    unit = _say(f"That is {price.quantize(Decimal('0.0001'), ROUND_HALF_UP):,} a credit.")
    if body.into not in {STOCK, body.paid_by}:
        unit = _together(unit, _say(f"{body.into} will owe {body.paid_by}'s outlay of {body.amount:,}."))
    return _together(book.holds(body.into, body.quantity), unit)


def _write_off(body: Any, book: _Book) -> Effect:
    return book.holds(body.holder, -body.quantity)


def _outside(body: Any, book: _Book) -> Effect:
    return book.holds(body.member, body.quantity if body.direction == Direction.IN else -body.quantity)


def _due(book: _Book, code: str, change: Decimal) -> Effect:
    found = book.member(code)
    return _say(f"{code}'s due of the month becomes {found.due + change:,} (now {found.due:,}).") if found else Effect()


def _charge(body: Any, book: _Book) -> Effect:
    return _together(_due(book, body.from_member, -body.amount), _due(book, body.to_member, body.amount))


def _payment(body: Any, book: _Book) -> Effect:
    if body.pays:
        return _say(f"{body.amount:,} of the settlement payment {body.pays} count as paid.")
    return _together(_due(book, body.from_member, body.amount), _due(book, body.to_member, -body.amount))


def _relocation(body: Any, _: _Book) -> Effect:
    return _say(f"{body.to_member}'s vendor account has the stock from then on, and nobody holds more or less.")


_TELL: dict[str, Callable[[Any, _Book], Effect]] = {
    "loan": _loan,
    "draw": _draw,
    "return": _return,
    "use": _use,
    "purchase": _purchase,
    "write_off": _write_off,
    "outside": _outside,
    "charge": _charge,
    "payment": _payment,
    "relocation": _relocation,
}


def undoing_of(body: Any, quantity: int | None, positions: Positions) -> Effect:
    """Say what undoing so many credits of a recorded body would change, None for one that moves none."""
    undo, book = _UNDO.get(body.kind), _Book(positions)
    return undo(body, quantity or 0, book) if undo else Effect()


def _gives_back(book: _Book, member: str, to: str, quantity: int) -> Effect:
    return _together(book.holds(member, -quantity), book.holds(to, quantity))


def _undo_loan(body: Any, quantity: int, book: _Book) -> Effect:
    back = _gives_back(book, body.borrower, body.lender, quantity)
    owed = book.owed(body.lender, body.borrower) - quantity
    if body.unit_price is not None or owed < 0:
        return back
    return _together(back, _say(f"{body.borrower} will have {credits_of(owed)} of {body.lender}'s to make good."))


def _undo_return(body: Any, quantity: int, book: _Book) -> Effect:
    owed = credits_of(book.owed(body.lender, body.borrower) + quantity)
    again = _say(f"{body.borrower} will have {owed} of {body.lender}'s to make good.")
    return _together(_gives_back(book, body.lender, body.borrower, quantity), again)


def _undo_purchase(body: Any, quantity: int, book: _Book) -> Effect:
    part = book.money(Fraction(body.amount) * quantity / body.quantity)
    return _together(
        book.holds(body.into, -quantity), _say(f"{body.paid_by}'s outlay of about {part:,} is taken out of the dues.")
    )


def _undo_outside(body: Any, quantity: int, book: _Book) -> Effect:
    return book.holds(body.member, -quantity if body.direction == Direction.IN else quantity)


def _undo_payment(body: Any, _: int, book: _Book) -> Effect:
    if body.pays:
        return _say(f"{body.amount:,} of the settlement payment {body.pays} no longer count as paid.")
    return _together(_due(book, body.from_member, -body.amount), _due(book, body.to_member, body.amount))


_UNDO: dict[str, Callable[[Any, int, _Book], Effect]] = {
    "loan": _undo_loan,
    "return": _undo_return,
    "purchase": _undo_purchase,
    "draw": lambda body, quantity, book: _gives_back(book, body.member, STOCK, quantity),
    "use": lambda body, quantity, book: book.holds(body.member, quantity),
    "write_off": lambda body, quantity, book: book.holds(body.holder, quantity),
    "outside": _undo_outside,
    "charge": lambda body, _, book: _together(
        _due(book, body.from_member, body.amount), _due(book, body.to_member, -body.amount)
    ),
    "payment": _undo_payment,
}
