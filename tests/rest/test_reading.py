"""What is read and changed in the real service: pages that lose nothing, cursors that fit one list only, and changes
that state the version they replace (RFC 9110, 13.1 and 13.2; RFC 6585, 3)."""

from typing import Any

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from tests.clients.document import DOCUMENT
from tests.databases import SqliteTemplate
from tests.rest.long_lists import CATALOGUE_PROFILE, CHARGE, ITEMS, LADDER, PROFILE, ROUND, THERE, fill
from tests.served import POOL, Served, serving, set_up

TAGGED: dict[str, tuple[str, Any]] = {
    "/v1/pools/{pool}": (f"/v1/pools/{POOL}", None),
    "/v1/pools/{pool}/policies/{month}": ("/policies/2026-10", {"loans_at_close": "carry"}),
    "/v1/pools/{pool}/members/{member}": ("/members/ALDER", None),
    "/v1/pools/{pool}/members/{member}/bank-account": (
        "/members/ALDER/bank-account",
        {"holder": "Alder Workshop", "iban": "AT809990000000000001"},
    ),
    "/v1/pools/{pool}/account-codes/{holder}": ("/account-codes/ALDER", {"credits": "1400"}),
    "/v1/pools/{pool}/column-profiles/{name}": ("/column-profiles/norvane", PROFILE),
    "/v1/pools/{pool}/price-ladders/{valid_from}": ("/price-ladders/2026-11-01", LADDER),
    "/v1/pools/{pool}/order-rounds/{round_id}/commitments/{member}": (
        "/order-rounds/00000001/commitments/ALDER",
        {"quantity": 120},
    ),
    "/v1/pools/{pool}/needs/{member}/{month}": ("/needs/ALDER/2026-12", {"quantity": 60, "reason": "a contract"}),
    "/v1/pools/{pool}/catalogues/{valid_from}": ("/catalogues/2026-11-01", {"items": ITEMS}),
    "/v1/pools/{pool}/catalogue-profiles/{name}": ("/catalogue-profiles/norvane", CATALOGUE_PROFILE),
}
"""What has versions: its address here, and what makes it when the pool doesn't have it yet."""


@pytest.fixture(params=TAGGED)
def thing(request: pytest.FixtureRequest, service: Served) -> tuple[str, dict[str, Any]]:
    """The address of something that has versions, and what it may be changed to."""
    address, makes = TAGGED[request.param]
    if "order-rounds" in address:
        service.send("POST", "/order-rounds", ROUND)
    if makes is not None:
        assert 201 == service.send("PUT", address, makes).status_code
    body = {name: value for name, value in service.send("GET", address).json().items() if name not in {"id", "code"}}
    return address, makes or body


NOT_MADE_BY_REPLACING = {"/v1/pools/{pool}/people/{person}", "/v1/password"}
"""People come in by invitation, and a password has no version: test_people.py and test_sessions.py."""


def test_everything_that_is_replaced_has_a_row() -> None:
    replaced = {path for path, methods in DOCUMENT["paths"].items() if "put" in methods}

    assert replaced - NOT_MADE_BY_REPLACING == set(TAGGED)


def test_a_copy_at_hand_is_not_sent_again_until_there_is_a_newer_one(
    service: Served, thing: tuple[str, dict[str, Any]]
) -> None:
    address, body = thing
    tag = service.send("GET", address).headers["etag"]

    same = service.send("GET", address, If_None_Match=f'"999", W/{tag}')
    assert (304, b"", tag) == (same.status_code, same.content, same.headers["etag"])

    changed = service.send("PUT", address, body, If_Match=tag)
    assert 200 == changed.status_code
    newer = service.send("GET", address, If_None_Match=tag)
    assert (200, changed.headers["etag"]) == (newer.status_code, newer.headers["etag"])
    assert changed.json() == newer.json()
    assert tag != newer.headers["etag"]


def test_a_change_states_the_version_it_replaces(service: Served, thing: tuple[str, dict[str, Any]]) -> None:
    address, body = thing
    key = "operator" if address.startswith("/v1") else "keeper"
    tag = service.send("GET", address).headers["etag"]
    assert 200 == service.send("PUT", address, body, If_Match=tag).status_code

    missing = service.send("PUT", address, body, key=key)
    stale = service.send("PUT", address, body, If_Match=tag)
    weak = service.send("PUT", address, body, If_Match=f"W/{tag}")

    assert [(428, "already-there"), (412, "version-stale"), (412, "precondition-failed")] == [
        (answer.status_code, answer.json()["code"]) for answer in (missing, stale, weak)
    ]


