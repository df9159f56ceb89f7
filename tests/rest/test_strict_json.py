"""JSON read strictly: what is refused, byte by byte, and that everything else is read as the standard library does."""

import json
from decimal import Decimal
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from pool_api.rest.errors import DuplicateMember, MalformedJson, RequestError
from pool_api.rest.strict_json import MOST_DEPTH, read_json

REFUSED: dict[str, tuple[bytes, str]] = {
    "nothing": (b"", "Expecting value at line 1, column 1"),
    "half an object": (b'{"a": 1', "at line 1, column 8"),
    "two values": (b"{} {}", "Extra data at line 1, column 4"),
    "a comma too many": (b'{"a": 1,}', "at line 1, column"),
    "single quotes": (b"{'a': 1}", "at line 1, column 2"),
    "a comment": (b'{"a": 1 /* one */}', "at line 1, column 9"),
    "a later line": (b'{\n "a": x}', "at line 2, column 7"),
    "NaN": (b'{"a": NaN}', "NaN is not a JSON number"),
    "infinity": (b'{"a": Infinity}', "Infinity is not a JSON number"),
    "minus infinity": (b'{"a": -Infinity}', "-Infinity is not a JSON number"),
    "a leading zero": (b'{"a": 01}', "at line 1, column 8"),
    "a byte order mark": (b'\xef\xbb\xbf{"a": 1}', "byte order mark"),
    "UTF-16": ('{"a": 1}'.encode("utf-16"), "byte 1 is not UTF-8"),
    "Latin-1": (b'{"a": "caf\xe9"}', "byte 11 is not UTF-8"),
    "an overlong byte": (b'{"a": "\xc0\xaf"}', "is not UTF-8"),
    "a surrogate in bytes": (b'{"a": "\xed\xa0\x80"}', "is not UTF-8"),
    "a lone high surrogate": (rb'{"a": "\ud83d"}', "half of a surrogate pair"),
    "a lone low surrogate": (rb'{"a": "\ude00x"}', "half of a surrogate pair"),
    "surrogates the wrong way round": (rb'{"a": "\ude00\ud83d"}', "half of a surrogate pair"),
    "a lone surrogate in a name": (rb'{"\ud83d": 1}', "half of a surrogate pair"),
    "a lone surrogate deep inside": (rb'{"a": [[{"b": ["\ud83d"]}]]}', "half of a surrogate pair"),
    "an escaped NUL": (rb'{"a": "x\u0000y"}', "U+0000"),
    "an escaped NUL in a name": (rb'{"\u0000": 1}', "U+0000"),
    "a raw NUL": (b'{"a": "\x00"}', "Invalid control character"),
    "a raw line end in a text": (b'{"a": "x\ny"}', "Invalid control character"),
    "thousands of digits": (b"1" * 5_000, "too many digits"),
    "an exponent of thirty digits": (b"1e" + b"9" * 30, "too many digits"),
    "nesting": (b"[" * (MOST_DEPTH + 1) + b"]" * (MOST_DEPTH + 1), f"deeper than {MOST_DEPTH}"),
    "nesting of objects": (b'{"a":' * 40 + b"1" + b"}" * 40, f"deeper than {MOST_DEPTH}"),
    "nesting without end": (b"[" * 200_000, f"deeper than {MOST_DEPTH}"),
}


@pytest.mark.parametrize(("raw", "said"), REFUSED.values(), ids=REFUSED)
def test_what_is_not_clean_json_is_refused_and_says_where(raw: bytes, said: str) -> None:
    with pytest.raises(MalformedJson) as refused:
        read_json(raw)

    assert said in str(refused.value)


@pytest.mark.parametrize(
    ("raw", "member"),
    [
        (b'{"a": 1, "a": 1}', "a"),
        (b'{"a": 1, "b": 2, "a": 3}', "a"),
        (b'{"x": [{"held": 1, "held": 2}]}', "held"),
        (rb'{"a": 1, "\u0061": 2}', "a"),
        (rb'{"\ud83d": 1, "\ud83d": 2}', "?"),
    ],
)
def test_a_member_that_stands_twice_is_refused_by_name(raw: bytes, member: str) -> None:
    with pytest.raises(DuplicateMember) as refused:
        read_json(raw)

    assert refused.value.fields() == {"member": member}


def test_a_body_as_deep_as_allowed_is_read() -> None:
    raw = b"[" * MOST_DEPTH + b"]" * MOST_DEPTH

    assert json.loads(raw) == read_json(raw)


def test_escapes_and_pairs_of_surrogates_are_read() -> None:
    assert read_json(rb'{"a": "\ud83d\ude00 \u00e9\n"}') == {"a": "😀 é\n"}


@pytest.mark.parametrize(
    ("raw", "value"),
    [
        (b"24.0", 24),
        (b"2.4e1", 24),
        (b"-1.50e1", -15),
        (b"-0.0", 0),
        (b"0e-99", 0),
        (b"1e17", 10**17),
        (b"1e18", Decimal("1e18")),
        (b"1e999999999", Decimal("1e999999999")),
        (b"0.5", Decimal("0.5")),
        (b"1e-999999999", Decimal("1e-999999999")),
        (b"3450.00", 3450),
    ],
)
def test_numbers_are_exact_and_never_floats(raw: bytes, value: Any) -> None:
    found = read_json(raw)

    assert (type(value), value) == (type(found), found)


TEXT = st.text(alphabet=st.characters(exclude_categories=["Cs"], exclude_characters="\0"))
JSON = st.recursive(
    st.none() | st.booleans() | st.integers() | TEXT,
    lambda inner: st.lists(inner, max_size=4) | st.dictionaries(TEXT, inner, max_size=4),
    max_leaves=20,
)


@given(JSON, st.booleans())
def test_clean_json_is_read_as_the_standard_library_reads_it(value: Any, ascii_only: bool) -> None:
    raw = json.dumps(value, ensure_ascii=ascii_only).encode()

    assert value == read_json(raw)


@given(st.binary(max_size=60) | st.text(alphabet='{}[]",:\\ud8320e-.1tN', max_size=60).map(str.encode))
def test_any_bytes_are_read_or_refused(raw: bytes) -> None:
    try:
        value = read_json(raw)
    except RequestError:
        return
    assert json.loads(raw) == json.loads(json.dumps(value, default=float))
