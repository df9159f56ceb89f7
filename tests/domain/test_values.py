"""Credits, money, months: rounding and apportioning against published figures and general reference libraries."""

from datetime import date
from decimal import ROUND_HALF_UP, Decimal
from fractions import Fraction

import pytest
from apportionment.methods import compute as apportioned
from hypothesis import assume, given
from hypothesis import strategies as st
from iso4217 import Currency as ListedCurrency

from pool_api.domain.errors import AmountOutOfRange, AmountTooPrecise, QuantityOutOfRange, UnknownCurrency
from pool_api.domain.values import Currency, Month, apportion, checked_quantity, half_up, months_between

EUR = Currency("EUR")


# Slovenia's euro changeover, evro.si: 24.784 and 24.785 to the cent; 500 and 1,000 tolars at 239.640 a euro.
# "tuition CN 7", example 2, scribd.com/document/495700079: five debts at 6.126, 0.880 and 0.680 to whole dollars.
# janitor (R), tests of round_half_up; clinUtils (R).
# PHP's test suite, round modes, case "up": halves go away from zero.
# ISO 80000-1, annex B, rule B, from memory: 12.25 and 12.35 to tenths.
@pytest.mark.parametrize(
    ("exact", "rounded"),
    [
        (Fraction("24.784") * 100, 2478),
        (Fraction("24.785") * 100, 2479),
        (Fraction(500) / Fraction("239.640") * 100, 209),
        (Fraction(1000) / Fraction("239.640") * 100, 417),
        (Fraction(1_200_000) / Fraction("6.126"), 195_886),
        (Fraction(480_000) / Fraction("0.880"), 545_455),
        (Fraction(800_000) / Fraction("6.126"), 130_591),
        (Fraction(74_000) / Fraction("0.680"), 108_824),
        (Fraction(375_000) / Fraction("0.880"), 426_136),
        (Fraction("-0.5"), -1),
        (Fraction("0.5"), 1),
        (Fraction("1.125") * 100, 113),
        (Fraction("1.135") * 100, 114),
        (Fraction("2436.845") * 100, 243685),
        (Fraction("18.275") * 100, 1828),
        (Fraction("2.5"), 3),
        (Fraction("-2.5"), -3),
        (Fraction("3.5"), 4),
        (Fraction("-3.5"), -4),
        (Fraction("12.25") * 10, 123),
        (Fraction("12.35") * 10, 124),
    ],
)
def test_half_up_gives_the_published_figures(exact: Fraction, rounded: int) -> None:
    assert rounded == half_up(exact)


@given(st.decimals(allow_nan=False, allow_infinity=False, places=4, min_value=-(10**12), max_value=10**12))
def test_half_up_agrees_with_the_general_decimal_arithmetic(value: Decimal) -> None:
    assert int(value.quantize(Decimal(1), rounding=ROUND_HALF_UP)) == half_up(Fraction(value))


CENSUS_1790 = {
    "Connecticut": 236_841, "Delaware": 55_540, "Georgia": 70_835, "Kentucky": 68_705, "Maryland": 278_514,
    "Massachusetts": 475_327, "New Hampshire": 141_822, "New Jersey": 179_570, "New York": 331_589,
    "North Carolina": 353_523, "Pennsylvania": 432_879, "Rhode Island": 68_446, "South Carolina": 206_236,
    "Vermont": 85_533, "Virginia": 630_560,
}  # fmt: skip


# US census of 1790, Hamilton's method for 120 seats: For All Practical Purposes, 10th edition, table 14.5.
def test_apportioning_gives_hamiltons_house_of_1790() -> None:
    assert (8, 2, 2, 2, 9, 16, 5, 6, 11, 12, 14, 2, 7, 3, 21) == apportion(120, list(CENSUS_1790.values()))


