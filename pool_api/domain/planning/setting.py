"""What a plan rests on: the needs of coming months, what is there already, prices, costs and limits.

Credits are whole credits, money minor units; the holding cost may be a fraction of them. A setting is plain values that
can be kept as JSON and read again; what follows from it is found in orders.py.
"""

from collections.abc import Mapping
from dataclasses import dataclass, replace
from datetime import date
from fractions import Fraction
from math import lcm
from typing import Any, Self

from pool_api.domain.errors import PlanUnfit
from pool_api.domain.ladder import Ladder, Tier
from pool_api.domain.values import MOST_CREDITS, MOST_MINOR, Currency, Month, half_up

MOST_MONTHS = 60


@dataclass(frozen=True, slots=True, kw_only=True)
class Opening:
    """The credits at hand when the first month begins, and where that is from: the stock and what members held at an
    entry of the journal, or, with entry None, what was stated."""

    quantity: int
    entry: int | None = None
    stock: int | None = None
    held: int | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Setting:
    """needs are each member's credits by month, in order of member; ladders has the one that counts in each month.
    forecast_at is the entry of the journal up to which needs were forecast, None where they were stated.

    order_cost is paid with every order; holding_cost is of a credit that is kept from one month to the next. Credits
    bought in a month are good in it and the following ones, `expiry` months in all (None: for ever); those at hand in
    the beginning count as bought then. What orders and their costs come to in a month keeps within cash_limit; no order
    brings what is at hand above stock_cap.

    Refuses: PlanUnfit."""

    first_month: Month
    needs: tuple[tuple[str, tuple[int, ...]], ...]
    opening: Opening
    ladders: tuple[Ladder, ...]
    order_cost: int = 0
    holding_cost: str = "0"
    expiry: int | None = None
    cash_limit: int | None = None
    stock_cap: int | None = None
    forecast_at: int | None = None

    def __post_init__(self) -> None:
        count = len(self.needs[0][1]) if self.needs else 0
        if not 1 <= count <= MOST_MONTHS:
            raise PlanUnfit(reason=f"needs are stated for {count} months, not for 1 to {MOST_MONTHS}")
        for member, credits in self.needs:
            if len(credits) != count:
                raise PlanUnfit(reason=f"the needs of {member} are {len(credits)}, those of {self.needs[0][0]} {count}")
        if sum(self.totals) > MOST_CREDITS:
            raise PlanUnfit(reason=f"all needs together are above {MOST_CREDITS} credits")
        if self._most_cost() > MOST_MINOR:
            raise PlanUnfit(reason=f"it could cost more than {self.currency.text(MOST_MINOR)}")

    def _most_cost(self) -> Fraction:
        """Give what no cheapest plan costs more than, smallest orders apart: every need at the dearest price, kept
        throughout."""
        dearest = max(price for ladder in self.ladders for _, price in ladder.steps())
        months = len(self.ladders)
        kept = self.currency.unit_price(self.holding_cost) * months
        return (dearest + kept) * sum(self.totals) + self.order_cost * months

    @property
    def currency(self) -> Currency:
        """The currency of all amounts."""
        return self.ladders[0].currency

    @property
    def totals(self) -> tuple[int, ...]:
        """What all members together need, by month."""
        return tuple(map(sum, zip(*(credits for _, credits in self.needs), strict=True)))

    @property
    def months(self) -> tuple[Month, ...]:
        """The months that needs are stated for."""
        found = [self.first_month]
        while len(found) < len(self.needs[0][1]):
            found.append(found[-1].next())
        return tuple(found)

    def scaled_needs(self, part: Fraction) -> Self:
        """Give the setting with a part of each need, half up."""
        scaled = tuple((member, tuple(half_up(each * part) for each in credits)) for member, credits in self.needs)
        return replace(self, needs=scaled)

    def as_json(self) -> dict[str, Any]:
        """Give the setting as a JSON object."""
        return {
            "currency": self.currency.code,
            "first_month": str(self.first_month),
            "needs": [[member, [*credits]] for member, credits in self.needs],
            "opening": {name: getattr(self.opening, name) for name in Opening.__slots__},
            "ladders": [
                [each.valid_from.isoformat(), [[tier.from_credits, tier.unit_price] for tier in each.tiers]]
                for each in dict.fromkeys(self.ladders)
            ],
            "ladder_of_month": [[*dict.fromkeys(self.ladders)].index(each) for each in self.ladders],
            **{name: getattr(self, name) for name in _PLAIN},
        }

    @classmethod
    def from_json(cls, told: Mapping[str, Any]) -> Self:
        """Read what as_json gave."""
        currency = Currency(told["currency"])
        ladders = [
            Ladder(valid_from=date.fromisoformat(day), currency=currency, tiers=tuple(Tier(*tier) for tier in tiers))
            for day, tiers in told["ladders"]
        ]
        return cls(
            first_month=Month.parse(told["first_month"]),
            needs=tuple((member, tuple(credits)) for member, credits in told["needs"]),
            opening=Opening(**told["opening"]),
            ladders=tuple(ladders[at] for at in told["ladder_of_month"]),
            **{name: told[name] for name in _PLAIN if name in told},
        )


