"""Problem documents: one row for every class, one code, one title; what a document says and what it keeps to itself."""

import json
import re
import string
from collections.abc import Iterator
from dataclasses import fields, is_dataclass
from typing import Any, get_type_hints

import pytest
from hypothesis import given
from hypothesis import strategies as st

from pool_api.domain import errors as rules
from pool_api.domain.errors import DomainError
from pool_api.rest import errors as requests
from pool_api.rest.errors import RequestError
from pool_api.rest.problem_types import BY_CODE, ROWS, TYPES, every_error
from pool_api.rest.problems import MOST_FINDINGS, from_validation, pointer, problem
from pool_api.store import errors as store
from pool_api.store.errors import StoreError

Error = DomainError | RequestError | StoreError

SAMPLES: dict[Any, Any] = {str: "ALDER", int: 7, list[str]: ["ALDER"], list[dict[str, str]]: [], str | None: None}


def made(cls: type[Exception]) -> Error:
    """Make an error of a class with some value in every field."""
    if issubclass(cls, StoreError):
        return store.StoreConflict("uq_secret") if cls is store.StoreConflict else cls("the password is hunter2")
    hints = get_type_hints(cls)
    assert is_dataclass(cls)
    error = cls(**{field.name: SAMPLES[hints[field.name]] for field in fields(cls)})
    assert isinstance(error, DomainError | RequestError)
    return error


EVERY_ERROR = list(every_error())


def test_every_class_of_the_three_trees_has_exactly_one_row() -> None:
    listed = [row[0] for row in ROWS]

    assert sorted(cls.__name__ for cls in EVERY_ERROR) == sorted(cls.__name__ for cls in listed)
    assert len(listed) == len(set(listed))


def test_no_two_classes_share_a_code_or_a_title() -> None:
    titles = [row[2] for row in ROWS]

    assert len(ROWS) == len(BY_CODE)
    assert len(titles) == len(set(titles))


@pytest.mark.parametrize("cls", EVERY_ERROR, ids=lambda cls: cls.__name__)
def test_a_document_has_the_members_of_its_type_and_the_figures_of_its_error(cls: type[Exception]) -> None:
    error = made(cls)
    answer = problem(error)
    document = json.loads(bytes(answer.body))
    found = TYPES[cls]

    assert found.status == answer.status_code
    assert answer.media_type == "application/problem+json"
    assert document["type"] == found.uri
    assert document["title"] == found.title
    assert document["status"] == found.status
    assert document["code"] == found.code
    assert document["detail"].endswith((".", "…"))
    if not isinstance(error, StoreError):
        assert str(error) == document["detail"]
        assert error.fields().items() <= document.items()


@pytest.mark.parametrize("cls", EVERY_ERROR, ids=lambda cls: cls.__name__)
def test_extension_members_are_named_as_the_standard_asks_and_hide_no_other(cls: type[Exception]) -> None:
    """RFC 9457, 3.2 and 4: letters, digits and low lines, at least three of them, starting with a letter."""
    document = json.loads(bytes(problem(made(cls)).body))
    form: Any = cls
    extensions: list[str] = [field.name for field in fields(form)] if is_dataclass(form) else []

    assert all(re.fullmatch(r"[A-Za-z][A-Za-z0-9_]{2,}", name) for name in extensions)
    assert not {"type", "title", "status", "detail", "instance", "code"} & set(extensions)
    assert 5 + len(extensions) == len(document)


@pytest.mark.parametrize("cls", EVERY_ERROR, ids=lambda cls: cls.__name__)
def test_an_error_always_gives_the_same_bytes(cls: type[Exception]) -> None:
    assert bytes(problem(made(cls)).body) == bytes(problem(made(cls)).body)


def test_a_store_error_keeps_its_own_words_to_itself() -> None:
    for cls in EVERY_ERROR:
        if issubclass(cls, StoreError):
            assert b"hunter2" not in bytes(problem(made(cls)).body)
            assert b"uq_secret" not in bytes(problem(made(cls)).body)