# MAA Convergence: of the 105 seats given by Jefferson's method, Hamilton's gives Virginia one less, Delaware one more.
def test_apportioning_moves_one_of_jeffersons_105_seats_from_virginia_to_delaware() -> None:
    jefferson = {state: population // 33_000 for state, population in CENSUS_1790.items()}
    hamilton = jefferson | {"Virginia": jefferson["Virginia"] - 1, "Delaware": jefferson["Delaware"] + 1}

    assert sum(jefferson.values()) == 105
    assert tuple(hamilton.values()) == apportion(105, list(CENSUS_1790.values()))


@given(total=st.integers(-60, 60), weights=st.lists(st.integers(0, 6), min_size=1, max_size=12).filter(any))
def test_equal_remainders_are_rounded_up_from_the_earlier_weight_on(total: int, weights: list[int]) -> None:
    """By the definition, weight by weight."""
    exact = [Fraction(abs(total) * weight, sum(weights)) for weight in weights]
    parts = [int(each) for each in exact]
    by_remainder = sorted(range(len(weights)), key=lambda at: (parts[at] - exact[at], at))
    for at in by_remainder[: abs(total) - sum(parts)]:
        parts[at] += 1

    assert tuple(part if total >= 0 else -part for part in parts) == apportion(total, weights)


# Balinski and Young, "The Quota Method of Apportionment", 1975, as held in the tests of the package apportionment;
# the last is its tie, which goes to the earlier entry.
@pytest.mark.parametrize(
    ("votes", "seats", "parts"),
    [
        ([5117, 4400, 162, 161, 160], 100, (51, 44, 2, 2, 1)),
        ([14, 28, 7, 35], 12, (2, 4, 1, 5)),
        ([0, 14, 28, 0, 0], 6, (0, 2, 4, 0, 0)),
        ([10, 9, 8, 8, 11, 12], 3, (1, 0, 0, 0, 1, 1)),
        ([2, 1, 1, 2, 2], 2, (1, 0, 0, 1, 0)),
    ],
)
def test_apportioning_gives_the_published_seats(votes: list[int], seats: int, parts: tuple[int, ...]) -> None:
    assert parts == apportion(seats, votes)


WEIGHTS = st.lists(st.integers(0, 10**6), min_size=1, max_size=12).filter(any)


@given(WEIGHTS, st.integers(1, 500))
def test_apportioning_agrees_with_a_general_library(weights: list[int], seats: int) -> None:
    """Where no two remainders are equal: the library tells those apart by floating point."""
    remainders = [seats * weight % sum(weights) for weight in weights]
    assume(len(set(remainders)) == len(remainders))

    assert apportioned("largest_remainder", weights, seats, tiesallowed=True, verbose=False) == list(
        apportion(seats, weights)
    )


@given(WEIGHTS, st.integers(-(10**12), 10**12))
def test_the_parts_add_up_and_each_is_within_one_of_its_share(weights: list[int], total: int) -> None:
    parts = apportion(total, weights)

    assert total == sum(parts)
    assert all(abs(part - Fraction(total * w, sum(weights))) < 1 for part, w in zip(parts, weights, strict=True))
    assert tuple(-part for part in parts) == apportion(-total, weights)


def test_a_total_without_any_weight_is_a_mistake_of_the_program() -> None:
    assert (0, 0) == apportion(0, [0, 0])
    with pytest.raises(ValueError, match="weight above 0"):
        apportion(1, [0, 0])


# ISO 4217, list of 2026-01-01, as shipped in the package iso4217 (public domain).
@pytest.mark.parametrize("listed", list(ListedCurrency), ids=lambda listed: listed.code)
def test_every_currency_has_the_decimals_of_the_standard(listed: ListedCurrency) -> None:
    if listed.exponent is None:
        with pytest.raises(UnknownCurrency):
            Currency(listed.code)
    else:
        assert listed.exponent == Currency(listed.code).decimals


@pytest.mark.parametrize(
    ("code", "minor", "text"),
    [
        ("EUR", -96_107, "-961.07"),
        ("EUR", 5, "0.05"),
        ("JPY", 3450, "3450"),
        ("KWD", 1, "0.001"),
        ("CLF", -1, "-0.0001"),
    ],
)
def test_money_is_text_and_back_without_loss(code: str, minor: int, text: str) -> None:
    currency = Currency(code)

    assert text == currency.text(minor)
    assert minor == currency.minor(Decimal(text), least=-(10**6))


def test_an_amount_must_fit_its_currency() -> None:
    with pytest.raises(AmountTooPrecise, match=r"7\.125 has more decimals than EUR has \(2\)"):
        EUR.minor(Decimal("7.125"))
    with pytest.raises(AmountOutOfRange):
        EUR.minor(Decimal("-0.01"))
    assert 712 == EUR.minor(Decimal("7.1200"))


def test_a_unit_price_is_shown_to_four_decimals_and_kept_exact() -> None:
    """The pool's worked example: 4,240.00 for 600 credits."""
    assert "7.0667" == EUR.unit_text(Fraction(424_000, 600))
    assert "706.6667" == Currency("JPY").unit_text(Fraction(424_000, 600))
    assert Fraction("725.75") == EUR.unit_price("7.2575")


@pytest.mark.parametrize("quantity", [0, -1, 1_000_000_001])
def test_a_quantity_is_from_one_to_a_billion(quantity: int) -> None:
    with pytest.raises(QuantityOutOfRange):
        checked_quantity(quantity)


@given(st.dates(date(2000, 1, 1), date(2999, 11, 30)))
def test_months_follow_one_another_without_a_gap(day: date) -> None:
    month = Month.of(day)

    assert month.first <= day <= month.last
    assert month == month.next().previous() == Month.parse(str(month))
    assert (month, month.next()) == months_between(month, month.next())
    assert () == months_between(month.next(), month)


@pytest.mark.parametrize("text", ["2026-13", "2026-00", "2026-1", "26-01", "2026-01-01", "٢٠٢٦-01"])
def test_other_text_is_no_month(text: str) -> None:
    with pytest.raises(ValueError, match="not a month"):
        Month.parse(text)
