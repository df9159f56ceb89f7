"""Signing a month's reconciliation off: an entry of the journal, what it says, what it keeps, and what shows later."""

from dataclasses import replace
from datetime import date
from decimal import Decimal
from typing import Any

import pytest
from pool_client.models.entries import Loan, Purchase, SignedAccount, SignOff, Use
from pool_client.models.vendor import Signed

from tests.reports.papers import pages
from tests.reports.workbooks import opened
from tests.rest.record import BOUGHT, HEADER, LENT, MONTH, accept, found, give, matched, recorded, september
from tests.served import Served

PARTS = "2026-09-10,Sent,nv-birch,-4,,76,\n2026-09-11,Sent,nv-birch,-6,,70,\n"


@pytest.fixture
def agreeing(service: Served) -> Served:
    """A month in which ALDER's record says what the journal says."""
    give(recorded(service), "ALDER", BOUGHT + LENT)
    return service


def sign(service: Served, *, digest: str | None = None, idempotency_key: str = "", **more: Any) -> Any:
    asked = {"digest": digest or september(service).digest, **more}
    return service.send("POST", f"/reconciliations/{MONTH}/sign-offs", asked, idempotency_key=idempotency_key)


def signature(service: Served) -> Signed:
    """Give what has signed September off."""
    found = september(service).sign_off
    assert found is not None
    return found


def open_month(service: Served) -> Served:
    """A month with a suggested match and a missing use."""
    recorded(service).book().record(Loan(lender="ALDER", borrower="BIRCH", quantity=10), effective_on=date(2026, 9, 10))
    give(service, "ALDER", BOUGHT + LENT + PARTS + "2026-09-12,Unlock,,-3,,67,\n")
    return service


def test_a_sign_off_is_an_entry_that_says_what_the_month_came_to(agreeing: Served) -> None:
    digest = september(agreeing).digest

    signed = sign(agreeing, note="looked through")

    assert (201, "sign_off", 3) == (signed.status_code, signed.json()["kind"], signed.json()["number"])
    entry = agreeing.book().entry(number=3).entry
    assert (
        SignOff(
            month=MONTH,
            digest=digest,
            accounts=(SignedAccount(account="nv-alder", on=date(2026, 9, 30), journal=80, record=80),),
            matched=2,
            suggested=0,
            open=0,
            broken=0,
            dismissed=0,
            accepted_open=False,
        )
        == entry.body
    )
    assert (date(2026, 9, 30), "looked through") == (entry.effective_on, entry.note)
    assert agreeing.book().verification().sound
    shown = signature(agreeing)
    assert (3, digest, False, 80) == (shown.entry, shown.digest, shown.changed, shown.accounts[0].record)


def test_it_moves_no_credits_and_costs_nothing(agreeing: Served) -> None:
    book = agreeing.book()
    before = (book.positions(as_of=date(2026, 9, 30)), book.sheet(month=MONTH), book.settlement(month=MONTH))

    sign(agreeing)

    after = (book.positions(as_of=date(2026, 9, 30)), book.sheet(month=MONTH), book.settlement(month=MONTH))
    assert replace(before[0], number=3) == after[0]
    assert replace(before[1], computed_at=3) == after[1]
    assert replace(before[2], computed_at=3) == after[2]
    assert [3, 2, 1] == [entry.number for entry in book.entries()]
    refused = agreeing.send("POST", "/reversals", {"entry": 3})
    assert (409, "not-reversible") == (refused.status_code, refused.json()["code"])


def test_what_is_open_is_signed_off_only_with_the_word_that_it_was_seen(service: Served) -> None:
    open_month(service)

    refused = sign(service)
    assert (409, "reconciliation-open", 1, 1) == (
        refused.status_code,
        refused.json()["code"],
        refused.json()["differences"],
        refused.json()["matches"],
    )
    signed = sign(service, accept_open=True)

    assert {"matched": 2, "suggested": 1, "open": 1, "dismissed": 0, "accepted_open": True}.items() <= signed.json()[
        "body"
    ].items()
    assert (True, False) == (signature(service).accepted_open, signature(service).changed)


