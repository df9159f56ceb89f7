"""The slow twin of costing: every single credit is an object that carries its cost, as an exact fraction.

It shares nothing with the fast one: averages are made by mixing a heap of credits, first-in first-out by taking them
from a list, and nothing is ever rounded. One month, entries in order, without reversals."""

from collections import defaultdict
from collections.abc import Iterable
from dataclasses import dataclass, field
from fractions import Fraction

from pool_api.domain.entries import Body, Direction, Draw, Loan, Outside, Purchase, Return, Use, WriteOff
from pool_api.domain.pool import StockCosting
from pool_api.domain.values import STOCK


@dataclass(eq=False)
class Credit:
    """One credit with what it cost."""

    cost: Fraction


def worth(heap: Iterable[Credit]) -> Fraction:
    """Give what a heap of credits cost."""
    return sum((each.cost for each in heap), Fraction())


def mix(heap: Iterable[Credit]) -> None:
    """Make every credit of a heap cost the same."""
    whole = list(heap)
    mean = worth(whole) / max(len(whole), 1)
    for each in whole:
        each.cost = mean


@dataclass
class Twin:
    """A pool in which credits are passed from hand to hand; keeps what left, and who lent how many to whom. prices are
    the lenders' own, to be tried; who has none lends at the pool's."""

    costing: StockCosting
    prices: dict[str, Fraction] = field(default_factory=dict)
    means: dict[str, Fraction] = field(default_factory=dict)
    stock: list[Credit] = field(default_factory=list)
    drawn: dict[str, list[Credit]] = field(default_factory=lambda: defaultdict(list))
    own: dict[str, list[Credit]] = field(default_factory=lambda: defaultdict(list))
    leaves: dict[str, int] = field(default_factory=lambda: defaultdict(int))
    written_off: list[Credit] = field(default_factory=list)
    bought: list[Credit] = field(default_factory=list)
    lent: dict[tuple[str, str], int] = field(default_factory=lambda: defaultdict(int))
    agreed: list[tuple[str, str, int, Fraction]] = field(default_factory=list)
    draws: dict[str, Fraction] = field(default_factory=dict)

    def play(self, bodies: Iterable[Body]) -> None:
        """Live through a month, then settle it."""
        waiting: list[tuple[list[Credit], int]] = []
        for body in bodies:
            if isinstance(body, Purchase) and body.into == STOCK:
                self._buy(body)
            elif isinstance(body, Draw):
                self._take(self.drawn[body.member], body.quantity, waiting)
            elif isinstance(body, WriteOff) and body.holder == STOCK:
                self._take(self.written_off, body.quantity, waiting)
            else:
                self._pass(body)
        if self.costing is StockCosting.MONTH_AVERAGE:
            mix(self.stock)
            for hand, quantity in waiting:
                hand += [self.stock.pop() for _ in range(quantity)]
        self._settle()

    def _buy(self, body: Purchase) -> None:
        new = [Credit(Fraction(body.amount, body.quantity)) for _ in range(body.quantity)]
        self.stock += new
        self.bought += [Credit(each.cost) for each in new]
        if self.costing is StockCosting.MOVING_AVERAGE:
            mix(self.stock)

    def _take(self, hand: list[Credit], quantity: int, waiting: list[tuple[list[Credit], int]]) -> None:
        if self.costing is StockCosting.MONTH_AVERAGE:
            waiting.append((hand, quantity))
        else:
            hand += [self.stock.pop(0) for _ in range(quantity)]

    def _pass(self, body: Body) -> None:
        match body:
            case Purchase(into=member, quantity=q, amount=amount):
                self.own[member] += [Credit(Fraction(amount, q)) for _ in range(q)]
            case Outside(member=member, direction=Direction.IN, quantity=q, amount=amount):
                self.own[member] += [Credit(Fraction(amount, q)) for _ in range(q)]
            case Loan(lender=lender, borrower=borrower, quantity=q, unit_price=None):
                self.lent[lender, borrower] += q
            case Loan(lender=lender, borrower=borrower, quantity=q, unit_price=str(price)):
                self.agreed.append((lender, borrower, q, Fraction(price) * 100))
            case Return(lender=lender, borrower=borrower, quantity=q):
                self.lent[lender, borrower] -= q
            case (
                Use(member=member, quantity=q)
                | Outside(member=member, quantity=q)
                | WriteOff(holder=member, quantity=q)
            ):
                self.leaves[member] += q

    def _settle(self) -> None:
        """Pay every credit still lent with one of the pool's price; then each shop mixes what it has."""
        self.draws = {member: worth(hand) for member, hand in self.drawn.items()}
        sales = list(self.agreed)
        for (lender, borrower), quantity in self.lent.items():
            still = quantity - max(self.lent.get((borrower, lender), 0), 0)
            sales += [(lender, borrower, still, self.prices.get(lender, self.price()))] if still > 0 else []
        for lender, borrower, quantity, price in sales:
            self.leaves[lender] += quantity
            self.own[borrower] += [Credit(price) for _ in range(quantity)]
        for member in {*self.own, *self.drawn}:
            hand = self.own[member] + self.drawn[member]
            mix(hand)
            self.means[member] = worth(hand) / max(len(hand), 1)
            self.own[member] = hand[self.leaves[member] :]

    def price(self) -> Fraction:
        """Give the mean of all that was bought into stock."""
        return worth(self.bought) / len(self.bought) if self.bought else Fraction()
