"""Commands that ask the service more than once, or that look at what they were given before they ask."""

import json
from collections.abc import Callable
from typing import Any

import httpx
import pytest
from pool_client.wire import write

from tests.clients.document import answered
from tests.clients.samples import PROFILE
from tests.clients.scripted import problem
from tests.clients.shop import SET, Shop

KEYS = ("bae5a3cb77", "bae5ffff00", "c0ffee1234")


def with_differences(request: httpx.Request) -> httpx.Response:
    """Answer with three differences to decide on."""
    answer = answered(request)
    if request.method == "POST":
        return answer
    told = answer.json()
    told["differences"] = [{**told["differences"][0], "key": key} for key in KEYS]
    return httpx.Response(200, json=told)


def changed(**members: Any) -> Callable[[httpx.Request], httpx.Response]:
    return lambda request: httpx.Response(200, json={**answered(request).json(), **members}, headers={"ETag": '"3"'})


def decide(shop: Shop, *line: str) -> int:
    shop.serve = with_differences
    return shop.run(*line, "--reason", "as the vendor shows", **SET)


def test_a_key_may_be_cut_short_as_long_as_it_means_one(shop: Shop) -> None:
    assert 0 == decide(shop, "accept", "2026-10", "c0f", "--set", "paid_by=ALDER", "--set", "amount=3477.60")
    assert {
        "difference": "c0ffee1234",
        "verdict": "accepted",
        "reason": "as the vendor shows",
        "fields": {"paid_by": "ALDER", "amount": "3477.60"},
        "as_answered": False,
    } == json.loads(shop.requests[-1].content)
    assert "difference c0ffee1234\n" == shop.err


def test_a_key_that_may_mean_two_is_refused(shop: Shop) -> None:
    assert 2 == decide(shop, "dismiss", "2026-10", "bae5")
    assert "begins the keys of 2 differences" in shop.err
    assert ["GET"] == [request.method for request in shop.requests]


def test_a_key_of_no_difference_that_is_left_goes_as_it_is(shop: Shop) -> None:
    assert 0 == decide(shop, "dismiss", "2026-10", "feed0000")
    assert "feed0000" == json.loads(shop.requests[-1].content)["difference"]


def test_what_a_mend_asks_for_has_a_name_and_a_value(shop: Shop) -> None:
    assert 2 == decide(shop, "accept", "2026-10", "c0f", "--set", "ALDER")
    assert "write NAME=VALUE" in shop.err


def test_a_number_of_a_mend_is_a_number(shop: Shop) -> None:
    assert 2 == decide(shop, "accept", "2026-10", "c0f", "--set", "quantity=many")
    assert "quantity is a whole number" in shop.err
    assert 0 == decide(shop, "accept", "2026-10", "c0f", "--set", "quantity=9", "--set", "kind=return")
    assert {"quantity": 9, "kind": "return"} == json.loads(shop.requests[-1].content)["fields"]


def test_all_of_a_kind_is_only_shown_without_the_word_to_do_it(shop: Shop) -> None:
    line = ("accept-all", "2026-10", "quantity", "--reason", "as shown")
    assert 0 == shop.run(*line, **SET)
    assert "Nothing is recorded yet" in shop.out
    assert 0 == shop.run(*line, "--record", **SET)
    assert "Nothing is recorded yet" not in shop.out

    paths = [request.url.path.rpartition("/")[2] for request in shop.requests]
    assert ["preview", "all"] == paths
    assert [False, True] == ["Idempotency-Key" in request.headers for request in shop.requests]


def test_a_confirmation_says_of_what(shop: Shop) -> None:
    assert 2 == shop.run("confirm", "2026-10", **SET)
    assert 2 == shop.run("hand-over", "2026-10", "c0f", **SET)
    assert 2 == shop.run("hand-over", "2026-10", "c0f", "CEDAR", "--back", **SET)
    assert [] == shop.requests


