"""How an answer becomes an error: which leaf of the tree, and what it carries."""

import json

import pytest
from pool_client.errors import (
    _BY_STATUS,
    Busy,
    Missing,
    Misused,
    NotAllowed,
    PoolError,
    Refused,
    ServerFault,
    Stale,
    Unreachable,
    error_from,
)

from pool_api.rest.problem_types import BY_CODE


def told(status: int, code: str, **more: object) -> PoolError:
    document = {
        "title": "Title",
        "status": status,
        "detail": "A sentence.",
        "code": code,
        "type": "/problems/x",
        **more,
    }
    return error_from(status, {}, json.dumps(document).encode())


EXPECTED: dict[str, type[PoolError]] = {
    "not-enough-held": Refused,
    "month-closed": Refused,
    "same-member": Refused,
    "amount-too-precise": Refused,
    "file-unreadable": Refused,
    "already-there": Refused,
    "key-reused": Refused,
    "store-conflict": Refused,
    "preview-stale": Stale,
    "version-stale": Stale,
    "invalid-request": Misused,
    "malformed-json": Misused,
    "cursor-invalid": Misused,
    "unsupported-media-type": Misused,
    "body-too-large": Misused,
    "unauthenticated": NotAllowed,
    "key-ended": NotAllowed,
    "not-permitted": NotAllowed,
    "not-found": Missing,
    "entry-not-found": Missing,
    "rate-limited": Busy,
    "store-busy": Busy,
    "store-unavailable": Busy,
    "not-ready": Busy,
    "server-fault": ServerFault,
}


@pytest.mark.parametrize(("code", "leaf"), EXPECTED.items())
def test_a_problem_of_the_service_becomes_its_leaf(code: str, leaf: type[PoolError]) -> None:
    assert type(told(BY_CODE[code].status, code)) is leaf


def test_every_problem_of_the_service_has_a_leaf() -> None:
    leaves = {Busy, Misused, Missing, NotAllowed, Refused, ServerFault, Stale}

    assert leaves == {type(told(found.status, code)) for code, found in BY_CODE.items()}


def test_every_status_with_a_leaf_of_its_own_is_one_of_the_service() -> None:
    assert _BY_STATUS.keys() <= {found.status for found in BY_CODE.values()}


def test_every_leaf_stands_in_the_tree_of_the_module() -> None:
    assert {Busy, Misused, Missing, NotAllowed, Refused, ServerFault, Stale, Unreachable} == {
        *PoolError.__subclasses__()
    }


def test_an_error_has_the_sentence_the_code_and_the_figures() -> None:
    error = told(409, "not-enough-held", member="BIRCH", held=26, quantity=40)

    assert ("A sentence.", "A sentence.", "Title") == (str(error), error.sentence, error.title)
    assert (409, "not-enough-held") == (error.status, error.code)
    assert {"member": "BIRCH", "held": 26, "quantity": 40} == error.fields


def test_a_misused_call_has_its_findings() -> None:
    finding = {"detail": "It is required.", "pointer": "#/quantity"}

    assert (finding,) == told(422, "invalid-request", errors=[finding], count=1).findings


@pytest.mark.parametrize("findings", [None, "text", ["text"], 5])
def test_findings_of_another_form_are_passed_over(findings: object) -> None:
    error = told(422, "invalid-request", errors=findings)

    assert ("A sentence.", ()) == (error.sentence, error.findings)


@pytest.mark.parametrize("content", [b"", b"<h1>Bad gateway</h1>", b"null", b'"text"', b"\xff\xfe", b'{"code": 5}'])
@pytest.mark.parametrize(
    ("status", "leaf"),
    [(302, ServerFault), (400, Misused), (404, Missing), (409, Refused), (502, ServerFault), (503, Busy)],
)
def test_what_is_no_problem_document_goes_by_its_status(content: bytes, status: int, leaf: type[PoolError]) -> None:
    error = error_from(status, {}, content)

    assert (leaf, "", {}) == (type(error), error.code, error.fields)
    assert str(status) in error.sentence


@pytest.mark.parametrize(
    ("header", "seconds"), [("7", 7.0), ("0", 0.0), ("Wed, 25 Nov 2026 12:00:00 GMT", None), ("-1", None)]
)
def test_a_pause_is_read_in_seconds(header: str, seconds: float | None) -> None:
    assert seconds == error_from(503, {"retry-after": header}, b"").retry_after_s
