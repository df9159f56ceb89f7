"""Matches that a keeper confirms: suggested ones, and pairs by hand; they stay whatever comes later. Own cases."""

from datetime import date
from typing import Any

import pytest
from pool_client.models.entries import Loan

from tests.rest.record import BOUGHT, LENT, MONTH, give, matched, recorded, september
from tests.served import Served

PARTS = "2026-09-10,Sent,nv-birch,-4,,76,\n2026-09-11,Sent,nv-birch,-6,,70,\n"


@pytest.fixture
def suggested(service: Served) -> Served:
    """ALDER lent BIRCH 10, which the vendor shows in two parts: a match that is only suggested."""
    recorded(service).book().record(Loan(lender="ALDER", borrower="BIRCH", quantity=10), effective_on=date(2026, 9, 10))
    give(service, "ALDER", BOUGHT + LENT + PARTS)
    return service


def confirm(service: Served, **asked: Any) -> Any:
    return service.send("POST", f"/reconciliations/{MONTH}/confirmations", asked)


def take_back(service: Served, match: str) -> Any:
    asked = {"match": match, "word": "another loan"}
    return service.send("POST", f"/reconciliations/{MONTH}/withdrawals", asked)


def statuses(service: Served) -> dict[int, tuple[str, bool]]:
    return {each.quantity: (each.status, each.kept is not None) for each in september(service).matches}


@pytest.mark.parametrize("how", ["by its key", "all"])
def test_a_suggested_match_is_confirmed(suggested: Served, how: str) -> None:
    assert ("suggested", False) == statuses(suggested)[10]
    assert 1 == september(suggested).suggested
    before = matched(suggested, 10)

    made = confirm(
        suggested, word="as BIRCH says", **({"all_suggested": True} if how == "all" else {"matches": [before.key]})
    )

    assert (201, [("confirmed", [3])]) == (
        made.status_code,
        [(each["act"], each["entries"]) for each in made.json()["items"]],
    )
    after = matched(suggested, 10)
    assert (before.key, before.entries, set(before.rows)) == (after.key, after.entries, set(after.rows))
    assert ("matched", "as BIRCH says") == (after.status, after.kept and after.kept.word)
    assert 0 == september(suggested).suggested


def test_confirming_again_changes_nothing(suggested: Served) -> None:
    key = matched(suggested, 10).key
    first, again = confirm(suggested, matches=[key]), confirm(suggested, matches=[key], word="once more")

    assert first.json() == again.json()


def test_what_is_confirmed_stays_when_rows_come_that_would_fit_better(suggested: Served) -> None:
    better = "2026-09-10,Sent,nv-birch,-10,,60,\n"
    confirm(suggested, all_suggested=True)
    give(suggested, "ALDER", BOUGHT + LENT + PARTS + better)

    assert [3] == list(matched(suggested, 10).entries)
    assert 2 == len(matched(suggested, 10).rows)
    assert [("missing_in_journal", 10)] == [(each.kind, each.quantity) for each in september(suggested).differences]


def test_without_a_word_the_better_row_wins(suggested: Served) -> None:
    """The case before, but for the confirmation: so that is what keeps the match."""
    give(suggested, "ALDER", BOUGHT + LENT + PARTS + "2026-09-10,Sent,nv-birch,-10,,60,\n")

    assert 1 == len(matched(suggested, 10).rows)


def test_a_confirmation_is_taken_back_with_a_reason(suggested: Served) -> None:
    confirm(suggested, all_suggested=True)
    key = matched(suggested, 10).key

    taken = take_back(suggested, key)

    assert (201, "taken_back", "another loan") == (taken.status_code, taken.json()["act"], taken.json()["word"])
    assert ("suggested", False) == statuses(suggested)[10]
    assert 404 == take_back(suggested, key).status_code


def test_a_match_that_stands_by_itself_is_confirmed_too(suggested: Served) -> None:
    assert ("matched", False) == statuses(suggested)[20]

    confirm(suggested, matches=[matched(suggested, 20).key])

    assert ("matched", True) == statuses(suggested)[20]


# --- by hand ---------------------------------------------------------------------------------------------------------


@pytest.fixture
def apart(service: Served) -> Served:
    """A loan of 8 that was recorded twelve days before the vendor shows it: too far for the service to see."""
    recorded(service).book().record(Loan(lender="ALDER", borrower="BIRCH", quantity=8), effective_on=date(2026, 9, 8))
    give(service, "ALDER", BOUGHT + LENT + "2026-09-20,Sent,nv-birch,-8,,72,\n2026-09-21,Sent,nv-cedar,-9,,63,\n")
    return service


