"""What is written can be read back; nothing inexact is written, and nothing that isn't said is read."""

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import UTC, date, datetime, timedelta, timezone
from decimal import Decimal
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st
from pool_client.models.directory import Handle, Member, Policy, Pool, StockCosting
from pool_client.models.entries import BODIES, Entry, Loan
from pool_client.models.vendor import ColumnProfile
from pool_client.wire import Unfit, read, read_json, read_written, write

from tests.clients.scripted import ENTRY

st.register_type_strategy(Decimal, st.decimals(allow_nan=False, allow_infinity=False, places=2, max_value=10**12))
st.register_type_strategy(datetime, st.datetimes(timezones=st.just(UTC)))

LOAN: dict[str, Any] = {"lender": "BIRCH", "borrower": "DOGWOOD", "quantity": 24}


@pytest.mark.parametrize("form", [*BODIES.values(), Pool, Policy, Member, Handle, ColumnProfile])
@given(data=st.data())
def test_what_is_written_reads_back_the_same(form: type[Any], data: st.DataObject) -> None:
    value = data.draw(st.builds(form))

    assert value == read(form, write(value)) == read_written(form, write(value))


@pytest.mark.parametrize(
    "value", [7.07, [7.07], {"amount": 7.07}, {1, 2}, b"bytes", Decimal("NaN"), Decimal("Infinity")]
)
def test_what_has_no_exact_form_is_not_written(value: object) -> None:
    with pytest.raises(TypeError, match="no form on the wire"):
        write(value)


def test_a_float_in_a_model_is_not_written() -> None:
    with pytest.raises(TypeError, match="no form on the wire"):
        write(Loan(lender="BIRCH", borrower="DOGWOOD", quantity=1, unit_price=7.5))  # type: ignore[arg-type]


@pytest.mark.parametrize(
    ("value", "text"),
    [
        (Decimal("3450.00"), "3450.00"),
        (Decimal("1E+3"), "1000"),
        (Decimal("-0.01"), "-0.01"),
        (date(2026, 11, 3), "2026-11-03"),
        (datetime(2026, 11, 3, 9, 30, tzinfo=UTC), "2026-11-03T09:30:00.000000Z"),
        (datetime(2026, 11, 3, 0, 30, tzinfo=timezone(timedelta(hours=1))), "2026-11-02T23:30:00.000000Z"),
        (StockCosting.FIFO, "fifo"),
    ],
)
def test_a_value_has_one_text(value: object, text: str) -> None:
    assert text == write(value)


def test_an_instant_without_a_time_zone_is_not_written() -> None:
    with pytest.raises(TypeError, match="needs a time zone"):
        write(datetime(2026, 11, 3, 9, 30))  # noqa: DTZ001 - that is what is tried


def test_what_is_not_stated_is_left_out() -> None:
    assert LOAN == write(Loan(**LOAN))
    assert {"a": [None]} == write({"a": [None], "b": None})


@pytest.mark.parametrize(
    ("form", "told"),
    [
        (int, 2.0),
        (int, "2"),
        (int, True),
        (bool, 1),
        (str, 2),
        (Decimal, 7),
        (Decimal, 7.07),
        (Decimal, "7,07"),
        (Decimal, "1e3"),
        (Decimal, "NaN"),
        (Decimal, "٧"),
        (date, "2026-02-30"),
        (date, "3.11.2026"),
        (datetime, "2026-11-03T09:30:00"),
        (StockCosting, "lifo"),
        (Loan, [LOAN]),
        (Loan, {**LOAN, "quantity": "24"}),
        (Handle, {"handle": "nv-1"}),
        (tuple[int, ...], {"0": 1}),
        (Mapping[str, int], [1]),
        (Mapping[str, int], {"a": None}),
    ],
)
def test_what_is_of_another_form_is_refused(form: Any, told: Any) -> None:
    with pytest.raises(Unfit):
        read(form, told)


def test_a_refusal_says_what_stands_where() -> None:
    told = {
        "code": "ALDER",
        "name": "Alder",
        "joined_on": "2026-11-03",
        "handles": [{"handle": 5, "since": "2026-11-03"}],
    }

    with pytest.raises(Unfit, match=r"^5 stands at #/handles/0/handle where text is expected.$"):
        read(Member, told)
    with pytest.raises(Unfit, match=r"^since is missing at #/handles/0.$"):
        read(Member, {**told, "handles": [{"handle": "nv-1"}]})


def test_a_refusal_shows_no_more_than_the_beginning() -> None:
    with pytest.raises(Unfit, match=r"^\"x{59}… stands at # where a whole number is expected.$"):
        read(int, "x" * 1_000)


def test_more_than_the_model_says_is_passed_over_in_an_answer_and_refused_in_a_file() -> None:
    told = {**LOAN, "unit_prize": "7.00"}

    assert Loan(**LOAN) == read(Loan, told)
    with pytest.raises(Unfit, match=r"^unit_prize is not known at #.$"):
        read_written(Loan, told)
    with pytest.raises(Unfit, match=r"^ale is not known at #/handles/0.$"):
        read_written(Member, {"code": "A", "name": "A", "joined_on": "2026-11-03", "handles": [{"ale": 1}]})


def test_the_kind_says_how_a_body_is_read() -> None:
    assert Loan(**LOAN) == read(Entry, {**ENTRY, "kind": "loan", "body": LOAN}).body


def test_a_body_of_a_newer_kind_stays_as_it_is() -> None:
    newer = read(Entry, {**ENTRY, "kind": "gift", "body": {"of": 3}})

    assert {"of": 3} == newer.body
    assert {**ENTRY, "kind": "gift", "body": {"of": 3}} == write(newer)


def test_null_and_absent_are_one() -> None:
    assert Loan(**LOAN) == read(Loan, {**LOAN, "unit_price": None})


@pytest.mark.parametrize("text", ["", "{", "NaN,", b"\xff", "[" * 100_000])
def test_what_is_no_json_is_refused(text: str | bytes) -> None:
    with pytest.raises(Unfit, match=r"^It isn't JSON.$"):
        read_json(text)


def test_a_form_that_cannot_be_read_is_a_mistake() -> None:
    @dataclass
    class Odd:
        either: int | str

    with pytest.raises(TypeError, match="no way to tell"):
        read(Odd, {"either": 1})
    with pytest.raises(TypeError, match="no way to read"):
        read(set, [])
