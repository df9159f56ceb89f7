"""The values of the book: credits, money, unit prices, months and codes, and the only rounding in the project.

Credits are whole credits (int). Money is in minor units of the pool's currency (int). A unit price is an exact
fraction of minor units per credit, rounded only where it is shown. No entry, policy or wire form is known here.
"""

import re
from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import UTC, date, datetime, timedelta
from decimal import Decimal
from fractions import Fraction
from itertools import islice
from typing import Self

from pool_api.domain.errors import (
    AmountOutOfRange,
    AmountTooPrecise,
    PeriodBackwards,
    QuantityOutOfRange,
    UnknownCurrency,
)

STOCK = "stock"
"""Stands where a member's code could stand, for the pool's common credits; a member's code has no small letters."""

MOST_CREDITS = 1_000_000_000
MOST_MINOR = 10**15 - 1
"""The largest amount, in minor units: small enough that sums of a month stay far below 2**63."""

MEMBER_CODE = re.compile(r"[A-Z][A-Z0-9-]{0,15}")
POOL_ID = re.compile(r"[a-z][a-z0-9-]{1,39}")

_DECIMALS = {
    0: "BIF CLP DJF GNF ISK JPY KMF KRW PYG RWF UGX UYI VND VUV XAF XOF XPF",
    2: (
        "AED AFN ALL AMD AOA ARS AUD AWG AZN BAM BBD BDT BMD BND BOB BOV BRL BSD BTN BWP BYN BZD CAD CDF CHE CHF CHW "
        "CNY COP COU CRC CUP CVE CZK DKK DOP DZD EGP ERN ETB EUR FJD FKP GBP GEL GHS GIP GMD GTQ GYD HKD HNL HTG HUF "
        "IDR ILS INR IRR JMD KES KGS KHR KPW KYD KZT LAK LBP LKR LRD LSL MAD MDL MGA MKD MMK MNT MOP MRU MUR MVR MWK "
        "MXN MXV MYR MZN NAD NGN NIO NOK NPR NZD PAB PEN PGK PHP PKR PLN QAR RON RSD RUB SAR SBD SCR SDG SEK SGD SHP "
        "SLE SOS SRD SSP STN SVC SYP SZL THB TJS TMT TOP TRY TTD TWD TZS UAH USD USN UYU UZS VED VES WST XAD XCD XCG "
        "YER ZAR ZMW ZWG"
    ),
    3: "BHD IQD JOD KWD LYD OMR TND",
    4: "CLF UYW",
}
_DECIMALS_OF = {code: decimals for decimals, codes in _DECIMALS.items() for code in codes.split()}

UNIT_PRICE_DECIMALS = 4
"""Unit prices are shown to this many decimals of the major unit."""

_UNIT_PRICE_SCALE = int(10**UNIT_PRICE_DECIMALS)


def half_up(value: Fraction) -> int:
    """Round to the nearest integer, halves away from zero.

    Source: Council Regulation (EC) 1103/97, article 5, for the half-way case of amounts that are not negative."""
    magnitude = (2 * abs(value.numerator) + value.denominator) // (2 * value.denominator)
    return magnitude if value >= 0 else -magnitude


def apportion(total: int, weights: Sequence[int]) -> tuple[int, ...]:
    """Share a whole total in proportion to weights so that the parts add up to it exactly.

    Takes:   total of any sign; weights >= 0, one per part, in the order that settles ties.
    Gives:   one part per weight; each within 1 of its exact share.
    Refuses: nothing; ValueError when the total is not 0 and no weight is above 0.
    Source:  the method of largest remainders (Hamilton); ties go to the earlier weight. Equal weights have equal
             remainders: only distinct ones are divided and sorted, which matters for a month of a million entries."""
    whole = sum(weights)
    if total == 0:
        return (0,) * len(weights)
    if whole <= 0:
        raise ValueError("a total other than 0 needs a weight above 0")
    size, counts = abs(total), Counter(weights)
    exact = {weight: divmod(size * weight, whole) for weight in counts}
    left = size - sum(exact[weight][0] * count for weight, count in counts.items())
    alike, last = Counter[int](), 0
    for weight, count in counts.items():
        alike[exact[weight][1]] += count
    for remainder in sorted(alike, reverse=True):
        if left < alike[remainder]:
            last = remainder
            break
        left -= alike[remainder]
    rounded = {weight: floor + (remainder > last) for weight, (floor, remainder) in exact.items()}
    parts = [rounded[weight] for weight in weights]
    for at in islice((at for at, weight in enumerate(weights) if exact[weight][1] == last), left):
        parts[at] += 1
    return tuple(parts) if total > 0 else tuple(-part for part in parts)


