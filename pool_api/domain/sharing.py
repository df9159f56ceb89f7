"""What members save by ordering together, and the rules by which that is shared.

The joint order is the cheapest single one, by the vendor's ladder, of at least all credits that some members took; what
a subgroup would pay by itself is the cheapest one for its own credits. Shares of what the joint order costs are exact
fractions of minor units, and whole minor units by `apportion`, in order of member code. Which credits are meant, and
what becomes of the shares, is not known here.
"""

from bisect import bisect_right
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from enum import StrEnum
from fractions import Fraction
from functools import cached_property, lru_cache
from hashlib import sha256
from itertools import accumulate
from math import factorial, gcd, isqrt, lcm

from pool_api.domain.ladder import Ladder
from pool_api.domain.pool import SavingRule
from pool_api.domain.values import apportion, half_up

MOST_STEPS = 500_000
"""How many pairs of a member and a total of credits are gone through at the most. Beyond, orders of joining are drawn
for the Shapley value, and it isn't told whether a subgroup would do better alone."""

SAMPLED = 1_000
"""How many orders of joining are drawn."""


class Verdict(StrEnum):
    """Whether shares are in the core: no subgroup would do better alone, one would, or there are too many to tell."""

    CORE = "core"
    OUTSIDE = "outside"
    UNTOLD = "untold"


@dataclass(frozen=True, slots=True, kw_only=True)
class Subgroup:
    """Some members but not all, in order of code, and what they pay beyond what they would by themselves, in minor
    units: 0 or less where they do no better alone."""

    members: tuple[str, ...]
    excess: Fraction


@dataclass(frozen=True, slots=True, kw_only=True)
class Shares:
    """What each member pays of the joint order by a rule, in order of code, adding up to its cost. sampled is how many
    orders of joining were drawn, 0 where the shares are exact; error is then the largest standard error of a share, in
    minor units, rounded up."""

    rule: SavingRule
    exact: Mapping[str, Fraction]
    sampled: int = 0
    error: int = 0

    @property
    def amounts(self) -> dict[str, int]:
        """The shares in whole minor units, adding up to the cost in them."""
        total = half_up(sum(self.exact.values(), Fraction()))
        return dict(zip(self.exact, apportion(total, whole_weights([*self.exact.values()])), strict=True))


def whole_weights(exact: Sequence[Fraction]) -> list[int]:
    """Give whole weights in the proportion of shares."""
    scale = lcm(*(each.denominator for each in exact))
    return [int(each * scale) for each in exact]


@dataclass(frozen=True, slots=True, kw_only=True)
class MemberSaving:
    """What a member took, what that would cost it alone, and what it pays of the joint order at one unit price for all
    and by a rule, in whole minor units; exact is the latter before rounding."""

    member: str
    credits: int
    alone: int
    unit_price: int
    share: int
    exact: Fraction

    @property
    def charge(self) -> int:
        """What the rule gives it beside one unit price for all: below 0 what it takes from it."""
        return self.unit_price - self.share


@dataclass(frozen=True, slots=True, kw_only=True)
class SharedSaving:
    """How the cost of a joint order by a ladder is shared by a rule, with all that it rests on, members in order of
    code; cost in whole minor units, sampled and error as of Shares. The charges add up to 0."""

    rule: SavingRule
    ladder: Ladder
    cost: int
    sampled: int
    error: int
    members: tuple[MemberSaving, ...]


