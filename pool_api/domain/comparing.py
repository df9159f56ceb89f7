"""A month under two policies side by side: what each member's figures are under both, and by how much they differ.

How a month comes out under a policy is found in costing.py and netting.py. Amounts are minor units, unit costs exact
fractions of minor units per credit.
"""

from collections.abc import Iterator
from dataclasses import dataclass
from fractions import Fraction

from pool_api.domain.entries import Json
from pool_api.domain.sheets import Sheet


@dataclass(frozen=True, slots=True, kw_only=True)
class Version:
    """A month as it comes out under one policy; settlement is as a close freezes it."""

    sheet: Sheet
    settlement: Json


@dataclass(frozen=True, slots=True, kw_only=True)
class Outcome:
    """What a month comes to for a member: its blended unit cost, None where it had nothing, its due, what it is paid
    (below 0: pays), and its gain from lending. Of a difference, unit_cost is None where either side has none."""

    unit_cost: Fraction | None
    due: int
    net: int
    lending_gain: int

    def less(self, other: "Outcome") -> "Outcome":
        """Give by how much these figures are above others."""
        both = self.unit_cost is not None and other.unit_cost is not None
        return Outcome(
            unit_cost=(self.unit_cost or Fraction()) - (other.unit_cost or Fraction()) if both else None,
            due=self.due - other.due,
            net=self.net - other.net,
            lending_gain=self.lending_gain - other.lending_gain,
        )


@dataclass(frozen=True, slots=True, kw_only=True)
class MemberCompared:
    """A member's figures under the month's policy and under the alternative; difference is the latter less the
    former."""

    member: str
    present: Outcome
    alternative: Outcome

    @property
    def difference(self) -> Outcome:
        """By how much the alternative's figures are above the present ones."""
        return self.alternative.less(self.present)


@dataclass(frozen=True, slots=True, kw_only=True)
class Comparison:
    """A month under its own policy and under an alternative."""

    present: Version
    alternative: Version

    def members(self) -> Iterator[MemberCompared]:
        """Give every member's figures, in order of code."""
        alternative = dict(_outcomes(self.alternative))
        for code, outcome in _outcomes(self.present):
            yield MemberCompared(member=code, present=outcome, alternative=alternative[code])


def _outcomes(version: Version) -> Iterator[tuple[str, Outcome]]:
    nets = {each["member"]: each["amount"] for each in version.settlement["nets"]}
    for each in version.sheet.members:
        yield (
            each.member,
            Outcome(
                unit_cost=each.unit_cost,
                due=each.due.total,
                net=nets.get(each.member, 0),
                lending_gain=each.lending_gain,
            ),
        )