@pytest.mark.parametrize("row", ROWS, ids=lambda row: row[0].__name__)
def test_codes_titles_and_advice_are_written_alike(row: Any) -> None:
    found = TYPES[row[0]]

    assert re.fullmatch(r"[a-z]+(-[a-z]+)*", found.code)
    assert 400 <= found.status <= 599
    assert found.title[0] in string.ascii_uppercase
    assert not found.title.endswith(".")
    assert found.advice.endswith((".", "…"))


# The statuses that a client acts upon, from the table of conventions: not from the code.
@pytest.mark.parametrize(
    ("error", "status", "header"),
    [
        (rules.NotEnoughHeld(member="ALDER", held=3, quantity=5), 409, None),
        (rules.MonthClosed(effective_on="2026-10-03", closed_through="2026-10"), 409, None),
        (rules.MoreThanLeft(entry=7, left=2, quantity=5), 409, None),
        (rules.SameMember(member="ALDER"), 422, None),
        (rules.AmountTooPrecise(amount="1.005", currency="EUR", decimals=2), 422, None),
        (rules.KeyReused(key="4f1c2a9e-loan-1"), 422, None),
        (rules.ReferenceTaken(reference="INV-1", entry=7), 409, None),
        (rules.NotFound(what="pool", name="hillside"), 404, None),
        (rules.NotPermitted(role="reader", reason="it records nothing"), 403, None),
        (rules.PreviewStale(month="2026-11", seen="0" * 64), 412, None),
        (rules.VersionStale(what="member", name="ALDER", version=3), 412, None),
        (rules.AlreadyThere(what="member", name="ALDER"), 428, None),
        (rules.KeyEnded(key_id="aaaaaaaaaaaa"), 401, "www-authenticate"),
        (requests.Unauthenticated(reason="none came with the request"), 401, "www-authenticate"),
        (requests.PreconditionRequired(), 428, None),
        (requests.PreconditionFailed(), 412, None),
        (requests.MethodNotAllowed(method="PUT", allowed=["GET"]), 405, "allow"),
        (requests.NotAcceptable(offered=["text/csv"]), 406, None),
        (requests.BodyTooLarge(limit=10), 413, "connection"),
        (requests.AddressTooLong(limit=10), 414, None),
        (requests.UnsupportedMediaType(supported=["application/json"]), 415, "accept"),
        (requests.RateLimited(retry_after=3), 429, "retry-after"),
        (requests.InvalidRequest(count=0, errors=[]), 422, None),
        (requests.CursorInvalid(), 400, None),
        (requests.IdempotencyKeyMissing(), 400, None),
        (requests.IdempotencyKeyMalformed(), 400, None),
        (requests.MalformedJson(reason="it is empty"), 400, None),
        (requests.ServerFault(request_id="r1"), 500, None),
        (requests.NotReady(failing=["database"]), 503, "retry-after"),
        (store.StoreBusy(), 503, "retry-after"),
        (store.StoreUnavailable(), 503, "retry-after"),
        (store.StoreConflict(None), 409, None),
    ],
    ids=lambda value: type(value).__name__ if isinstance(value, Exception) else "",
)
def test_a_refusal_has_the_status_and_header_that_clients_act_upon(
    error: Error, status: int, header: str | None
) -> None:
    answer = problem(error)

    assert status == answer.status_code
    assert header is None or header in answer.headers


# --- findings of a validation ----------------------------------------------------------------------------------------


def finding(*place: str | int, kind: str = "int_type") -> Any:
    return {"type": kind, "loc": place, "msg": "Input should be a valid integer", "input": "x"}


def test_each_finding_in_a_body_points_at_its_place() -> None:
    body = {"members": [{"held": "x"}]}

    error = from_validation([finding("body", "members", 0, "held")], body)

    assert error.fields() == {
        "count": 1,
        "errors": [{"detail": 'Input should be a valid integer; it is "x".', "pointer": "#/members/0/held"}],
    }


