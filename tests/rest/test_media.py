"""Media types of bodies and of answers: RFC 9110, 8.3.1 and 12.5.1."""

import pytest

from pool_api.rest.errors import NotAcceptable, UnsupportedMediaType
from pool_api.rest.media import JSON, check_media_type, choose

CSV = "text/csv"


@pytest.mark.parametrize(
    "header",
    [
        "application/json",
        "Application/JSON",
        "application/json; charset=utf-8",
        'application/json;charset="UTF-8"',
        "application/json ; profile=x",
    ],
)
def test_json_in_utf_8_is_taken(header: str) -> None:
    check_media_type(header, (JSON,))


@pytest.mark.parametrize(
    "header",
    [
        None,
        "",
        "text/plain",
        "text/json",
        "application/jsonp",
        "application/problem+json",
        "application/json; charset=latin-1",
        "application/x-www-form-urlencoded",
        "multipart/form-data; boundary=x",
        "json",
    ],
)
def test_no_other_body_is_taken(header: str | None) -> None:
    with pytest.raises(UnsupportedMediaType) as refused:
        check_media_type(header, (JSON,))

    assert refused.value.headers() == {"Accept": JSON}


# The example of RFC 9110, 12.5.1, without its ranges with parameters, which are not looked at here: text/plain has 0.7,
# text/html 0.3, image/jpeg 0.5.
RFC_EXAMPLE = "text/*;q=0.3, text/plain;q=0.7, */*;q=0.5"


@pytest.mark.parametrize(
    ("accept", "offered", "chosen"),
    [
        (RFC_EXAMPLE, ("text/html", "image/jpeg"), "image/jpeg"),
        (RFC_EXAMPLE, ("text/html", "image/jpeg", "text/plain"), "text/plain"),
        (None, (JSON, CSV), JSON),
        ("", (JSON, CSV), JSON),
        ("*/*", (JSON, CSV), JSON),
        ("text/csv", (JSON, CSV), CSV),
        ("TEXT/CSV", (JSON, CSV), CSV),
        ("text/*", (JSON, CSV), CSV),
        ("text/csv;q=0.5, application/json;q=0.4", (JSON, CSV), CSV),
        ("text/csv, application/json", (JSON, CSV), JSON),
        ("application/json;q=0, */*;q=0.1", (JSON, CSV), CSV),
        ("text/html,application/xhtml+xml,application/xml;q=0.9,*/*;q=0.8", (JSON, "text/html"), "text/html"),
        ("text/csv;q=1.000, application/json;q=0.999", (JSON, CSV), CSV),
    ],
)
def test_the_most_liked_form_is_chosen(accept: str | None, offered: tuple[str, ...], chosen: str) -> None:
    assert chosen == choose(accept, offered)


@pytest.mark.parametrize(
    "accept", ["image/png", "application/json;q=0", "*/*;q=0", "text/csv;q=high", ",", "text/csv;q="]
)
def test_nothing_is_chosen_that_is_not_accepted(accept: str) -> None:
    with pytest.raises(NotAcceptable) as refused:
        choose(accept, (JSON, CSV))

    assert refused.value.fields() == {"offered": [JSON, CSV]}