def test_what_was_dismissed_is_counted(service: Served) -> None:
    open_month(service)
    service.book().confirm(month=MONTH, all_suggested=True)
    service.book().decide(month=MONTH, difference=found(service, 3).key, verdict="dismissed", reason="not ours")

    assert {"matched": 3, "suggested": 0, "open": 0, "dismissed": 1}.items() <= sign(service).json()["body"].items()


def test_signed_again_unchanged_it_is_the_same_entry(agreeing: Served) -> None:
    first = sign(agreeing, idempotency_key="sign-off-of-september")
    for key in ("sign-off-of-september", ""):
        again = sign(agreeing, idempotency_key=key, note="" if key else "again")
        assert (201, first.json(), "true") == (
            again.status_code,
            again.json(),
            again.headers["idempotency-replayed"],
        )
    assert 3 == agreeing.book().positions().number


def test_what_was_seen_has_to_be_what_is_there(agreeing: Served) -> None:
    seen = september(agreeing).digest
    agreeing.book().record(Use(member="ALDER", quantity=1, item="CAL-S", job="A-1"), effective_on=date(2026, 9, 9))

    stale = sign(agreeing, digest=seen)

    assert (412, "reconciliation-stale") == (stale.status_code, stale.json()["code"])
    assert 3 == agreeing.book().positions().number


def test_a_month_that_is_not_over_is_not_signed_off(agreeing: Served) -> None:
    days = {"from_day": date(2026, 11, 1), "to_day": date(2026, 11, 9)}
    agreeing.book().import_record(HEADER.encode(), member="ALDER", profile="norvane", **days)  # type: ignore[arg-type]
    digest = agreeing.book().reconciliation(month="2026-11").digest
    refused = agreeing.send("POST", "/reconciliations/2026-11/sign-offs", {"digest": digest})

    assert (409, "month-not-reached") == (refused.status_code, refused.json()["code"])
    assert 2 == agreeing.book().positions().number


@pytest.mark.parametrize("change", ["entry", "import", "decision"])
def test_later_changes_show_and_are_signed_anew(service: Served, change: str) -> None:
    open_month(service)
    book = service.book()
    sign(service, accept_open=True)

    if change == "entry":
        book.record(Use(member="ALDER", quantity=2, item="CAL-S", job="A-1"), effective_on=date(2026, 9, 29))
    elif change == "import":
        give(service, "ALDER", BOUGHT + LENT + PARTS + "2026-09-13,Unlock,,-1,,66,\n")
    else:
        assert 201 == accept(service, found(service, 3), item="CAL-S", job="A-2").status_code
    changed = signature(service)
    assert changed.changed
    again = sign(service, accept_open=True)

    now = signature(service)
    assert (again.json()["number"], False) == (now.entry, now.changed)
    assert now.entry != changed.entry


def test_what_comes_in_another_month_changes_nothing(agreeing: Served) -> None:
    sign(agreeing)
    agreeing.book().record(Loan(lender="ALDER", borrower="BIRCH", quantity=3), effective_on=date(2026, 10, 2))

    assert not signature(agreeing).changed


def test_the_matches_of_a_signed_month_are_never_moved(service: Served) -> None:
    open_month(service)
    before = matched(service, 10)
    sign(service, accept_open=True)
    give(service, "ALDER", BOUGHT + LENT + PARTS + "2026-09-10,Sent,nv-birch,-10,,60,\n")

    (after,) = (each for each in september(service).matches if each.entries == before.entries)
    assert (before.key, set(before.rows), "signed") == (after.key, set(after.rows), after.kept and after.kept.act)
    assert signature(service).changed


def test_a_refused_sign_off_keeps_no_matches(agreeing: Served) -> None:
    agreeing.clock.at = agreeing.clock.at.replace(month=9, day=20)
    assert "month-not-reached" == sign(agreeing).json()["code"]

    assert not any(each.kept for each in september(agreeing).matches)


def test_only_a_keeper_signs_off(agreeing: Served) -> None:
    asked = {"digest": "0" * 64}
    for key in ("clerk", "reader"):
        assert 403 == agreeing.send("POST", f"/reconciliations/{MONTH}/sign-offs", asked, key=key).status_code


# --- on the papers of the month --------------------------------------------------------------------------------------


