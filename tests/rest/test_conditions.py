"""Entity tags: RFC 9110, 8.8.3.2 (its table of comparisons), 13.1.1 and 13.1.2."""

from typing import Any

import pytest
from pydantic import TypeAdapter, ValidationError

from pool_api.rest.conditions import IfMatch, content_tag, is_current, version_in, version_tag


@pytest.mark.parametrize("version", [1, 3, 10**14])
def test_a_version_comes_back_from_its_tag(version: int) -> None:
    tag = version_tag(version)

    assert tag == TypeAdapter[str](IfMatch).validate_python(tag)
    assert version == version_in(tag)


def test_no_if_match_is_no_version() -> None:
    assert version_in(None) is None


@pytest.mark.parametrize("sent", ['W/"3"', "3", '"3', '"0"', '"03"', '"3", "4"', "*", '"x"', ""])
def test_no_other_tag_is_taken_where_something_is_about_to_change(sent: Any) -> None:
    with pytest.raises(ValidationError):
        TypeAdapter[str](IfMatch).validate_python(sent)


# RFC 9110, 8.8.3.2: weak comparison looks at the opaque tags only.
@pytest.mark.parametrize(
    ("sent", "tag", "current"),
    [
        ('W/"1"', '"1"', True),
        ('"1"', '"1"', True),
        ('W/"2"', '"1"', False),
        ('"2"', '"1"', False),
        ('"xyzzy", "1", W/"c3piozzzz"', '"1"', True),
        ('"xyzzy","11"', '"1"', False),
        ("*", '"1"', True),
        (" * ", '"1"', True),
        ("", '"1"', False),
        ("1", '"1"', False),
        ('"a,b"', '"a,b"', True),
        (None, '"1"', False),
    ],
)
def test_a_copy_is_current_by_weak_comparison(sent: str | None, tag: str, current: bool) -> None:
    assert current is is_current(sent, tag)


def test_equal_contents_have_equal_tags_and_others_others() -> None:
    assert content_tag(b"x") == content_tag(b"x")
    assert content_tag(b"x") != content_tag(b"y")
    assert is_current(content_tag(b"x"), content_tag(b"x"))