def test_a_precondition_is_looked_at_last(service: Served, thing: tuple[str, dict[str, Any]]) -> None:
    address, body = thing
    set_up(service, "hillside", prefix="other ")
    own = service.send("GET", address).request.url.path
    stale = {"If_Match": '"99"'}

    answers = [
        service.send("PUT", own, body, key=None, **stale),
        service.send("PUT", own, body, key="reader", **stale),
        service.send("PUT", own.replace(POOL, "hillside"), body, **stale),
        service.send("PUT", own, {**body, "unknown": 1}, **stale),
        service.send("PUT", own, body, **stale),
    ]

    assert [401, 403, 404, 422, 412] == [answer.status_code for answer in answers]


def walk(served: Served, address: str) -> list[Any]:
    """Give the first page of a list and all that follow it."""
    items, cursor = [], ""
    while True:
        page = served.send("GET", address + cursor).json()
        items += page["items"]
        if "next" not in page:
            return items
        cursor = f"{'&' if '?' in address else '?'}cursor={page['next']}"


@settings(max_examples=15, derandomize=True, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(before=st.integers(0, 12), limit=st.integers(1, 5), between=st.lists(st.integers(0, 3), max_size=12))
def test_a_walk_while_the_book_grows_meets_every_entry_that_was_there_once(
    sqlite_template: SqliteTemplate, before: int, limit: int, between: list[int]
) -> None:
    with sqlite_template.copy() as copy, serving(copy.url) as served:
        set_up(served)
        for _ in range(before):
            served.send("POST", "/charges", CHARGE)
        appends, met, cursor = iter(between), [], ""
        while True:
            page = served.send("GET", f"/journal?limit={limit}{cursor}").json()
            met += [entry["number"] for entry in page["items"]]
            if "next" not in page:
                break
            cursor = f"&cursor={page['next']}"
            for _ in range(next(appends, 0)):
                served.send("POST", "/charges", CHARGE)

    assert list(range(before, 0, -1)) == met


def placed(path: str) -> str:
    """Give an address of a path, of things that are there."""
    return "/".join(THERE.get(part, part) for part in path.split("/"))


@pytest.fixture
def long_lists(service: Served) -> Served:
    """A pool of which every list has more than two rows, and two other pools."""
    return fill(service)


LISTED_FOR = {"/v1/pools": "operator", "/v1/sessions": "person 0", "/v1/access-events": "operator"}
"""Who has long lists of what isn't a pool's."""

PAGED = [
    path for path, methods in DOCUMENT["paths"].items()
    if {"limit", "cursor"} <= {each["name"] for each in methods.get("get", {}).get("parameters", ())}
]  # fmt: skip


def test_every_list_is_the_same_in_pages_of_any_size_and_its_cursor_fits_no_other_list(long_lists: Served) -> None:
    cursors = {}
    for path in PAGED:
        address, key = placed(path), LISTED_FOR.get(path, "keeper")
        whole = long_lists.send("GET", f"{address}?limit=200", key=key).json()
        assert len(whole["items"]) >= 3, path
        first = long_lists.send("GET", f"{address}?limit=1", key=key).json()
        cursors[path] = first["next"]
        if key == "keeper":
            assert walk(long_lists, f"{address}?limit=200") == walk(long_lists, f"{address}?limit=1"), path

    for path in PAGED:
        for other, cursor in cursors.items():
            address, key = placed(path), LISTED_FOR.get(path, "keeper")
            answer = long_lists.send("GET", f"{address}?limit=1&cursor={cursor}", key=key)
            assert (200 if path == other else 400) == answer.status_code, (path, other)


def test_a_cursor_is_worth_nothing_with_other_filters_in_another_pool_or_changed(long_lists: Served) -> None:
    cursor = long_lists.send("GET", "/journal?limit=1&member=ALDER").json()["next"]
    swapped = cursor[:-1] + ("A" if cursor[-1] != "A" else "B")

    answers = [
        long_lists.send("GET", f"/journal?limit=1&member=BIRCH&cursor={cursor}"),
        long_lists.send("GET", f"/journal?limit=1&cursor={cursor}"),
        long_lists.send("GET", f"/v1/pools/hillside/journal?limit=1&member=ALDER&cursor={cursor}", key="other keeper"),
        long_lists.send("GET", f"/journal?limit=1&member=ALDER&cursor={swapped}"),
    ]

    assert [(400, "cursor-invalid")] * 4 == [(answer.status_code, answer.json()["code"]) for answer in answers]
    assert 200 == long_lists.send("GET", f"/journal?limit=200&member=ALDER&cursor={cursor}").status_code


READS = [
    placed(path)
    for path, methods in DOCUMENT["paths"].items()
    if "get" in methods and path.startswith("/v1") and not {"{key_id}", "{name}", "{import_id}"} & set(path.split("/"))
]


def test_an_unknown_query_parameter_is_refused_by_every_read(service: Served) -> None:
    service.send("POST", "/charges", CHARGE)

    wrong = []
    for address in READS:
        answer = service.send("GET", f"{address}?colour=red")
        found, number = (answer.status_code, answer.json().get("code")), service.book().positions().number
        if found != (400, "unknown-query-parameter") or number != 1:
            wrong.append((address, found, number))

    assert [] == wrong
