"""What truly happened in the three months, day by day: a small world of six shops, the same for the same seed.

Whatever matters is written in SCRIPT; between its lines the shops go about their work: they spend credits on jobs, draw
on Mondays, borrow when they run dry, and give back. Nobody makes a mistake here: mistakes are planted in trouble.py.
"""

import random
from collections import defaultdict
from collections.abc import Sequence
from dataclasses import dataclass, field
from datetime import date, timedelta
from typing import Any

from seed.network import MONTHS, Item, Network, Shop

SEED = 20260841


@dataclass(frozen=True, slots=True, kw_only=True)
class Fact:
    """Something that happened. said is what the book should say of it, as the API's command without day, note and
    reference; a reversal names the fact it reverses. tag is the script's word for it, if the script brought it."""

    name: str
    day: date
    kind: str
    said: dict[str, Any]
    note: str
    tag: str | None = None


@dataclass(frozen=True, slots=True)
class Line:
    """A line of the script. A said value of reverses is the tag of an earlier line."""

    on: str
    kind: str
    note: str
    said: dict[str, Any]
    tag: str | None = None


SCRIPT = (
    Line(
        "2026-08-04", "purchase", "joint order", {"into": "stock", "paid_by": "ALDER", "quantity": 500}, "august-order"
    ),
    Line("2026-08-05", "draw", "first share of the order", {"member": "BIRCH", "quantity": 60}),
    Line("2026-08-05", "draw", "first share of the order", {"member": "DOGWOOD", "quantity": 40}),
    Line("2026-08-12", "use", "file for the wrong gearbox", {"member": "BIRCH", "item": "GBX"}, "wrong-gearbox"),
    Line("2026-08-13", "reversal", "the vendor took it back", {"reverses": "wrong-gearbox"}),
    Line("2026-08-17", "draw", "for the fleets", {"member": "ALDER", "quantity": 60}),
    Line(
        "2026-08-18",
        "loan",
        "for the fleet, settled at a price of our own",
        {"lender": "ALDER", "borrower": "CEDAR", "quantity": 20, "unit_price": "7.25"},
    ),
    Line(
        "2026-08-20",
        "charge",
        "half of the courier",
        {"from_member": "FIR", "to_member": "ALDER", "amount": "18.50", "reason": "courier of the shared tool"},
    ),
    Line("2026-08-26", "use", "fleet, van 1", {"member": "DOGWOOD", "item": "CAL-S"}),
    Line("2026-08-26", "use", "fleet, van 1", {"member": "DOGWOOD", "item": "CAL-S"}),
    Line("2026-09-03", "purchase", "joint order", {"into": "stock", "paid_by": "BIRCH", "quantity": 250}),
    Line("2026-09-08", "draw", "share of the order", {"member": "CEDAR", "quantity": 40}),
    Line(
        "2026-09-10",
        "loan",
        "customer waits in the yard",
        {"lender": "CEDAR", "borrower": "BIRCH", "quantity": 11},
        "late-evening-loan",
    ),
    Line("2026-09-14", "purchase", "in a hurry, stock was low", {"into": "FIR", "paid_by": "FIR", "quantity": 50}),
    Line("2026-09-15", "draw", "share of the order", {"member": "DOGWOOD", "quantity": 40}),
    Line(
        "2026-09-16",
        "loan",
        "Saturday's rally cars",
        {"lender": "DOGWOOD", "borrower": "ELM", "quantity": 14},
        "loan-by-phone",
    ),
    Line("2026-09-22", "use", "wrong device chosen", {"member": "FIR", "item": "ACC-2"}, "wrong-device"),
    Line("2026-09-24", "reversal", "the vendor took it back", {"reverses": "wrong-device"}, "refund"),
    Line(
        "2026-09-23",
        "outside",
        "from a friend's shop that isn't in the pool",
        {"member": "CEDAR", "direction": "in", "party": "nv-77120", "quantity": 15, "amount": "117.00"},
    ),
    Line("2026-09-28", "use", "gearbox of the tow truck", {"member": "ALDER", "item": "GBX"}, "tow-truck"),
    Line("2026-10-02", "purchase", "joint order", {"into": "stock", "paid_by": "CEDAR", "quantity": 500}),
    Line("2026-10-03", "draw", "share of the order", {"member": "ALDER", "quantity": 50}),
    Line("2026-10-03", "draw", "share of the order", {"member": "BIRCH", "quantity": 50}),
    Line(
        "2026-10-05",
        "loan",
        "bridge until the next draw",
        {"lender": "ALDER", "borrower": "DOGWOOD", "quantity": 30},
        "bridge",
    ),
    Line("2026-10-06", "reversal", "file never worked; refunded in October", {"reverses": "tow-truck"}),
    Line(
        "2026-10-08",
        "loan",
        "two gearboxes this week",
        {"lender": "BIRCH", "borrower": "FIR", "quantity": 21},
        "gearboxes",
    ),
    Line("2026-10-13", "write_off", "expired", {"holder": "stock", "quantity": 9, "reason": "expired"}),
    Line("2026-10-15", "draw", "ahead of the return", {"member": "DOGWOOD", "quantity": 40}),
    Line("2026-10-20", "return", "all back", {"borrower": "DOGWOOD", "lender": "ALDER", "quantity": 30}, "bridge-back"),
)