def test_only_what_is_in_ones_hands_is_answered(shop: Shop) -> None:
    assert 2 == shop.run("answer", "feed0000", "mend", **SET)
    assert "no difference feed0000 is in your hands" in shop.err
    assert ["GET"] == [request.method for request in shop.requests]


@pytest.mark.parametrize(("there", "tag"), [(True, '"3"'), (False, None)])
def test_a_profile_is_replaced_where_there_is_one_and_made_where_not(shop: Shop, there: bool, tag: str | None) -> None:
    def serve(request: httpx.Request) -> httpx.Response:
        return problem(404, "not-found") if request.method == "GET" and not there else answered(request)

    shop.serve = serve
    file = shop.home / "norvane.json"
    file.write_text(json.dumps(write(PROFILE)))

    assert 0 == shop.run("save-profile", str(file), **SET)
    assert ("PUT", tag) == (shop.requests[-1].method, shop.requests[-1].headers.get("If-Match"))
    assert "column profile norvane is saved\n" == shop.err


def test_a_guess_that_makes_no_profile_is_shown_and_not_saved(shop: Shop) -> None:
    file = shop.home / "export.csv"
    file.write_text("a;b\n")
    shop.serve = changed(profile=None)

    assert 0 == shop.run("propose-profile", str(file), "norvane", **SET)
    assert 1 == shop.run("propose-profile", str(file), "norvane", "--save", **SET)
    assert "Columns as understood" in shop.out
    assert {"POST"} == {request.method for request in shop.requests}


def test_a_journal_that_does_not_hold_ends_the_command_with_1(shop: Shop) -> None:
    shop.serve = changed(sound=False)

    assert 1 == shop.run("verify", **SET)
    assert "The journal does not hold." in shop.out


def test_a_change_keeps_what_is_not_given_and_states_what_was_read(shop: Shop) -> None:
    member: dict[str, Any] = {
        "code": "ALDER",
        "name": "Alder Workshop",
        "joined_on": "2026-10-01",
        "share": 2,
        "handles": [{"handle": "nv-10417", "since": "2026-10-01"}],
    }
    shop.serve = changed(**member, left_on=None)

    assert 0 == shop.run("change-member", "ALDER", "--handle", "nv-20991@2026-12-01", **SET)
    later = {"handle": "nv-20991", "since": "2026-12-01"}
    assert {
        **{name: value for name, value in member.items() if name != "code"},
        "handles": [*member["handles"], later],
    } == json.loads(shop.requests[-1].content)
    assert '"3"' == shop.requests[-1].headers["If-Match"]


@pytest.mark.parametrize(
    ("given", "account", "since"),
    [
        ("nv-10417", "nv-10417", "2026-10-01"),
        ("nv-10417@2026-12-01", "nv-10417", "2026-12-01"),
        ("shop@vendor.example", "shop@vendor.example", "2026-10-01"),
        ("shop@vendor.example@2026-12-01", "shop@vendor.example", "2026-12-01"),
        ("shop@2026", "shop@2026", "2026-10-01"),
        ("shop@20261201", "shop@20261201", "2026-10-01"),
        ("shop@2026-W49-2", "shop@2026-W49-2", "2026-10-01"),
    ],
)
def test_an_account_may_be_an_address_and_have_a_day(shop: Shop, given: str, account: str, since: str) -> None:
    line = "add-member ALDER --name Alder --joined-on 2026-10-01 --handle"

    assert 0 == shop.run(*line.split(), given, **SET)
    assert [{"handle": account, "since": since}] == json.loads(shop.requests[-1].content)["handles"]


def test_the_terms_keep_what_is_not_given(shop: Shop) -> None:
    assert 0 == shop.run("change-terms", "--payment-plan", "hub", "--smallest-payment", "5.00", **SET)
    read, put = shop.requests
    before = answered(read).json()
    policy = {**before["policy"], "payment_plan": "hub", "smallest_payment": "5.00"}

    assert {**{name: value for name, value in before.items() if name != "id"}, "policy": policy} == json.loads(
        put.content
    )


