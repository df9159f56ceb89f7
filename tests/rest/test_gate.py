"""The gate, in front of a small resource: each refusal in its order, and nothing past it unseen."""

from typing import Annotated

import pytest
from fastapi import APIRouter, FastAPI, Query

from pool_api.rest.gate import MOST_ADDRESS_CHARACTERS, GatedRoute, gated_router
from pool_api.rest.rates import Rate
from tests.rest.asgi import CLERK, KEEPER, OPERATOR, OTHER_KEEPER, UNKNOWN, call, make_app, told
from tests.rest.lending import GOOD, JSON_HEADERS, LOANS, RECORDS, LoanForm, lending, loans


@pytest.fixture(scope="module")
def app() -> FastAPI:
    return lending()


def test_a_clean_request_passes(app: FastAPI) -> None:
    answer = call(app, "POST", LOANS, key=KEEPER, headers=JSON_HEADERS, body=GOOD)

    assert answer.status_code == 201
    assert answer.json() == {
        "pool": "riverside",
        "key": "4f1c2a9e-loan-1",
        "lender": "BIRCH",
        "borrower": "ALDER",
        "quantity": 24,
        "note": "",
    }


# --- the address -----------------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    "path",
    [
        "/",
        "/v1",
        "/v1/pools",
        LOANS + "/",
        LOANS + "%0A",
        LOANS + "%00",
        "/v1/pools//loans",
        "/v1/pools/riverside%2Floans/x",
    ],
)
@pytest.mark.parametrize("method", ["GET", "HEAD", "POST", "OPTIONS", "TRACE"])
def test_an_unknown_address_is_404_for_every_method_and_needs_no_key(app: FastAPI, method: str, path: str) -> None:
    answer = call(app, method, path)

    assert answer.status_code == 404
    assert answer.content == b"" if method == "HEAD" else told(answer) == (404, "unknown-path")


@pytest.mark.parametrize(
    ("method", "path", "allow"),
    [
        ("PUT", LOANS, "GET, HEAD, OPTIONS, POST"),
        ("DELETE", LOANS, "GET, HEAD, OPTIONS, POST"),
        ("PATCH", LOANS, "GET, HEAD, OPTIONS, POST"),
        ("TRACE", LOANS, "GET, HEAD, OPTIONS, POST"),
        ("CONNECT", LOANS, "GET, HEAD, OPTIONS, POST"),
        ("get", LOANS, "GET, HEAD, OPTIONS, POST"),
        ("X" * 5_000, LOANS, "GET, HEAD, OPTIONS, POST"),
        ("GET", "/v1/pools/riverside/closing", "OPTIONS, POST"),
        ("POST", "/v1/pools/riverside/open", "GET, HEAD, OPTIONS"),
    ],
)
def test_another_method_is_405_with_every_method_of_the_address(
    app: FastAPI, method: str, path: str, allow: str
) -> None:
    answer = call(app, method, path, key=KEEPER)

    assert told(answer) == (405, "method-not-allowed")
    assert allow == answer.headers["allow"]
    assert answer.json()["allowed"] == allow.split(", ")
    assert answer.json()["method"] == method[:20]


def test_options_lists_the_methods_and_needs_no_key(app: FastAPI) -> None:
    answer = call(app, "OPTIONS", LOANS)

    assert (answer.status_code, answer.content) == (204, b"")
    assert answer.headers["allow"] == "GET, HEAD, OPTIONS, POST"


def test_head_is_get_without_content(app: FastAPI) -> None:
    get = call(app, "GET", LOANS, key=KEEPER)
    head = call(app, "HEAD", LOANS, key=KEEPER)

    assert head.content == b""
    assert get.status_code == head.status_code
    for name in ("content-type", "content-length"):
        assert get.headers[name] == head.headers[name]


def test_head_is_405_where_get_is_not_and_has_no_content_either(app: FastAPI) -> None:
    answer = call(app, "HEAD", "/v1/pools/riverside/closing", key=KEEPER)

    assert (answer.status_code, answer.content) == (405, b"")
    assert answer.headers["allow"] == "OPTIONS, POST"


def test_an_address_of_endless_length_is_414(app: FastAPI) -> None:
    answer = call(app, "GET", f"{LOANS}?cursor={'x' * MOST_ADDRESS_CHARACTERS}", key=KEEPER)

    assert told(answer) == (414, "address-too-long")


# --- the caller ------------------------------------------------------------------------------------------------------


@pytest.mark.parametrize("key", [None, UNKNOWN, "nonsense"])
@pytest.mark.parametrize(("method", "path"), [("GET", LOANS), ("POST", LOANS), ("HEAD", LOANS), ("POST", RECORDS)])
def test_without_a_good_key_nothing_is_answered_but_401(app: FastAPI, method: str, path: str, key: str | None) -> None:
    answer = call(app, method, path, key=key, body=GOOD)

    assert answer.status_code == 401
    assert answer.headers["www-authenticate"].startswith("Bearer ")


def test_an_open_operation_needs_no_key(app: FastAPI) -> None:
    assert call(app, "GET", "/v1/pools/riverside/open").json() == {"pool": "riverside"}


def test_another_pool_does_not_exist_and_is_answered_like_an_unknown_one(app: FastAPI) -> None:
    other = call(app, "GET", LOANS, key=OTHER_KEEPER)
    unknown = call(app, "GET", LOANS.replace("riverside", "nowhere"), key=OTHER_KEEPER)

    assert told(other) == (404, "not-found")
    assert other.content.replace(b"riverside", b"nowhere") == unknown.content