SPARED = {
    "BIRCH": (date(2026, 9, 1), date(2026, 9, 30), 12),
    "ELM": (date(2026, 9, 16), date(2026, 9, 30), 14),
    "FIR": (date(2026, 9, 22), date(2026, 10, 31), 14),
    "DOGWOOD": (date(2026, 10, 15), date(2026, 10, 20), 30),
}
"""Credits that a shop doesn't spend between two days: where a mistake hides them from the book, it must not run dry."""

_JOBS = ("towing weight raised", "after the repair", "customer's own file", "regular", "second attempt", "")
_LENDING = ("customer waiting", "until the next draw", "back next week", "for the afternoon")
_DRAWING = ("weekly draw", "stock up", "for the week", "")


@dataclass(slots=True)
class World:
    """The credits as they really are, and what has happened so far."""

    network: Network
    stock: int
    held: dict[str, int]
    dice: random.Random
    facts: list[Fact] = field(default_factory=list)
    lent: list[Fact] = field(default_factory=list)
    jobs: dict[str, int] = field(default_factory=lambda: defaultdict(lambda: 1000))

    def live(self) -> None:
        """Go through all working days of the three months."""
        day = self.network.began_on
        while f"{day:%Y-%m}" in MONTHS:
            if day.isoweekday() <= 6:
                self._work(day)
            day += timedelta(days=1)

    def _work(self, day: date) -> None:
        if day.day <= 2:
            self.lent = [fact for fact in self.lent if fact.day.month == day.month]
        for line in SCRIPT:
            if line.on == day.isoformat():
                self._scripted(day, line)
        for shop in self.network.shops:
            if day.isoweekday() == 1 and self._free(shop.code, day) < 12:
                self._draw(day, shop, 0)
            # On its first and last day a month is busy everywhere, so that every export begins and ends there.
            if self.dice.random() < shop.uses_per_day or 1 in {day.day, (day + timedelta(days=1)).day}:
                self._job(day, shop)
        for loan in [fact for fact in self.lent if (day - fact.day).days >= 4]:
            self._give_back(day, loan)

    def _scripted(self, day: date, line: Line) -> None:
        said = dict(line.said)
        if line.kind == "use":
            item = next(item for item in self.network.catalogue if item.code == said["item"])
            said |= self._use_of(self._shop(said["member"]), item)
        if line.kind == "purchase":
            said["amount"] = f"{self.network.order_price(said['quantity']) * 1008 / 1000:.2f}"
        if line.kind == "reversal":
            said["reverses"] = next(fact.name for fact in self.facts if fact.tag == said["reverses"])
        self.record(day, line.kind, said, line.note, line.tag)

    def _job(self, day: date, shop: Shop) -> None:
        item = self._one_of(self.network.catalogue)
        missing = item.credits - self._free(shop.code, day)
        if missing > 0 and not self._provide(day, shop, missing):
            return
        self.record(day, "use", {"member": shop.code, **self._use_of(shop, item)}, self._one_of(_JOBS))

    def _provide(self, day: date, shop: Shop, missing: int) -> bool:
        """Borrow from whoever has most to spare, or else draw from the stock; say whether either worked."""
        lender = max(self.network.shops, key=lambda each: (self._free(each.code, day), each.code)).code
        if lender != shop.code and self._free(lender, day) >= missing + 16:
            said = {"lender": lender, "borrower": shop.code, "quantity": missing + int(self.dice.random() * 4)}
            self.lent.append(self.record(day, "loan", said, self._one_of(_LENDING)))
            return True
        return self._draw(day, shop, missing)

    def _draw(self, day: date, shop: Shop, missing: int) -> bool:
        wanted = -(-missing // 10) * 10 + 30
        if self.stock < wanted:
            return False
        self.record(day, "draw", {"member": shop.code, "quantity": wanted}, self._one_of(_DRAWING))
        return True

    def _give_back(self, day: date, loan: Fact) -> None:
        borrower, quantity = loan.said["borrower"], loan.said["quantity"]
        if self._free(borrower, day) >= quantity + 4:
            said = {"borrower": borrower, "lender": loan.said["lender"], "quantity": quantity}
            self.record(day, "return", said, "with thanks")
            self.lent.remove(loan)

    def record(self, day: date, kind: str, said: dict[str, Any], note: str, tag: str | None = None) -> Fact:
        """Let something happen. ValueError when there are not enough credits for it: then the script is wrong."""
        count = sum(fact.day.month == day.month for fact in self.facts) + 1
        fact = Fact(name=f"{day:%Y-%m}-{count:03}", day=day, kind=kind, said=said, note=note, tag=tag)
        self.facts.append(fact)
        for holder, change in changes(fact, self.facts).items():
            if holder == "stock":
                self.stock += change
            elif holder in self.held:
                self.held[holder] += change
            if min(self.stock, *self.held.values()) < 0:
                raise ValueError(f"not enough credits for {fact}")
        return fact

    def _use_of(self, shop: Shop, item: Item) -> dict[str, Any]:
        self.jobs[shop.code] += 1
        price = item.credits * (18 + int(self.dice.random() * 5)) + 45
        said = {"quantity": item.credits, "item": item.code, "job": f"{shop.code[0]}-{self.jobs[shop.code]}"}
        said["price"] = f"{price}.00"
        return said | ({"off_road_only": True} if item.off_road_only else {})

    def _free(self, code: str, day: date) -> int:
        first, last, spared = SPARED.get(code, (day, day, 0))
        return self.held[code] - (spared if first <= day <= last else 0)

    def _shop(self, code: str) -> Shop:
        return next(shop for shop in self.network.shops if shop.code == code)

    def _one_of(self, things: tuple[Any, ...]) -> Any:
        return things[int(self.dice.random() * len(things))]


_SIDES: dict[str, tuple[str | None, str | None]] = {
    "purchase": (None, "into"),
    "draw": ("stock", "member"),
    "loan": ("lender", "borrower"),
    "return": ("borrower", "lender"),
    "use": ("member", None),
    "write_off": ("holder", None),
    "outside": ("party", "member"),
    "charge": (None, None),
}
"""By kind, the members of a command that name who gives credits and who gets them."""


def sides(fact: Fact) -> tuple[str | None, str | None]:
    """Give who gives credits and who gets them: shops, the stock, a party outside, or nobody. Not for reversals."""
    giver, receiver = _SIDES[fact.kind]
    named = fact.said | {"stock": "stock"}
    found = (named[giver] if giver else None, named[receiver] if receiver else None)
    return found[::-1] if fact.said.get("direction") == "out" else found


def changes(fact: Fact, facts: Sequence[Fact]) -> dict[str, int]:
    """Give what a fact adds to each shop, the stock or a party outside; facts hold the one that a reversal reverses."""
    if fact.kind == "reversal":
        return {holder: -change for holder, change in changes(undone_by(fact, facts), facts).items()}
    giver, receiver = sides(fact)
    given = {giver: -fact.said["quantity"]} if giver else {}
    return given | ({receiver: fact.said["quantity"]} if receiver else {})


def undone_by(reversal: Fact, facts: Sequence[Fact]) -> Fact:
    """Give the fact that a reversal undoes."""
    return next(fact for fact in facts if fact.name == reversal.said["reverses"])


def true_history(network: Network) -> tuple[Fact, ...]:
    """Give everything that happened, in order."""
    world = World(
        network=network,
        stock=network.opening["stock_quantity"],
        held={shop.code: shop.held for shop in network.shops},
        # Only random() of it is called: that one gives the same numbers under every release of Python.
        dice=random.Random(SEED),  # noqa: S311 - an invented history, no secret
    )
    world.live()
    return tuple(world.facts)