@pytest.mark.parametrize(("month", "tag"), [("2026-11", '"3"'), ("2026-12", None)])
def test_a_policy_keeps_what_is_not_given_of_the_one_that_counts_for_its_month(
    shop: Shop, month: str, tag: str | None
) -> None:
    """One begins with 2026-11: for that month it is changed, for a later one another is made."""
    assert 0 == shop.run("agree-policy", month, "--loans-at-close", "carry", **SET)
    before = answered(shop.requests[0]).json()["items"][0]
    put = shop.requests[-1]

    assert "2026-11" == before.pop("from_month")
    assert {**before, "loans_at_close": "carry"} == json.loads(put.content)
    assert (f"/v1/pools/riverside/policies/{month}", tag) == (put.url.path, put.headers.get("If-Match"))


@pytest.mark.parametrize(
    ("given", "pairs"),
    [
        ("ALDER+BIRCH", [["ALDER", "BIRCH"]]),
        ("ALDER+BIRCH, CEDAR+ALDER", [["ALDER", "BIRCH"], ["CEDAR", "ALDER"]]),
        ("none", []),
    ],
)
def test_pairs_apart_are_written_with_a_plus(shop: Shop, given: str, pairs: list[list[str]]) -> None:
    assert 0 == shop.run("change-terms", "--no-payments-between", given, **SET)
    assert pairs == json.loads(shop.requests[-1].content)["policy"]["no_payments_between"]

    assert 0 == shop.run("compare", "2026-10", "--no-payments-between", given, **SET)
    assert (",".join(map(".".join, pairs)) or "none") == shop.requests[-1].url.params["no_payments_between"]


def test_an_overpayment_is_accepted_by_name(shop: Shop) -> None:
    assert 0 == shop.run("pay", "BIRCH", "ALDER", "1000", "--pays", "2026-10-1", "--accept-overpayment", **SET)
    assert json.loads(shop.requests[-1].content)["accept_overpayment"]


@pytest.mark.parametrize(
    ("line", "query"),
    [
        ("payments", {}),
        ("payments --unpaid --member ALDER", {"unpaid": "true", "member": "ALDER"}),
        ("payments --paid --month 2026-10", {"unpaid": "false", "month": "2026-10"}),
    ],
)
def test_payments_are_asked_for_as_given(shop: Shop, line: str, query: dict[str, str]) -> None:
    assert 0 == shop.run(*line.split(), **SET)
    assert query == {name: said for name, said in shop.requests[0].url.params.items() if name != "limit"}


@pytest.mark.parametrize(
    ("line", "words"),
    [
        ("add-member ALDER --name Alder --joined-on 2026-10-01 --handle nv-1@2026-13-01", "the day must be YYYY-MM-DD"),
        (
            "add-member ALDER --name Alder --joined-on 2026-10-01 --handle shop@vendor.example@2026-02-30",
            "2026-02-30 is no day",
        ),
        ("draw BIRCH 40 --on 3.10.2026", "is no day"),
        ("charge BIRCH ALDER NaN --reason courier", "is no amount"),
        ("charge BIRCH ALDER 12,50 --reason courier", "is no amount"),
        ("change-terms --no-payments-between ALDER", "ALDER is no pair; write ALDER+BIRCH"),
        ("change-terms --no-payments-between ALDER+BIRCH,+CEDAR", "+CEDAR is no pair"),
        ("payments --unpaid --member", "requires an argument"),
        ("statement 2026-10 DOGWOOD --csv --json", "exclude each other"),
        ("postings 2026-10 DOGWOOD --csv --json", "exclude each other"),
        ("payment-file 2026-10 DOGWOOD --xml --json", "exclude each other"),
        ("set-account-codes ALDER --set colour=1400", "write ROLE=CODE"),
        ("set-account-codes ALDER --set credits", "write ROLE=CODE"),
        ("lend BIRCH CEDAR 1 --repeat short", "8 to 64 letters"),
    ],
)
def test_what_cannot_be_meant_is_refused_before_anybody_is_asked(shop: Shop, line: str, words: str) -> None:
    assert 2 == shop.run(*line.split(), **SET)
    assert words in shop.err
    assert [] == shop.requests


