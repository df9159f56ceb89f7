"""Figures of members: what each had, its blended unit cost, what came out of it, and its due line by line.

All that a member had available is apportioned over what leaves it and what it keeps; what it spent and wrote off once
more over the entries. Credits that weren't there when they left have no weight: the figure that ends in `there` says
how many were. Credits are whole credits, costs and dues minor units.
"""

from collections.abc import Callable, Iterable, Iterator, Sequence
from dataclasses import replace
from functools import partial

from pool_api.domain.explaining.contributions import Contributions, from_entry, handed_on
from pool_api.domain.explaining.figures import Derivation, Figures, Formula, Operand, Part, Role, Unit, summed
from pool_api.domain.explaining.of_loans import name_of, opening_loans, passed_on, quantity_of
from pool_api.domain.explaining.of_stock import outflows_of
from pool_api.domain.layers import Costed, covered
from pool_api.domain.sheets import Lending, MemberSheet, Sheet
from pool_api.domain.stock import Outflow

_IN = ("draws", "purchases", "outside_in", "loans_to_it", "reversals_in")
_OUT = ("made_up", "loans_from_it", "spent", "given_back", "write_offs")

_Derive = Callable[[], Derivation]
_Entries = Sequence[tuple[int, int]]


def add_members(figures: Figures, sheet: Sheet, found: Contributions) -> None:
    """Add the figures of every member."""
    drawn: dict[str, list[Outflow]] = {}
    for outflow in outflows_of(sheet.stock):
        drawn.setdefault(outflow.holder, []).append(outflow)
    for member in sheet.members:
        _Member(figures, sheet, found, member, drawn.get(member.member, [])).add()


