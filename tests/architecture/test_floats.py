import ast

import pytest

from tests.architecture.floats import floats
from tests.architecture.sources import named, parsed, python_files


@pytest.mark.parametrize(
    "line",
    [
        "price = 7.07",
        "price = 1e3",
        "price = 2j",
        "price = float('7.07')",
        "def cost(price: float) -> int: ...",
        "price: list[float] = []",
        "isinstance(price, int | float)",
        "price = math.sqrt(2)",
        "from math import sqrt",
        "age = (then - now).total_seconds()",
        "age = now.timestamp()",
    ],
)
def test_a_binary_fraction_is_found(line: str) -> None:
    assert [1] == [found for found, _ in floats(ast.parse(line))]


@pytest.mark.parametrize(
    "line",
    [
        "price = Fraction(707, 100)",
        "price = Decimal('7.07')",
        "'7.07 is text, and float a word'",
        "share = math.gcd(4, 6) + isqrt(9)",
        "from math import floor, gcd, isqrt",
        "whole = 7 // 2",
        "floating = 1",
    ],
)
def test_exact_figures_are_let_be(line: str) -> None:
    assert [] == list(floats(ast.parse(line)))


READS_SPREADSHEETS = "pool_api/intake/cage.py"
"""Spreadsheets hold binary fractions; it alone sees them, and tells them as the digits that were written."""


def test_credits_and_money_are_nowhere_binary_fractions() -> None:
    found = [
        f"{named(path)}:{line}: {what}"
        for path in python_files("pool_api/domain", "pool_api/store", "pool_api/intake", "pool_api/rest/wire.py")
        if named(path) != READS_SPREADSHEETS
        for line, what in floats(parsed(path))
    ]

    assert [] == found