@pytest.mark.parametrize(("there", "tag"), [(True, '"3"'), (False, None)])
@pytest.mark.parametrize(
    ("line", "told"),
    [
        (
            "set-bank-account ALDER --holder Alder --iban AT809990000000000001",
            {"holder": "Alder", "iban": "AT809990000000000001"},
        ),
        ("set-account-codes ALDER --set credits=1500", {"credits": "1500"}),
    ],
    ids=["bank-account", "account-codes"],
)
def test_what_a_bookkeeper_needs_is_replaced_where_it_is_there_and_made_where_not(
    shop: Shop, line: str, told: dict[str, str], there: bool, tag: str | None
) -> None:
    def serve(request: httpx.Request) -> httpx.Response:
        return problem(404, "not-found") if request.method == "GET" and not there else answered(request)

    shop.serve = serve

    assert 0 == shop.run(*line.split(), **SET)
    assert ("PUT", tag) == (shop.requests[-1].method, shop.requests[-1].headers.get("If-Match"))
    assert told.items() <= json.loads(shop.requests[-1].content).items()
    assert "changed_at" not in json.loads(shop.requests[-1].content)


def test_codes_that_are_not_given_stay_as_they_are(shop: Shop) -> None:
    shop.serve = changed(bank="1200")

    assert 0 == shop.run("set-account-codes", "ALDER", "--set", "credits=1500", **SET)
    said = json.loads(shop.requests[-1].content)
    assert ("1500", "1200") == (said["credits"], said["bank"])


def test_a_payment_file_goes_with_its_caution_beside_it(shop: Shop) -> None:
    assert 0 == shop.run("payment-file", "2026-10", "DOGWOOD", "--xml", **SET)
    assert "<Document/>\n" == shop.out
    assert "check names and accounts before money moves" in shop.err


def test_a_file_that_cannot_be_read_is_named(shop: Shop) -> None:
    assert 2 == shop.run("import", str(shop.home), "ALDER", "--profile", "norvane", **SET)
    assert str(shop.home) in shop.err


def test_a_home_that_cannot_be_written_is_named(shop: Shop) -> None:
    (shop.home / ".config").write_text("a file where a directory has to be")

    assert 2 == shop.run("sign-in", "--address", SET["CREDIT_POOL_ADDRESS"], "--pool", "riverside", "--key", "cp_x")
    assert str(shop.home) in shop.err


def in_parts(*computed_at: int) -> Callable[[httpx.Request], httpx.Response]:
    """Answer with a chain whose parts have one figure each; the last has no other after it."""

    def serve(request: httpx.Request) -> httpx.Response:
        at = int(request.url.params.get("cursor", "0"))
        told = answered(request).json()
        explanation = {**told["items"][0], "figure": f"price.{at}"}
        told |= {"items": [explanation], "computed_at": computed_at[at], "next": str(at + 1)}
        if at + 1 == len(computed_at):
            del told["next"]
        return httpx.Response(200, json=told)

    return serve


@pytest.mark.parametrize(
    ("computed_at", "most", "shown"),
    [
        pytest.param((14, 14, 14), "9", 3, id="all of a chain"),
        pytest.param((14, 14, 14), "2", 2, id="as many as asked for"),
        pytest.param((14, 14, 15), "9", 2, id="what belongs together"),
    ],
)
def test_a_chain_is_read_part_by_part(shop: Shop, computed_at: tuple[int, ...], most: str, shown: int) -> None:
    shop.serve = in_parts(*computed_at)

    assert 0 == shop.run("explain", "2026-10", "price", "--most", most, "--json", **SET)
    told = json.loads(shop.out)
    assert [f"price.{at}" for at in range(shown)] == [each["figure"] for each in told["items"]]
    assert (14, shown < 3) == (told["computed_at"], "next" in told)
    assert most == shop.requests[0].url.params["limit"]