_PLAIN = ("order_cost", "holding_cost", "expiry", "cash_limit", "stock_cap", "forecast_at")
"""Fields that are kept as they are. Plans that were made before needs were forecast don't state the last one."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Window:
    """Sizes of an order that one unit price is for, from least to most, in the scale of Terms."""

    least: int
    most: int
    price: int


@dataclass(frozen=True, slots=True, kw_only=True)
class Terms:
    """A setting as whole numbers: all money in parts of a minor unit, `scale` to one, so that nothing is rounded.

    windows are the sizes of order that each month's cash is enough for; useful says how many credits a month can leave
    that the needs of the following months still take before they expire."""

    scale: int
    needs: tuple[int, ...]
    windows: tuple[tuple[Window, ...], ...]
    useful: tuple[int, ...]
    opening: int
    order_cost: int
    holding_cost: int
    stock_cap: int | None


def terms_of(setting: Setting) -> Terms:
    """Give a setting as whole numbers.

    The stock that a month leaves is at most what the months need in which credits just bought are still good. Then,
    oldest first, all that is kept is used in time, so that no plan has to know ages (own proof, decision 48)."""
    needs, count = setting.totals, len(setting.totals)
    holding = setting.currency.unit_price(setting.holding_cost)
    prices = [price for ladder in set(setting.ladders) for _, price in ladder.steps()]
    scale = lcm(holding.denominator, *(price.denominator for price in prices))
    good = count if setting.expiry is None else setting.expiry
    return Terms(
        scale=scale,
        needs=needs,
        windows=tuple(_windows(setting, ladder, scale) for ladder in setting.ladders),
        useful=tuple(sum(needs[at + 1 : at + good]) for at in range(count)),
        opening=min(setting.opening.quantity, sum(needs[:good])),
        order_cost=setting.order_cost * scale,
        holding_cost=int(holding * scale),
        stock_cap=setting.stock_cap,
    )


def _windows(setting: Setting, ladder: Ladder, scale: int) -> tuple[Window, ...]:
    steps, found = ladder.steps(), list[Window]()
    for at, (least, price) in enumerate(steps):
        below_next = steps[at + 1][0] - 1 if at + 1 < len(steps) else MOST_CREDITS
        most = min(
            below_next, _affordable(setting, price), below_next if setting.stock_cap is None else setting.stock_cap
        )
        if least <= most:
            found.append(Window(least=least, most=most, price=int(price * scale)))
    return tuple(found)


def _affordable(setting: Setting, price: Fraction) -> int:
    """Give how many credits a month's cash is enough for, beside the cost of the order."""
    if setting.cash_limit is None:
        return MOST_CREDITS
    cash = setting.cash_limit - setting.order_cost
    if cash < 0:
        return 0
    return cash // price if price else MOST_CREDITS
