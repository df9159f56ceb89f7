"""The gate and bodies: types, limits with and without a length, strict JSON byte by byte, uploads."""

import json
from typing import Any

import pytest
from fastapi import FastAPI

from tests.rest.asgi import KEEPER, call, told
from tests.rest.lending import GOOD, JSON_HEADERS, LIMITS, LOANS, RECORDS, lending


@pytest.fixture(scope="module")
def app() -> FastAPI:
    return lending()


@pytest.mark.parametrize("content_type", ["", "text/plain", "application/xml", "application/json; charset=utf-16"])
def test_a_body_of_another_type_is_415(app: FastAPI, content_type: str) -> None:
    answer = call(app, "POST", LOANS, key=KEEPER, headers={**JSON_HEADERS, "Content-Type": content_type}, body=GOOD)

    assert told(answer) == (415, "unsupported-media-type")
    assert answer.headers["accept"] == "application/json"


def test_a_body_without_a_type_is_415(app: FastAPI) -> None:
    headers = {"Idempotency-Key": "4f1c2a9e-loan-1"}

    assert told(call(app, "POST", LOANS, key=KEEPER, headers=headers, body=GOOD)) == (415, "unsupported-media-type")


@pytest.mark.parametrize(
    ("body", "code"),
    [
        (b"", "malformed-json"),
        (b"{", "malformed-json"),
        (b"\xff\xfe{}", "malformed-json"),
        (GOOD.replace(b"24", b"NaN"), "malformed-json"),
        (GOOD.replace(b"BIRCH", rb"BIR\u0000CH"), "malformed-json"),
        (GOOD.replace(b"BIRCH", rb"BIR\ud800CH"), "malformed-json"),
        (GOOD.replace(b"}", b',"quantity":24}'), "duplicate-member"),
        (b"[" * 500, "malformed-json"),
    ],
)
def test_a_body_that_is_not_clean_json_is_400(app: FastAPI, body: bytes, code: str) -> None:
    assert told(call(app, "POST", LOANS, key=KEEPER, headers=JSON_HEADERS, body=body)) == (400, code)


@pytest.mark.parametrize(
    ("body", "pointers"),
    [
        (b"[]", ["#"]),
        (b"null", ["#"]),
        (b'"text"', ["#"]),
        (GOOD.replace(b"24", b"0"), ["#/quantity"]),
        (GOOD.replace(b"24", b"true"), ["#/quantity"]),
        (GOOD.replace(b"24", b"1.5"), ["#/quantity"]),
        (GOOD.replace(b"24", b'"24"'), ["#/quantity"]),
        (GOOD.replace(b"24", b"1e999"), ["#/quantity"]),
        (GOOD.replace(b"}", b',"role":"keeper"}'), ["#/role"]),
        (b'{"lender":"birch"}', ["#/lender", "#/borrower", "#/quantity"]),
    ],
)
def test_clean_json_of_another_form_is_422_and_points_at_each_value(
    app: FastAPI, body: bytes, pointers: list[str]
) -> None:
    answer = call(app, "POST", LOANS, key=KEEPER, headers=JSON_HEADERS, body=body)

    assert told(answer) == (422, "invalid-request")
    assert pointers == [each["pointer"] for each in answer.json()["errors"]]


def test_a_whole_number_may_be_written_with_a_point(app: FastAPI) -> None:
    """JSON Schema, 2020-12, 4.2.3: a number with a zero fractional part is an integer."""
    answer = call(app, "POST", LOANS, key=KEEPER, headers=JSON_HEADERS, body=GOOD.replace(b"24", b"24.0"))

    assert answer.json()["quantity"] == 24


def test_a_body_that_may_be_left_out_may_be_left_out(app: FastAPI) -> None:
    path = "/v1/pools/riverside/closing"

    assert call(app, "POST", path, key=KEEPER).json()["asked"] is None
    assert call(app, "POST", path, key=KEEPER, headers=JSON_HEADERS, body=b'{"accept_warnings":2}').json()["asked"] == 2
    assert told(call(app, "POST", path, key=KEEPER, body=b"{}")) == (415, "unsupported-media-type")


def padded(size: int) -> bytes:
    return GOOD[:-1] + b" " * (size - len(GOOD)) + b"}"


def test_a_body_of_the_limit_passes_with_and_without_its_length(app: FastAPI) -> None:
    body = padded(LIMITS.body)

    assert call(app, "POST", LOANS, key=KEEPER, headers=JSON_HEADERS, body=body).status_code == 201
    assert call(app, "POST", LOANS, key=KEEPER, headers=JSON_HEADERS, body=[body[:400], body[400:]]).status_code == 201


def test_a_body_over_the_limit_is_413_by_its_length_without_being_read(app: FastAPI) -> None:
    answer = call(app, "POST", LOANS, key=KEEPER, headers=JSON_HEADERS, body=padded(LIMITS.body + 1))

    assert told(answer) == (413, "body-too-large")
    assert answer.json()["limit"] == LIMITS.body
    assert answer.headers["connection"] == "close"
    assert answer.extensions["unread_chunks"] == 1


def test_a_body_over_the_limit_is_413_without_its_length_as_soon_as_it_is_over(app: FastAPI) -> None:
    answer = call(app, "POST", LOANS, key=KEEPER, headers=JSON_HEADERS, body=[b" " * 600] * 50)

    assert told(answer) == (413, "body-too-large")
    assert answer.extensions["unread_chunks"] == 48


def test_a_length_that_lies_does_not_get_a_body_over_the_limit(app: FastAPI) -> None:
    headers = {**JSON_HEADERS, "Content-Length": "10"}

    answer = call(app, "POST", LOANS, key=KEEPER, headers=headers, body=[b" " * 600] * 50)

    assert told(answer) == (413, "body-too-large")


def test_an_upload_is_a_stream_with_a_type_and_a_limit_of_its_own(app: FastAPI) -> None:
    headers = {"Content-Type": "text/csv; charset=utf-8"}
    fine = call(app, "POST", RECORDS, key=KEEPER, headers=headers, body=[b"x" * 2_500] * 2)
    large = call(app, "POST", RECORDS, key=KEEPER, headers=headers, body=[b"x" * 2_500] * 50)
    declared = call(app, "POST", RECORDS, key=KEEPER, headers=headers, body=b"x" * 5_001)
    typed = call(app, "POST", RECORDS, key=KEEPER, headers=JSON_HEADERS, body=b"{}")

    assert fine.json() == {"sizes": [2_500, 2_500]}
    assert told(large) == (413, "body-too-large")
    assert large.extensions["unread_chunks"] == 47
    assert told(declared) == (413, "body-too-large")
    assert declared.extensions["unread_chunks"] == 1
    assert told(typed) == (415, "unsupported-media-type")


def test_the_body_of_an_unauthenticated_request_is_never_read(app: FastAPI) -> None:
    answer = call(app, "POST", LOANS, headers=JSON_HEADERS, body=[b"x" * 600] * 50)

    assert told(answer) == (401, "unauthenticated")
    assert answer.extensions["unread_chunks"] == 50


def test_a_body_is_read_as_json_only_once(app: FastAPI, monkeypatch: pytest.MonkeyPatch) -> None:
    readings: list[str] = []
    real = json.JSONDecoder.decode

    def decode(self: json.JSONDecoder, text: str) -> Any:
        readings.append(text)
        return real(self, text)

    monkeypatch.setattr(json.JSONDecoder, "decode", decode)
    call(app, "POST", LOANS, key=KEEPER, headers=JSON_HEADERS, body=GOOD)

    assert readings == [GOOD.decode()]
