"""Pages and cursors: opaque, authenticated, bound to their list; a walk gives every row once."""

import base64
import json
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st
from pydantic import TypeAdapter, ValidationError

from pool_api.rest.errors import CursorInvalid
from pool_api.rest.pages import MOST_CURSOR_CHARACTERS, Cursor, Cursors, Limit, Page

CURSORS = Cursors(b"0123456789abcdef")
FILTERS = {"pool": "riverside", "member": "ALDER", "kind": None}


@given(st.lists(st.integers() | st.text(max_size=20), max_size=4))
def test_a_cursor_gives_back_its_place(place: list[int | str]) -> None:
    assert place == CURSORS.open("list_entries", FILTERS, CURSORS.seal("list_entries", FILTERS, place))


def test_no_cursor_is_no_place() -> None:
    assert CURSORS.open("list_entries", FILTERS, None) is None


def test_a_cursor_is_safe_in_a_url_and_of_the_published_form() -> None:
    for length in range(12):
        cursor = CURSORS.seal("list_entries", FILTERS, ["x" * length])

        assert cursor == TypeAdapter[str | None](Cursor).validate_python(cursor)
        assert len(cursor) <= MOST_CURSOR_CHARACTERS


def test_a_cursor_with_any_byte_changed_is_refused() -> None:
    alphabet = b"ABCDEFGHIJKLMNOPQRSTUVWXYZabcdefghijklmnopqrstuvwxyz0123456789-_"
    for place in ([42], [420], [4_200]):
        cursor = CURSORS.seal("list_entries", FILTERS, place).encode()
        for at, byte in enumerate(cursor):
            for other in alphabet:
                if other != byte:
                    changed = (cursor[:at] + bytes([other]) + cursor[at + 1 :]).decode()
                    with pytest.raises(CursorInvalid):
                        CURSORS.open("list_entries", FILTERS, changed)


@pytest.mark.parametrize("cursor", ["", "A", "AA", "AAAA", "A" * 22, "=", "!!!!", "Ä", "A" * 500])
def test_made_up_cursors_are_refused(cursor: str) -> None:
    with pytest.raises(CursorInvalid):
        CURSORS.open("list_entries", FILTERS, cursor)


@pytest.mark.parametrize("change", ["{}=", "{}A", " {}", "{}\n"])
def test_another_spelling_of_a_good_cursor_is_refused(change: str) -> None:
    cursor = CURSORS.seal("list_entries", FILTERS, [42])

    with pytest.raises(CursorInvalid):
        CURSORS.open("list_entries", FILTERS, change.format(cursor))


@pytest.mark.parametrize(
    ("operation", "filters"),
    [
        ("list_keys", FILTERS),
        ("list_entries", {**FILTERS, "pool": "hillside"}),
        ("list_entries", {**FILTERS, "member": "BIRCH"}),
        ("list_entries", {**FILTERS, "kind": "loan"}),
        ("list_entries", {"pool": "riverside"}),
        ("list_entries", {}),
    ],
)
def test_a_cursor_is_worth_nothing_to_another_list_or_other_filters(operation: str, filters: dict[str, Any]) -> None:
    cursor = CURSORS.seal("list_entries", FILTERS, [42])

    with pytest.raises(CursorInvalid):
        CURSORS.open(operation, filters, cursor)


def test_the_order_of_the_filters_does_not_matter() -> None:
    cursor = CURSORS.seal("list_entries", FILTERS, [42])

    assert CURSORS.open("list_entries", dict(reversed(FILTERS.items())), cursor) == [42]


def test_a_cursor_of_another_secret_is_refused() -> None:
    cursor = Cursors(b"fedcba9876543210").seal("list_entries", FILTERS, [42])

    with pytest.raises(CursorInvalid):
        CURSORS.open("list_entries", FILTERS, cursor)


def test_a_code_of_nothing_is_not_taken_for_one() -> None:
    bare = base64.urlsafe_b64encode(b"[42]").rstrip(b"=").decode()

    with pytest.raises(CursorInvalid):
        CURSORS.open("list_entries", FILTERS, bare)


def test_a_secret_that_is_too_short_is_a_mistake() -> None:
    with pytest.raises(ValueError, match="at least 16 bytes"):
        Cursors(b"short")


def test_the_last_page_has_no_next() -> None:
    assert json.loads(Page[int](items=[1, 2]).model_dump_json()) == {"items": [1, 2]}
    assert json.loads(Page[int](items=[], next="abc").model_dump_json()) == {"items": [], "next": "abc"}


def test_the_next_of_a_page_is_published_as_text_that_may_be_absent() -> None:
    schema = Page[int].model_json_schema(mode="serialization")

    assert schema["properties"]["next"]["type"] == "string"
    assert schema["required"] == ["items"]
    assert "total" not in schema["properties"]


@pytest.mark.parametrize("sent", ["0", "-1", "201", "1.0", "+5", "5_0", " 5", "", "five"])
def test_a_limit_out_of_bounds_or_of_another_form_is_refused(sent: str) -> None:
    with pytest.raises(ValidationError):
        TypeAdapter[int](Limit).validate_python(sent)


@pytest.mark.parametrize(("sent", "limit"), [("1", 1), ("50", 50), ("200", 200)])
def test_a_limit_within_bounds_is_taken(sent: str, limit: int) -> None:
    assert limit == TypeAdapter[int](Limit).validate_python(sent)