class _Member:
    """One member's figures while they are added."""

    def __init__(
        self, figures: Figures, sheet: Sheet, found: Contributions, member: MemberSheet, drawn: Sequence[Outflow]
    ) -> None:
        self.figures, self.sheet, self.found, self.member = figures, sheet, found, member
        self.code = member.member
        loans = passed_on(sheet)
        self.lent = [each for each in loans if each.lender == self.code]
        self.borrowed = [each for each in loans if each.borrower == self.code]
        self.drawn = drawn
        self.spent = found.spent.get(self.code, [])
        self.uses = [each for each in self.spent if each[0] not in found.outside_out]
        self.outside = [each for each in self.spent if each[0] in found.outside_out]
        self.written_off = found.write_offs.get(self.code, [])
        self.bears = not member.given_back.quantity

    def name(self, part: str) -> str:
        """Give the name of one of the member's figures."""
        return f"members.{self.code}.{part}"

    def operand(self, part: str, role: Role = Role.PLUS) -> Operand:
        """Give one of the member's figures as an operand."""
        return self.figures.operand(role, self.name(part))

    def of_entries(self, part: str, unit: Unit) -> Iterator[Operand]:
        """Give what entries contribute to one of the member's figures."""
        return self.found.operands(self.name(part), self.figures, unit)

    def add(self) -> None:
        """Add all of the member's figures."""
        self._add_in()
        self._add_quantities_out()
        self._add_costs_out()

    def _add_costed(self, part: str, value: Costed, quantity: _Derive, cost: _Derive) -> None:
        self.figures.add_costed(self.name(part), value, quantity, cost, (self.code,))

    def _add_money(self, part: str, value: int, derive: _Derive) -> None:
        self.figures.add(self.name(part), value, Unit.MONEY, derive, (self.code,))

    def _add_in(self) -> None:
        member, figures = self.member, self.figures
        self._add_costed("opening", member.opening, self._opening_quantity, self._opening_cost)
        self._add_costed(
            "draws",
            member.draws,
            lambda: summed(
                from_entry(figures, each.entry, "quantity", each.quantity, Unit.CREDITS)
                for each in self.drawn
                if each not in self.sheet.stock.late
            ),
            partial(self._costs, [each.entry for each in self.drawn]),
        )
        for part in ("purchases", "outside_in", "reversals_in"):
            self._add_costed(part, getattr(member, part), *self._by_entries(part))
        self._add_costed(
            "loans_to_it",
            member.loans_to_it,
            lambda: summed(self._credits_of(self.borrowed)),
            lambda: summed(figures.operand(Role.PLUS, f"{name_of(self.sheet, each)}.amount") for each in self.borrowed),
        )
        taken_back = self._by_entries("reversals_out") if self.bears else (_nothing, _nothing)
        self._add_costed("reversals_out", member.reversals_out, *taken_back)
        self._add_costed(
            "available", member.available, lambda: self._available("quantity"), lambda: self._available("cost")
        )
        if member.unit_cost is not None:
            figures.add(self.name("unit_cost"), member.unit_cost, Unit.UNIT_PRICE, self._unit_cost, (self.code,))

    def _by_entries(self, part: str) -> tuple[_Derive, _Derive]:
        return (
            lambda: summed(self.of_entries(f"{part}.quantity", Unit.CREDITS)),
            lambda: summed(self.of_entries(f"{part}.cost", Unit.MONEY)),
        )

    def _opening_quantity(self) -> Derivation:
        operands = handed_on(self.sheet, self.found, self.code, "held", self.name("closing.quantity"))
        for loan, operand in opening_loans(self.sheet, self.found):
            if loan.lender == self.code:
                operands.append(operand)
            elif loan.borrower == self.code:
                operands.append(replace(operand, role=Role.MINUS))
        return summed(operands)

    def _opening_cost(self) -> Derivation:
        return summed(handed_on(self.sheet, self.found, self.code, "cost", self.name("closing.cost")))

    def _available(self, what: str) -> Derivation:
        owes = what == "quantity" and self.member.opening.quantity < 0
        parts = _IN if owes else ("opening", *_IN)
        came = (self.operand(f"{part}.{what}") for part in parts)
        return summed([*came, self.operand(f"reversals_out.{what}", Role.MINUS)])

    def _unit_cost(self) -> Derivation:
        cost, quantity = self.operand("available.cost", Role.FACTOR), self.operand("available.quantity", Role.DIVISOR)
        return Formula.RATIO, (cost, quantity)

    def _asked(self) -> dict[str, int]:
        """Give the credits that leave, by the part they leave with, in the order that settles ties."""
        member = self.member
        spent = member.uses.quantity + member.outside_out.quantity
        return {part: spent if part == "spent" else getattr(member, part).quantity for part in _OUT}

    def _add_quantities_out(self) -> None:
        asked, member = self._asked(), self.member
        for part, entries in (("uses", self.uses), ("outside_out", self.outside), ("write_offs", self.written_off)):
            self._add_credits(part, getattr(member, part).quantity, partial(self._summed, entries))
        self._add_credits("spent", asked["spent"], partial(self._summed, self.spent))
        self._add_credits("loans_from_it", asked["loans_from_it"], lambda: summed(self._credits_of(self.lent)))
        owed = [self.operand("opening.quantity", Role.MINUS)] if asked["made_up"] else []
        self._add_credits("made_up", asked["made_up"], lambda: summed(owed))
        self._add_credits(
            "given_back", asked["given_back"], _nothing if self.bears else self._by_entries("reversals_out")[0]
        )
        self._add_credits("closing", member.closing.quantity, self._stays)

    def _add_credits(self, part: str, value: int, derive: _Derive) -> None:
        self.figures.add(self.name(f"{part}.quantity"), value, Unit.CREDITS, derive, (self.code,))

    def _summed(self, entries: _Entries) -> Derivation:
        return summed(
            from_entry(self.figures, entry, "quantity", quantity, Unit.CREDITS) for entry, quantity in entries
        )

    def _credits_of(self, loans: Iterable[Lending]) -> Iterable[Operand]:
        return (quantity_of(self.figures, self.sheet, each) for each in loans)

    def _stays(self) -> Derivation:
        left = (self.operand(f"{part}.quantity", Role.MINUS) for part in _OUT)
        return summed([self.operand("available.quantity"), *left])

    def _add_costs_out(self) -> None:
        """Apportion the cost of what was available, and parts of it once more over loans and entries."""
        member, asked = self.member, self._asked()
        served = covered(asked.values(), member.available.quantity)
        weights = dict(zip((*_OUT, "closing"), (*served, member.available.quantity - sum(served)), strict=True))
        wanted = asked | {"closing": member.closing.quantity}
        of = {part: f"{part}.quantity" if weights[part] == wanted[part] else f"{part}.there" for part in weights}
        for part, weight in of.items():
            if weight.endswith(".there"):
                derive = partial(self._there, list(of.values())[: list(of).index(part)])
                self.figures.add(self.name(weight), weights[part], Unit.CREDITS, derive, (self.code,))
        spent = member.uses.cost + member.outside_out.cost
        costs = {part: spent if part == "spent" else getattr(member, part).cost for part in weights}
        parts = [
            Part(self.name(f"{part}.cost"), costs[part], weight, partial(self.operand, of[part]), (self.code,))
            for part, weight in weights.items()
        ]
        self.figures.add_parts(self.name("available.cost"), self.name("available.quantity"), parts)
        self._add_costs_within()

    def _there(self, earlier: Sequence[str]) -> Derivation:
        """Give how many credits were there for a part: what those before it left."""
        return summed([self.operand("available.quantity"), *(self.operand(each, Role.MINUS) for each in earlier)])

    def _add_costs_within(self) -> None:
        lent = [
            Part(
                f"{name_of(self.sheet, each)}.cost",
                each.cost,
                each.quantity,
                partial(quantity_of, self.figures, self.sheet, each),
                (self.code,),
            )
            for each in self.lent
        ]
        self._add_parts("loans_from_it", lent)
        self._add_parts("spent", self._entry_parts(self.spent))
        self._add_parts("write_offs", self._entry_parts(self.written_off))
        for part, entries in (("uses", self.uses), ("outside_out", self.outside)):
            derive = partial(self._costs, [entry for entry, _ in entries])
            self._add_money(f"{part}.cost", getattr(self.member, part).cost, derive)

    def _add_parts(self, of: str, parts: Sequence[Part]) -> None:
        self.figures.add_parts(self.name(f"{of}.cost"), self.name(f"{of}.quantity"), parts)

    def _entry_parts(self, entries: _Entries) -> list[Part]:
        return [
            Part(
                f"entries.{entry}.cost",
                self.sheet.costs[entry],
                quantity,
                partial(from_entry, self.figures, entry, "quantity", quantity, Unit.CREDITS),
                (self.code,),
            )
            for entry, quantity in entries
        ]

    def _costs(self, entries: Iterable[int]) -> Derivation:
        return summed(self.figures.operand(Role.PLUS, f"entries.{entry}.cost", entry) for entry in entries)


def _nothing() -> Derivation:
    return summed(())