@dataclass(frozen=True, kw_only=True)
class JointOrder:
    """An order for the credits that members took, each above 0, in order of code; at least one of them."""

    taken: tuple[tuple[str, int], ...]
    ladder: Ladder

    @cached_property
    def credits(self) -> int:
        """What all of them took."""
        return sum(credits for _, credits in self.taken)

    @property
    def cost(self) -> Fraction:
        """What it costs, in minor units."""
        return self.alone(self.credits)

    @property
    def ordered(self) -> tuple[int, Fraction]:
        """How many credits are ordered, at least as many as they took, and at what unit price, in minor units; of
        several that cost the same the fewest."""
        return self._prices.size(self.credits)

    def alone(self, credits: int) -> Fraction:
        """Give what those pay by themselves who took so many credits, in minor units; 0 for none."""
        return Fraction(self._price(credits), self._prices.scale)

    def shares(self, rule: SavingRule, seed: str = "") -> Shares:
        """Share the cost by a rule. seed: where orders of joining have to be drawn, the same ones for the same seed.

        Where nobody would pay anything alone, proportional is by credits too.
        Source: unit_price and proportional: own rules. shapley: L. S. Shapley, A value for n-person games, 1953."""
        if rule is SavingRule.SHAPLEY:
            return self._counted() if self._steps <= MOST_STEPS else self._drawn(seed)
        weights = dict(self.taken)
        by_alone = {code: self._price(credits) for code, credits in self.taken}
        if rule is SavingRule.PROPORTIONAL and any(by_alone.values()):
            weights = by_alone
        whole = sum(weights.values())
        return Shares(rule=rule, exact={code: self.cost * weight / whole for code, weight in weights.items()})

    def worst_off(self, paid: Mapping[str, Fraction | int]) -> Subgroup | None:
        """Give the subgroup that pays most beyond what it would by itself; of several one that took the fewest credits.

        Takes:   paid — by each member, minor units.
        Gives:   None where there are no subgroups (a single member), or too many.
        Source:  own: of the subgroups that took the same in all, the one that pays most is enough, as what they would
                 pay by themselves depends on that alone."""
        if len(self.taken) == 1 or len(self.taken) * self._totals > MOST_STEPS:
            return None
        exact = {code: Fraction(paid[code]) for code, _ in self.taken}
        scale = lcm(self._prices.scale, *(each.denominator for each in exact.values()))
        most: dict[int, tuple[int, _Chosen]] = {0: (0, None)}
        for code, credits in self.taken:
            amount = int(exact[code] * scale)
            for total, (pays, chosen) in [*most.items()]:
                there = most.get(total + credits)
                if there is None or there[0] < pays + amount:
                    most[total + credits] = pays + amount, (code, chosen)
        factor = scale // self._prices.scale
        excesses = ((pays - factor * self._price(total), -total) for total, (pays, _) in most.items())
        worst, total = max(each for each in excesses if 0 < -each[1] < self.credits)
        return Subgroup(members=tuple(_codes(most[-total][1]))[::-1], excess=Fraction(worst, scale))

    def verdict(self, worst: Subgroup | None) -> Verdict:
        """Say of shares whether they are in the core, by the subgroup that is worst off with them: to the minor unit,
        as nobody can be paid less than one."""
        if worst is None:
            return Verdict.CORE if len(self.taken) == 1 else Verdict.UNTOLD
        return Verdict.OUTSIDE if half_up(worst.excess) > 0 else Verdict.CORE

    def _counted(self) -> Shares:
        """Give the Shapley value exactly, by counting the subgroups of each size and total of credits.

        The counts of all sizes for one total are one whole number, a field of bits for each size, so that they are
        moved and multiplied at once. Those without a member are the counts of all, less those with it.
        Source: the counts as for voting games, I. Mann and L. S. Shapley, 1962 (from memory)."""
        members, width = len(self.taken), self._width
        counts = {0: 1}
        for _, credits in self.taken:
            for total, count in [*counts.items()]:
                counts[total + credits] = counts.get(total + credits, 0) + (count << width)
        totals = sorted(counts)
        value: dict[int, Fraction] = {}
        for credits in {credits for _, credits in self.taken}:
            without, added = dict[int, int](), 0
            for total in totals:
                if count := counts[total] - (without.get(total - credits, 0) << width):
                    without[total] = count
                    added += count * (self._price(total + credits) - self._price(total))
            fields = ((added >> (size * width)) & ((1 << width) - 1) for size in range(members))
            weighed = sum(factorial(at) * factorial(members - at - 1) * each for at, each in enumerate(fields))
            value[credits] = Fraction(weighed, factorial(members) * self._prices.scale)
        return Shares(rule=SavingRule.SHAPLEY, exact={code: value[credits] for code, credits in self.taken})

    def _drawn(self, seed: str) -> Shares:
        """Give the Shapley value by drawing orders of joining: the mean of what each member adds to the cost.

        Source: J. Castro, D. Gomez and J. Tejada, Polynomial calculation of the Shapley value based on sampling, 2009
        (from memory). An order is by a digest of seed, number and code, which is the same on every machine."""
        sums, squares = dict.fromkeys(dict(self.taken), 0), dict.fromkeys(dict(self.taken), 0)
        for number in range(SAMPLED):
            total, before = 0, 0
            for _, code, credits in sorted((_lot(seed, number, code), code, credits) for code, credits in self.taken):
                total += credits
                cost = self._price(total)
                sums[code] += cost - before
                squares[code] += (cost - before) ** 2
                before = cost
        spread = max(SAMPLED * squares[code] - sums[code] ** 2 for code in sums)
        error = isqrt(spread // (SAMPLED**2 * (SAMPLED - 1) * self._prices.scale**2)) + 1
        exact = {code: Fraction(each, SAMPLED * self._prices.scale) for code, each in sums.items()}
        return Shares(rule=SavingRule.SHAPLEY, exact=exact, sampled=SAMPLED, error=error)

    @cached_property
    def _prices(self) -> "_Prices":
        return _Prices.of(self.ladder)

    def _price(self, credits: int) -> int:
        return self._prices.cheapest(credits)

    @cached_property
    def _width(self) -> int:
        """How many bits a number of subgroups takes, times what the joint order costs."""
        return len(self.taken) + self._price(self.credits).bit_length() + 1

    @property
    def _totals(self) -> int:
        """How many totals of credits subgroups can have at the most."""
        return min(1 << len(self.taken), self.credits // gcd(*(credits for _, credits in self.taken)) + 1)

    @property
    def _steps(self) -> int:
        """How many pairs of a member and a total there are at the most; where counts are long, several times as
        many."""
        members = len(self.taken)
        return members * self._totals * (1 + members * self._width // 10_000)


def alone(ladder: Ladder, credits: int) -> Fraction:
    """Give what one order of at least so many credits costs at the least, in minor units; 0 for none."""
    prices = _Prices.of(ladder)
    return Fraction(prices.cheapest(credits), prices.scale)


@lru_cache(maxsize=64)
def shared_saving(taken: tuple[tuple[str, int], ...], ladder: Ladder, rule: SavingRule, seed: str) -> SharedSaving:
    """Share the cost of a joint order, as of JointOrder. What a month's members took stays for most of its entries, and
    the Shapley value may take a second."""
    order = JointOrder(taken=taken, ladder=ladder)
    shares, equal = order.shares(rule, seed), order.shares(SavingRule.UNIT_PRICE).amounts
    amounts = shares.amounts
    return SharedSaving(
        rule=rule,
        ladder=ladder,
        cost=half_up(order.cost),
        sampled=shares.sampled,
        error=shares.error,
        members=tuple(
            MemberSaving(
                member=code,
                credits=credits,
                alone=half_up(order.alone(credits)),
                unit_price=equal[code],
                share=amounts[code],
                exact=shares.exact[code],
            )
            for code, credits in taken
        ),
    )


_Chosen = tuple[str, "_Chosen"] | None
"""Members in the opposite order of their codes, each with those before it."""


def _codes(chosen: _Chosen) -> Iterator[str]:
    while chosen:
        code, chosen = chosen
        yield code


def _lot(seed: str, number: int, code: str) -> bytes:
    return sha256(f"{seed} {number} {code}".encode()).digest()


@dataclass(frozen=True, slots=True, kw_only=True)
class _Prices:
    """A ladder in whole numbers, so many parts of a minor unit each (scale): where its tiers begin, their unit prices,
    and what the cheapest order costs that begins a tier or a later one."""

    scale: int
    starts: tuple[int, ...]
    units: tuple[int, ...]
    ahead: tuple[int, ...]

    @staticmethod
    @lru_cache(maxsize=64)
    def of(ladder: Ladder) -> "_Prices":
        """Give a ladder in whole numbers."""
        steps = ladder.steps()
        scale = lcm(*(price.denominator for _, price in steps))
        whole = [(start, int(price * scale)) for start, price in steps]
        ahead = [*accumulate((start * unit for start, unit in reversed(whole)), min)]
        return _Prices(
            scale=scale,
            starts=tuple(start for start, _ in whole),
            units=tuple(unit for _, unit in whole),
            ahead=tuple(reversed(ahead)),
        )

    def size(self, credits: int) -> tuple[int, Fraction]:
        """Give the size of the cheapest order of at least so many credits, and its unit price."""
        sizes = (credits, *(start for start in self.starts if start > credits))
        size = next(each for each in sizes if each >= self.starts[0] and self._own(each) == self.cheapest(credits))
        return size, Fraction(self._own(size), size * self.scale)

    def _own(self, size: int) -> int:
        return size * self.units[bisect_right(self.starts, size) - 1]

    def cheapest(self, credits: int) -> int:
        """Give what the cheapest order of at least so many credits costs, as Ladder.cheapest does; 0 for none."""
        if credits == 0:
            return 0
        tier = bisect_right(self.starts, credits)
        if tier == 0:
            return self.ahead[0]
        own = credits * self.units[tier - 1]
        return min(own, self.ahead[tier]) if tier < len(self.ahead) else own
