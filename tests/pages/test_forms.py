"""Numbers as people write them. What could be read in two ways is refused: a slip there is a wrong payment."""

from decimal import Decimal

import pytest
from pool_web.forms import Form
from pool_web.view import amount, count


def filled(text: str) -> Form:
    return Form(texts={"number": text}, key="never-sent")


@pytest.mark.parametrize(
    ("text", "said"),
    [
        ("120", "120"),
        ("120.5", "120.5"),
        ("120,50", "120.50"),
        ("120,5", "120.5"),
        ("1234.50", "1234.50"),
        ("1,234.50", "1234.50"),
        ("1 234.50", "1234.50"),
        ("1,234,567.8901", "1234567.8901"),
        ("1 234", "1234"),
        ("0", "0"),
        (" 7 ", "7"),
    ],
)
def test_amounts_are_read_as_they_are_written(text: str, said: str) -> None:
    form = filled(text)

    assert str(form.money("number")) == said
    assert not form.problems


@pytest.mark.parametrize(
    "text", ["1,234", "1.234,50", "12,34.50", "1234,567", "1,23,456.00", "1 23", "12,345,6", "-1", "1e3", "1.2.3", "."]
)
def test_an_amount_that_could_be_two_is_refused(text: str) -> None:
    form = filled(text)

    assert form.money("number") is None
    assert form.problems == {"number": "An amount such as 1234.50, with a point before the cents."}


@pytest.mark.parametrize(("text", "said"), [("12", 12), ("1,234", 1234), ("1 234", 1234), ("1,234,567", 1_234_567)])
def test_credits_are_read_as_they_are_written(text: str, said: int) -> None:
    assert filled(text).quantity("number") == said


@pytest.mark.parametrize("text", ["1,5", "12,50", "1.234", "1234,567", "1 2", "12,34"])
def test_a_part_of_a_credit_is_never_read_as_many(text: str) -> None:
    form = filled(text)

    assert form.quantity("number") is None
    assert form.problems == {"number": "A whole number of credits, from 1."}


def test_what_a_page_shows_can_be_written_into_a_form() -> None:
    assert filled(amount(Decimal("1234567.50"))).money("number") == Decimal("1234567.50")
    assert filled(count(1_234_567)).quantity("number") == 1_234_567