def test_another_pool_is_answered_before_anything_else_is_looked_at(app: FastAPI) -> None:
    for path, body in ((LOANS + "?colour=red", b""), (LOANS, b"{"), (LOANS, b"x" * 2_000)):
        method = "POST" if body else "GET"

        assert told(call(app, method, path, key=OTHER_KEEPER, body=body)) == (404, "not-found")


def test_an_operator_reaches_every_pool_as_far_as_the_gate_goes(app: FastAPI) -> None:
    assert call(app, "GET", LOANS, key=OPERATOR).status_code == 200


def test_the_route_is_told_who_calls(app: FastAPI) -> None:
    assert call(app, "GET", LOANS, key=CLERK).json()["caller"] == "b" * 12


def test_a_key_or_a_peer_that_is_too_fast_is_429_with_the_seconds_to_wait() -> None:
    slow = make_app(loans(), rate=Rate(burst=2, per_second=1), monotonic_ns=lambda: 5)
    by_key = [call(slow, "GET", LOANS, key=KEEPER) for _ in range(3)]
    by_peer = [call(slow, "GET", "/v1/pools/riverside/open", peer="192.0.2.9") for _ in range(3)]

    for answers in (by_key, by_peer):
        assert [answer.status_code for answer in answers] == [200, 200, 429]
        assert told(answers[2]) == (429, "rate-limited")
        assert answers[2].headers["retry-after"] == "1"
    assert call(slow, "GET", LOANS, key=CLERK).status_code == 200
    assert call(slow, "GET", "/v1/pools/riverside/open", peer="192.0.2.10").status_code == 200


# --- the query -------------------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("query", "code"),
    [
        ("colour=red", "unknown-query-parameter"),
        ("limit=5&colour=", "unknown-query-parameter"),
        ("Limit=5", "unknown-query-parameter"),
        ("pool=hillside", "unknown-query-parameter"),
        ("limit=5&limit=5", "duplicate-query-parameter"),
        ("limit=5&limit=6", "duplicate-query-parameter"),
        ("limit=5&limi%74=6", "duplicate-query-parameter"),
        ("limit=%ff", "malformed-query"),
        ("limit=%00", "malformed-query"),
        ("%00=1", "malformed-query"),
        ("limit=%ed%a0%80", "malformed-query"),
        ("a%0d%0ab=1", "unknown-query-parameter"),
    ],
)
def test_a_query_that_is_not_understood_is_400(app: FastAPI, query: str, code: str) -> None:
    assert told(call(app, "GET", f"{LOANS}?{query}", key=KEEPER)) == (400, code)


@pytest.mark.parametrize("query", ["limit=0", "limit=201", "limit=1.0", "limit=", "cursor=", "cursor=a%20b"])
def test_a_known_parameter_of_another_form_is_422_and_names_it(app: FastAPI, query: str) -> None:
    answer = call(app, "GET", f"{LOANS}?{query}", key=KEEPER)

    assert told(answer) == (422, "invalid-request")
    assert answer.json()["errors"][0]["parameter"] == query.partition("=")[0]
    assert answer.json()["errors"][0]["location"] == "query"


def test_the_known_parameters_are_told_to_who_guesses(app: FastAPI) -> None:
    answer = call(app, "GET", f"{LOANS}?colour=red", key=KEEPER)

    assert answer.json()["known"] == ["cursor", "limit"]


# --- the headers -----------------------------------------------------------------------------------------------------


@pytest.mark.parametrize("name", ["Authorization", "Content-Type", "Idempotency-Key", "If-Match", "Content-Length"])
def test_a_header_that_matters_may_stand_only_once(app: FastAPI, name: str) -> None:
    headers = [*JSON_HEADERS.items(), ("Authorization", f"Bearer {KEEPER}"), (name, "x"), (name, "x")]

    assert told(call(app, "POST", LOANS, headers=headers, body=GOOD)) == (400, "duplicate-header")


@pytest.mark.parametrize(
    ("key", "code"),
    [
        (None, "idempotency-key-missing"),
        ("", "idempotency-key-malformed"),
        ("short", "idempotency-key-malformed"),
        ("x" * 65, "idempotency-key-malformed"),
        ('"half-quoted', "idempotency-key-malformed"),
        ("with space in it", "idempotency-key-malformed"),
        ("caf\xe9-caf\xe9-caf\xe9", "idempotency-key-malformed"),
    ],
)
def test_recording_without_a_good_idempotency_key_is_400(app: FastAPI, key: str | None, code: str) -> None:
    headers = {"Content-Type": "application/json"} | ({} if key is None else {"Idempotency-Key": key})

    assert told(call(app, "POST", LOANS, key=KEEPER, headers=headers, body=GOOD)) == (400, code)
    assert told(call(app, "POST", LOANS, key=KEEPER, headers=headers, body=b'{"quantity":0}')) == (400, code)


# --- mistakes at the start -------------------------------------------------------------------------------------------


def test_a_route_that_is_not_behind_the_gate_is_refused_at_the_start() -> None:
    router = APIRouter()

    @router.get("/free")
    async def read_free() -> None:
        return None

    with pytest.raises(ValueError, match="/v1/free is not behind the gate"):
        make_app(router)


def test_query_parameters_hidden_in_an_object_are_refused_at_the_start() -> None:
    router = gated_router("recording")

    @router.get("/things")
    async def list_things(asked: Annotated[LoanForm, Query()]) -> dict[str, str]:
        return {"lender": asked.lender}

    with pytest.raises(ValueError, match="declared one by one"):
        make_app(router)


def test_every_router_made_here_is_behind_the_gate() -> None:
    assert all(isinstance(route, GatedRoute) for route in loans().routes)