def priced(service: Served) -> Served:
    """Let there be a price for loans: credits in the stock, which is in nobody's vendor account."""
    stock = Purchase(paid_by="ALDER", quantity=10, amount=Decimal("70.00"))
    service.book().record(stock, effective_on=date(2026, 9, 2))
    return service


def close(service: Served, **more: Any) -> Any:
    asked = {"digest": service.book().settlement(month=MONTH).digest, **more}
    return service.send("POST", f"/months/{MONTH}/close", asked)


def papers(service: Served) -> dict[str, str]:
    """Give what settlement, statement and report say, in every form."""
    book = service.book()
    return {
        "settlement": " ".join(book.settlement(month=MONTH).cautions),
        "statement": " ".join(book.statement(month=MONTH, member="ALDER").cautions),
        "csv": book.statement_csv(month=MONTH, member="ALDER"),
        "report": " ".join(book.report(month=MONTH).cautions),
        "statement on paper": printed(book.statement_pdf(month=MONTH, member="ALDER")),
        "report on paper": printed(book.report_pdf(month=MONTH)),
        "spreadsheet": " ".join(
            str(cell.value)
            for row in opened(book.statement_xlsx(month=MONTH, member="ALDER"), shown=True).iter_rows()
            for cell in row
        ),
    }


def printed(content: bytes) -> str:
    """Give what a PDF file says, in one line."""
    return " ".join(" ".join(pages(content)).split())


def test_suggestions_and_differences_keep_a_month_from_closing_without_a_word(service: Served) -> None:
    priced(open_month(service))
    refused = close(service)

    assert (409, "month-has-differences", 1, 1) == (
        refused.status_code,
        refused.json()["code"],
        refused.json()["count"],
        refused.json()["suggestions"],
    )
    assert 201 == close(service, accept_differences=True).status_code
    settlement = service.book().settlement(month=MONTH)
    assert (1, 1, None) == (settlement.accepted_differences, settlement.accepted_suggestions, settlement.sign_off)
    for name, said in papers(service).items():
        assert "had decided: 1; matches that nobody had confirmed: 1." in said, name
        assert "signed off" not in said


def test_suggestions_alone_keep_a_month_from_closing(service: Served) -> None:
    recorded(service).book().record(Loan(lender="ALDER", borrower="BIRCH", quantity=10), effective_on=date(2026, 9, 10))
    give(priced(service), "ALDER", BOUGHT + LENT + PARTS)
    assert (0, 1) == (close(service).json()["count"], close(service).json()["suggestions"])

    service.book().confirm(month=MONTH, all_suggested=True)

    assert 201 == close(service).status_code
    assert not any("nobody had" in said for said in papers(service).values())


def test_the_number_of_the_sign_off_stands_on_the_papers(agreeing: Served) -> None:
    sign(priced(agreeing))
    assert 201 == close(agreeing).status_code

    assert 4 == agreeing.book().settlement(month=MONTH).sign_off
    for name, said in papers(agreeing).items():
        assert "was signed off by entry 4." in said, name
        assert "nobody had" not in said


def test_a_sign_off_that_no_longer_holds_is_not_on_the_papers(agreeing: Served) -> None:
    sign(priced(agreeing))
    agreeing.book().record(Use(member="CEDAR", quantity=1, item="CAL-S", job="C-1"), effective_on=date(2026, 9, 9))
    give(agreeing, "CEDAR", "2026-09-03,Received,nv-alder,20,,20,\n2026-09-09,Unlock,,-1,,19,\n")
    assert signature(agreeing).changed
    assert 0 == september(agreeing).undecided

    assert 201 == close(agreeing).status_code

    assert None is agreeing.book().settlement(month=MONTH).sign_off


def test_a_month_may_be_signed_off_after_its_close(agreeing: Served) -> None:
    assert 201 == close(priced(agreeing)).status_code

    assert (201, 5) == (sign(agreeing).status_code, sign(agreeing).json()["number"])
    assert Decimal(0) == sum(each.amount for each in agreeing.book().settlement(month=MONTH).nets)
    assert agreeing.book().verification().sound


def test_a_month_without_any_record_of_the_vendors_is_not_signed_off(service: Served) -> None:
    refused = sign(recorded(service))

    assert (404, "There is no vendor record of 2026-09.") == (refused.status_code, refused.json()["detail"])
    assert 2 == service.book().positions().number
