"""How cost blends within one member, and what each part of what leaves it costs.

Promises: what comes in goes out, stays, or is shown as the member's difference, to the minor unit.

Everything that comes in makes one blended unit cost. By one apportion come out of it, in this order: what makes up for
credits that left before they were there, loans, uses with outside entries out, what reversals take back and the
available can't bear at the original amount, write-offs, closing. Each part is apportioned again over its entries.
Credits that aren't there when they leave go without cost, those of the last part in that order first.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from fractions import Fraction
from typing import NamedTuple

from pool_api.domain.effects import Tally
from pool_api.domain.layers import NOTHING, Costed, covered
from pool_api.domain.sheets import Due, Lending, MemberSheet
from pool_api.domain.values import apportion


@dataclass(frozen=True, slots=True, kw_only=True)
class Blend:
    """A member's month, with the cost of each of its uses, outside entries out and write-offs by entry number, and what
    the credits of each of its loans had cost, in their order."""

    sheet: MemberSheet
    costs: dict[int, int]
    lent_costs: tuple[int, ...]


def blend(member: str, tally: Tally, lent: Sequence[Lending], borrowed: Sequence[Lending]) -> Blend:
    """Blend a member's month.

    Takes:   tally, complete; lent and borrowed, all that it passed to members and got from them, lent in the order that
             settles ties."""
    loans_to_it = _sum([(each.quantity, each.amount) for each in borrowed])
    flow = _leave(tally, loans_to_it, lent)
    lent_costs = apportion(flow.loans.cost, [each.quantity for each in lent])
    spent_costs = _by_entry(tally.spent, flow.spent.cost)
    written_off_costs = _by_entry(tally.written_off, flow.written_off.cost)
    outside = _sum([(quantity, spent_costs[entry]) for entry, quantity in tally.spent if entry in tally.outside_out])
    received = sum(each.amount for each in lent)
    sheet = MemberSheet(
        member=member,
        opening=tally.opening,
        draws=tally.draws,
        purchases=tally.purchases,
        outside_in=tally.outside_in,
        loans_to_it=loans_to_it,
        reversals_in=tally.reversals_in,
        reversals_out=flow.taken_back,
        available=flow.available,
        unit_cost=Fraction(flow.available.cost, flow.available.quantity) if flow.available.quantity else None,
        made_up=flow.made_up,
        loans_from_it=flow.loans,
        uses=Costed(flow.spent.quantity - outside.quantity, flow.spent.cost - outside.cost),
        outside_out=outside,
        given_back=flow.given_back,
        write_offs=flow.written_off,
        closing=flow.closing,
        lending_gain=received - flow.loans.cost - tally.gain_undone,
        difference=flow.difference,
        due=Due(**tally.due),
    )
    return Blend(sheet=sheet, costs=spent_costs | written_off_costs, lent_costs=lent_costs)


def available(tally: Tally, loans_to_it: Costed) -> tuple[Costed, Costed]:
    """Give what a member has available, and what reversals took of it at the original amounts: all or, where it can't
    bear that, nothing. Credits that are owed from before don't lessen it: they come out of it, as made up."""
    own = tally.opening._replace(quantity=max(tally.opening.quantity, 0))
    gained = _sum([own, tally.draws, tally.purchases, tally.outside_in, loans_to_it, tally.reversals_in])
    back = tally.reversals_out
    if gained == back or (gained.quantity > back.quantity and gained.cost >= back.cost):
        return Costed(gained.quantity - back.quantity, gained.cost - back.cost), back
    return gained, NOTHING


class _Leaving(NamedTuple):
    """How what was available left or stayed; quantities as asked for, whether they were there or not."""

    taken_back: Costed
    available: Costed
    made_up: Costed
    loans: Costed
    spent: Costed
    given_back: Costed
    written_off: Costed
    closing: Costed
    difference: int


def _leave(tally: Tally, loans_to_it: Costed, lent: Sequence[Lending]) -> _Leaving:
    """Apportion all that a member has available over what leaves it and what it keeps."""
    there, taken_back = available(tally, loans_to_it)
    back = NOTHING if taken_back == tally.reversals_out else tally.reversals_out
    asked = (
        max(-tally.opening.quantity, 0),
        sum(each.quantity for each in lent),
        sum([quantity for _, quantity in tally.spent]),
        back.quantity,
        sum([quantity for _, quantity in tally.written_off]),
    )
    served = covered(asked, there.quantity)
    weights = [*served, there.quantity - sum(served)]
    parts = apportion(there.cost, weights) if there.quantity else (0,) * len(weights)
    made_up, loans, spent, given_back, written_off = map(Costed, asked, parts[:-1])
    stranded = 0 if there.quantity else there.cost
    return _Leaving(
        taken_back=taken_back,
        available=there,
        made_up=made_up,
        loans=loans,
        spent=spent,
        given_back=given_back,
        written_off=written_off,
        closing=Costed(there.quantity - sum(asked), parts[-1]),
        difference=back.cost - given_back.cost - stranded,
    )


def _by_entry(entries: Sequence[tuple[int, int]], cost: int) -> dict[int, int]:
    parts = apportion(cost, [quantity for _, quantity in entries])
    return {entry: part for (entry, _), part in zip(entries, parts, strict=True)}


def _sum(parts: Sequence[tuple[int, int]]) -> Costed:
    return Costed(sum(quantity for quantity, _ in parts), sum(cost for _, cost in parts))