def test_a_finding_in_a_parameter_names_it_and_where_it_stands() -> None:
    error = from_validation([finding("query", "limit")], None)

    assert error.fields()["errors"] == [
        {"detail": 'Input should be a valid integer; it is "x".', "parameter": "limit", "location": "query"}
    ]


def test_a_missing_member_is_pointed_at_where_it_should_be() -> None:
    error = from_validation([finding("body", "quantity", kind="missing")], {"member": "ALDER"})

    assert error.fields()["errors"] == [{"detail": "It is required.", "pointer": "#/quantity"}]


def test_an_unknown_member_is_pointed_at() -> None:
    error = from_validation([finding("body", "colour", kind="extra_forbidden")], {"colour": "x"})

    assert error.fields()["errors"] == [{"detail": "It is not known here.", "pointer": "#/colour"}]


def test_a_long_or_structured_value_is_not_shown_again() -> None:
    long = {**finding("body", "note"), "input": "x" * 100}
    structured = {**finding("body", "note"), "input": {"secret": 1}}

    details = [each["detail"] for each in from_validation([long, structured], {"note": 1}).fields()["errors"]]

    assert details == ["Input should be a valid integer.", "Input should be a valid integer."]


def test_only_the_first_findings_are_listed_but_all_are_counted() -> None:
    body = list(range(1_000))

    found = from_validation([finding("body", at) for at in range(1_000)], body).fields()

    assert found["count"] == 1_000
    assert len(found["errors"]) == MOST_FINDINGS


@pytest.mark.parametrize(
    ("findings", "code"),
    [
        ([finding("header", "Idempotency-Key", kind="missing")], "idempotency-key-missing"),
        ([finding("header", "Idempotency-Key", kind="string_pattern_mismatch")], "idempotency-key-malformed"),
        ([finding("body", "a"), finding("header", "Idempotency-Key", kind="missing")], "idempotency-key-missing"),
        ([finding("header", "If-Match", kind="missing")], "precondition-required"),
        ([finding("header", "If-Match", kind="string_pattern_mismatch")], "precondition-failed"),
        ([finding("header", "If-Match", kind="missing"), finding("body", "a")], "invalid-request"),
        ([finding("header", "Accept")], "invalid-request"),
    ],
)
def test_headers_with_problems_of_their_own_are_told_in_their_order(findings: list[Any], code: str) -> None:
    assert code == from_validation(findings, {"a": 1}).code


JSON = st.recursive(
    st.none() | st.booleans() | st.integers() | st.text(max_size=5),
    lambda inner: st.lists(inner, max_size=3) | st.dictionaries(st.text(max_size=5), inner, max_size=3),
    max_leaves=10,
)


def places(value: Any, *above: str | int) -> Iterator[tuple[tuple[str | int, ...], Any]]:
    yield above, value
    for step, inner in (
        value.items() if isinstance(value, dict) else enumerate(value) if isinstance(value, list) else ()
    ):
        yield from places(inner, *above, step)


def resolve(fragment: str, body: Any) -> Any:
    """Follow a pointer by RFC 6901, 4 and 6, written from the standard."""
    from urllib.parse import unquote  # noqa: PLC0415

    assert fragment.startswith("#")
    for token in unquote(fragment[1:]).split("/")[1:]:
        step = token.replace("~1", "/").replace("~0", "~")
        body = body[int(step)] if isinstance(body, list) else body[step]
    return body


@given(JSON)
def test_a_pointer_leads_to_the_place_it_was_made_from(body: Any) -> None:
    for place, value in places(body):
        assert resolve(pointer(place, body, missing=False), body) == value


def test_the_name_of_a_variant_that_was_tried_is_no_step_of_a_pointer() -> None:
    body = {"commands": [{"kind": "loan", "quantity": 0}]}

    found = pointer(("commands", 0, "loan", "quantity"), body, missing=False)

    assert found == "#/commands/0/quantity"