def checked_quantity(quantity: int) -> int:
    """Give the quantity back when it is from 1 to 1,000,000,000 credits. Refuses: QuantityOutOfRange."""
    if not 1 <= quantity <= MOST_CREDITS:
        raise QuantityOutOfRange(quantity=quantity)
    return quantity


@dataclass(frozen=True, slots=True)
class Currency:
    """A currency of ISO 4217 with its number of decimals."""

    code: str

    def __post_init__(self) -> None:
        if self.code not in _DECIMALS_OF:
            raise UnknownCurrency(currency=self.code)

    @property
    def decimals(self) -> int:
        """Decimals of the major unit, per ISO 4217 (list of 2026-01-01)."""
        return _DECIMALS_OF[self.code]

    @property
    def _minor_units(self) -> int:
        return int(10**self.decimals)

    def minor(self, amount: Decimal, *, least: int = 0) -> int:
        """Give an amount of major units in minor units.

        Refuses: AmountTooPrecise when it has more decimals than the currency; AmountOutOfRange below `least` or above
        MOST_MINOR."""
        scaled = Fraction(amount) * self._minor_units
        if scaled.denominator != 1:
            raise AmountTooPrecise(amount=str(amount), currency=self.code, decimals=self.decimals)
        if not least <= scaled.numerator <= MOST_MINOR:
            raise AmountOutOfRange(amount=str(amount), least=least, most=MOST_MINOR)
        return scaled.numerator

    def text(self, minor: int) -> str:
        """Show minor units as a decimal text of major units, such as -961.07."""
        return _fixed(minor, _DECIMALS_OF[self.code])

    def unit_text(self, price: Fraction) -> str:
        """Show a unit price of minor units per credit as major units per credit, to 4 decimals, half up."""
        return _fixed(half_up(price * _UNIT_PRICE_SCALE / self._minor_units), UNIT_PRICE_DECIMALS)

    def unit_price(self, text: str) -> Fraction:
        """Read a unit price of major units per credit as an exact fraction of minor units per credit."""
        return Fraction(text) * self._minor_units


def thousandths_text(thousandths: int) -> str:
    """Show thousandths of a credit, or of anything else, as decimal text, such as 12.500."""
    return _fixed(thousandths, 3)


def _fixed(scaled: int, decimals: int) -> str:
    if decimals == 0:
        return str(scaled)
    digits = str(scaled if scaled >= 0 else -scaled)
    if len(digits) <= decimals:
        digits = digits.zfill(decimals + 1)
    return f"{'-' if scaled < 0 else ''}{digits[:-decimals]}.{digits[-decimals:]}"


@dataclass(frozen=True, slots=True, order=True)
class Month:
    """A calendar month in the pool's time zone."""

    year: int
    number: int

    @classmethod
    def of(cls, day: date) -> Self:
        """Give the month that a day lies in."""
        return cls(day.year, day.month)

    @classmethod
    def parse(cls, text: str) -> Self:
        """Read yyyy-mm. ValueError for any other text."""
        if not re.fullmatch(r"[0-9]{4}-(0[1-9]|1[0-2])", text):
            raise ValueError(f"not a month: {text}")
        return cls(int(text[:4]), int(text[5:]))

    @property
    def first(self) -> date:
        """The first day of the month."""
        return date(self.year, self.number, 1)

    @property
    def last(self) -> date:
        """The last day of the month."""
        return self.next().first - timedelta(days=1)

    def next(self) -> "Month":
        """Give the month after."""
        return Month(self.year + self.number // 12, self.number % 12 + 1)

    def previous(self) -> "Month":
        """Give the month before."""
        return Month(self.year - (self.number == 1), (self.number - 2) % 12 + 1)

    def __str__(self) -> str:
        return f"{self.year:04d}-{self.number:02d}"


@dataclass(frozen=True, slots=True, kw_only=True)
class Period:
    """Months from a first to a last one, both included. Refuses: PeriodBackwards."""

    first: Month
    last: Month

    def __post_init__(self) -> None:
        if self.last < self.first:
            raise PeriodBackwards(first=str(self.first), last=str(self.last))


def instant_text(at: datetime) -> str:
    """Give an aware instant as RFC 3339 text in UTC with microseconds, so that texts sort as instants do."""
    return at.astimezone(UTC).isoformat(timespec="microseconds").replace("+00:00", "Z")


def months_between(first: Month, last: Month) -> tuple[Month, ...]:
    """Give every month from first to last, both included; empty when last is before first."""
    found = []
    while first <= last:
        found.append(first)
        first = first.next()
    return tuple(found)