def row(service: Served, quantity: int) -> str:
    (one,) = (each.identity for each in september(service).rows if each.quantity == quantity)
    return one


def test_a_pair_that_the_service_did_not_see_is_confirmed_by_hand(apart: Served) -> None:
    assert {("missing_at_vendor", 8), ("missing_in_journal", 8), ("missing_in_journal", 9)} == {
        (each.kind, each.quantity) for each in september(apart).differences
    }

    assert 201 == confirm(apart, entries=[3], rows=[row(apart, 8)], word="booked too early").status_code

    assert ("matched", 12) == (matched(apart, 8).status, matched(apart, 8).days_apart)
    assert [9] == [each.quantity for each in september(apart).differences]


def test_a_pair_reaches_over_the_end_of_a_month(service: Served) -> None:
    recorded(service).book().record(Loan(lender="ALDER", borrower="BIRCH", quantity=8), effective_on=date(2026, 9, 24))
    service.book().import_record(
        b"Booked,Action,Other account,Credits,Remark,Balance,Paid\n2026-10-05,Sent,nv-birch,-8,,72,\n",
        member="ALDER",
        profile="norvane",
        from_day=date(2026, 9, 1),
        to_day=date(2026, 10, 31),
    )
    (shown,) = service.book().reconciliation(month="2026-10").differences
    assert 201 == confirm(service, entries=[3], rows=list(shown.rows)).status_code

    october = service.book().reconciliation(month="2026-10")
    assert ["date_in_another_month"] == [each.kind for each in october.differences]
    assert [(8, 11)] == [(each.quantity, each.days_apart) for each in october.matches]
    assert {2, 1} == {number for each in september(service).differences for number in each.entries}


@pytest.mark.parametrize(
    ("asked", "status", "words"),
    [
        ({"entries": [3], "rows": [9]}, 409, "-9 credits, the journal -8"),
        ({"entries": [2], "rows": [8]}, 409, "-8 credits, the journal -20"),
        ({"entries": [3]}, 409, "a match has entries and rows"),
        ({"entries": [99], "rows": [8]}, 404, "99"),
        ({"matches": ["0" * 64]}, 404, "match"),
    ],
)
def test_what_does_not_agree_is_not_confirmed(apart: Served, asked: dict[str, Any], status: int, words: str) -> None:
    asked = {**asked, **({"rows": [row(apart, each) for each in asked["rows"]]} if "rows" in asked else {})}

    refused = confirm(apart, **asked)

    assert status == refused.status_code
    assert words in refused.json()["detail"]
    assert not any(each.kept for each in september(apart).matches)


def test_a_loan_to_another_member_is_not_this_one(apart: Served) -> None:
    apart.book().record(Loan(lender="ALDER", borrower="DOGWOOD", quantity=9), effective_on=date(2026, 9, 22))
    refused = confirm(apart, entries=[4], rows=[row(apart, 9)])

    assert (409, "not-confirmable") == (refused.status_code, refused.json()["code"])
    assert "different accounts" in refused.json()["detail"]


def test_what_is_confirmed_already_is_not_confirmed_otherwise(apart: Served) -> None:
    confirm(apart, entries=[3], rows=[row(apart, 8)])
    apart.book().record(Loan(lender="ALDER", borrower="BIRCH", quantity=8), effective_on=date(2026, 9, 19))

    refused = confirm(apart, entries=[4], rows=[row(apart, 8)])

    assert "taken back first" in refused.json()["detail"]


def test_a_confirmed_match_whose_rows_are_gone_is_said_to_be_broken(apart: Served) -> None:
    """The account is nobody's any more, so its record is left out."""
    confirm(apart, entries=[3], rows=[row(apart, 8)], word="booked too early")
    found = apart.send("GET", "/members/ALDER")
    changed = {name: value for name, value in found.json().items() if name != "code"}
    changed["handles"] = [{"handle": "nv-elsewhere", "since": "2026-09-01"}]
    apart.send("PUT", "/members/ALDER", changed, If_Match=found.headers["etag"])

    (broken,) = september(apart).broken
    assert ("confirmed", (3,), "booked too early") == (broken.act, broken.entries, broken.word)
    assert 201 == take_back(apart, broken.subject).status_code
    assert () == september(apart).broken


def test_only_a_keeper_confirms_and_takes_back(suggested: Served) -> None:
    for key in ("clerk", "reader"):
        for path in ("confirmations", "withdrawals"):
            asked = {"match": "0" * 64, "word": "no"} if path == "withdrawals" else {}
            assert 403 == suggested.send("POST", f"/reconciliations/{MONTH}/{path}", asked, key=key).status_code
