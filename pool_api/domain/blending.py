"""How cost blends within one member, and what each part of what leaves it costs.

Promises: what comes in goes out, stays, or is shown as the member's difference, to the minor unit.

Everything that comes in makes one blended unit cost. By one apportion come out of it, in this order: what makes up for
credits that left before they were there, loans, uses with outside entries out, what reversals take back and the
available can't bear at the original amount, write-offs, closing. Each part is apportioned again over its entries.
Credits that aren't there when they leave go without cost, the last in that order first.
"""

from collections.abc import Sequence
from dataclasses import dataclass, replace
from fractions import Fraction

from pool_api.domain.effects import Tally
from pool_api.domain.layers import NOTHING, Costed, covered
from pool_api.domain.sheets import Due, Lending, MemberSheet
from pool_api.domain.values import apportion


@dataclass(frozen=True, slots=True, kw_only=True)
class Blend:
    """A member's month, with the cost of each of its uses, outside entries out and write-offs by entry number, and its
    loans with what their credits had cost."""

    sheet: MemberSheet
    costs: dict[int, int]
    lent: tuple[Lending, ...]


def blend(member: str, tally: Tally, lent: Sequence[Lending], borrowed: Sequence[Lending]) -> Blend:
    """Blend a member's month.

    Takes:   tally, complete; lent and borrowed, its settled loans of the month, lent in the order that settles ties."""
    loans_to_it = _sum([(each.quantity, each.amount) for each in borrowed])
    gained = _gained(tally, loans_to_it)
    back = tally.reversals_out
    bears = _bears(gained, back)
    available = Costed(gained.quantity - back.quantity, gained.cost - back.cost) if bears else gained
    asked = (
        max(-tally.opening.quantity, 0),
        sum(each.quantity for each in lent),
        sum(quantity for _, quantity in tally.spent),
        0 if bears else back.quantity,
        sum(quantity for _, quantity in tally.written_off),
    )
    served = covered(asked, available.quantity)
    weights = [*served, available.quantity - sum(served)]
    parts = apportion(available.cost, weights) if available.quantity else (0,) * len(weights)
    made_up, loans, spent, given_back, written_off, kept = parts
    loan_costs = _spread([each.quantity for each in lent], served[1], loans)
    spent_costs = _by_entry(tally.spent, served[2], spent)
    written_off_costs = _by_entry(tally.written_off, served[4], written_off)
    outside = _sum([(quantity, spent_costs[entry]) for entry, quantity in tally.spent if entry in tally.outside_out])
    stranded = 0 if available.quantity else available.cost
    due = replace(
        Due(**tally.due),
        loans_from_it=sum(each.amount for each in lent),
        loans_to_it=-loans_to_it.cost,
    )
    sheet = MemberSheet(
        member=member,
        opening=tally.opening,
        draws=tally.draws,
        purchases=tally.purchases,
        outside_in=tally.outside_in,
        loans_to_it=loans_to_it,
        reversals_in=tally.reversals_in,
        reversals_out=back if bears else NOTHING,
        available=available,
        unit_cost=Fraction(available.cost, available.quantity) if available.quantity else None,
        made_up=Costed(asked[0], made_up),
        loans_from_it=Costed(asked[1], loans),
        uses=Costed(asked[2] - outside.quantity, spent - outside.cost),
        outside_out=outside,
        given_back=Costed(asked[3], given_back),
        write_offs=Costed(asked[4], written_off),
        closing=Costed(available.quantity - sum(asked), kept),
        lending_gain=due.loans_from_it - loans - tally.gain_undone,
        difference=(0 if bears else back.cost - given_back) - stranded,
        due=due,
    )
    return Blend(
        sheet=sheet,
        costs=spent_costs | written_off_costs,
        lent=tuple(replace(each, cost=cost) for each, cost in zip(lent, loan_costs, strict=True)),
    )


def _gained(tally: Tally, loans_to_it: Costed) -> Costed:
    """Give all that came in. Credits that are owed from before don't lessen it: they come out of it, as made up."""
    own = tally.opening._replace(quantity=max(tally.opening.quantity, 0))
    return _sum([own, tally.draws, tally.purchases, tally.outside_in, loans_to_it, tally.reversals_in])


def _bears(gained: Costed, back: Costed) -> bool:
    """Whether what reversals take back can leave at its original amount: credits remain, at no cost below zero, or
    nothing at all."""
    return gained == back or (gained.quantity > back.quantity and gained.cost >= back.cost)


def _by_entry(entries: Sequence[tuple[int, int]], served: int, cost: int) -> dict[int, int]:
    parts = _spread([quantity for _, quantity in entries], served, cost)
    return {entry: part for (entry, _), part in zip(entries, parts, strict=True)}


def _spread(quantities: Sequence[int], served: int, cost: int) -> tuple[int, ...]:
    """Share a cost among quantities, in order, as far as they were served."""
    return apportion(cost, covered(quantities, served))


def _sum(parts: Sequence[tuple[int, int]]) -> Costed:
    return Costed(sum(quantity for quantity, _ in parts), sum(cost for _, cost in parts))
