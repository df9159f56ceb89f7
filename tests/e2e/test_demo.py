"""The demonstration as a person runs it: in a process of its own, on a service of its own, asked through the client.

What it must come to stands in seed/data/truth.json, which comes from the vendor's true history and not from the
service; prices and sums are computed here anew.
"""

import os
import re
import shlex
import signal
import subprocess
import sys
from collections.abc import Iterator
from dataclasses import dataclass
from datetime import date
from decimal import Decimal
from fractions import Fraction

import httpx
import pytest
from playwright.sync_api import Browser as Chromium
from playwright.sync_api import ViewportSize, expect
from pool_client import Book, Client
from pool_client.models.catalogue import By
from pool_client.models.entries import Entry, Loan, Purchase, Reversal, Use

from seed.demo import Teller, main
from seed.load import make_pool
from seed.network import Network
from seed.service import Running
from tests.browser.conftest import DESK, PHONE, Scheme, chromium
from tests.browser.looks import flaws, picture
from tests.browser.test_beginning import join, opened
from tests.e2e.truth import DATA, MONTHS, ROOT, TRUTH, trouble
from tests.served import PASSWORD

__all__ = ["chromium"]  # a fixture, for the one test that looks at the pages

LAST_DAYS = {"2026-08": "2026-08-31", "2026-09": "2026-09-30", "2026-10": "2026-10-31"}
POOL = "six-trees"


@dataclass(frozen=True, slots=True, kw_only=True)
class Demo:
    """What the demonstration said, and what it said of itself."""

    said: str
    address: str
    book: Book

    def entry(self, reference: str) -> Entry:
        return next(entry for entry in self.book.entries(limit=200) if entry.reference == reference)


def is_mend(entry: Entry) -> bool:
    return (entry.reference or "").startswith("mend-")


def lines_to_try(said: str) -> list[str]:
    return [line.strip() for line in said.partition("Try next")[2].splitlines() if line.startswith("  ")]


@pytest.fixture(scope="module")
def demo() -> Iterator[Demo]:
    with subprocess.Popen(
        [sys.executable, "-m", "seed.demo"], cwd=ROOT, stdout=subprocess.PIPE, text=True, process_group=0
    ) as process:
        assert process.stdout is not None
        lines = []
        for line in process.stdout:
            lines.append(line)
            if line.startswith("It stays up"):
                break
        said = "".join(lines)
        address = re.search(r"http://127\.0\.0\.1:\d+", said)
        key = re.search(r"keeper's key +(\S+)", said)
        assert address is not None, said
        assert key is not None, said
        try:
            with Client(address[0], key[1]) as client:
                yield Demo(said=said, address=address[0], book=client.book(POOL))
        finally:
            process.send_signal(signal.SIGINT)

        assert 0 == process.wait(30)
        with pytest.raises(httpx.TransportError):
            httpx.get(f"{address[0]}/healthz")


def test_nothing_is_left_to_decide_and_every_account_is_proven(demo: Demo) -> None:
    for month in MONTHS:
        found = demo.book.reconciliation(month=month)
        closings = {proof.member: proof.record.closing for proof in found.proof}

        assert (0, ()) == (found.undecided, found.differences)
        assert {True} == {proof.balanced for proof in found.proof}
        assert TRUTH["accounts"][month] == closings


def test_every_month_was_signed_off_and_is_still_what_was_signed(demo: Demo) -> None:
    for month in MONTHS:
        signed = demo.book.reconciliation(month=month).sign_off
        settlement = demo.book.settlement(month=month)

        assert signed is not None
        assert (False, False) == (signed.changed, signed.accepted_open)
        assert {each.journal for each in signed.accounts} == {each.record for each in signed.accounts}
        assert (signed.entry, 0, 0) == (
            settlement.sign_off,
            settlement.accepted_differences,
            settlement.accepted_suggestions,
        )
        assert f"signed off by entry {signed.entry}." in settlement.cautions[0]


@pytest.mark.parametrize("month", MONTHS)
def test_each_month_ends_with_what_is_truly_held_and_in_stock(demo: Demo, month: str) -> None:
    then = demo.book.positions(as_of=date.fromisoformat(LAST_DAYS[month]))

    assert TRUTH["balances"][month] == {"stock": then.stock, **{each.member: each.held for each in then.members}}


def test_no_difference_was_found_but_those_that_were_planted(demo: Demo) -> None:
    planted = sorted(each["difference"].replace("_", " ") for each in TRUTH["troubles"] if each["difference"])
    decided = re.findall(r"^([a-z ]+) [0-9a-f]{8}: (accepted|dismissed), ", demo.said, re.MULTILINE)

    assert [(kind, "accepted") for kind in planted] == sorted(decided)


def test_rows_that_stand_in_two_exports_were_taken_once(demo: Demo) -> None:
    known = [each.rows_known for each in demo.book.imports(limit=200)]
    rows = [path.read_text().count("\n") - 1 for path in (DATA / "vendor").iterdir()]
    twice = [TRUTH["rows_in_two_exports"][code][at] for at in (0, 1) for code in TRUTH["rows_in_two_exports"]]

    assert [0] * 6 + twice == known
    assert sum(rows) - sum(twice) == sum(each.rows_new for each in demo.book.imports())


def test_the_loan_that_nobody_recorded_is_recorded(demo: Demo) -> None:
    found = demo.book.entries(kind="loan", member="ELM", to_day=date.fromisoformat("2026-10-31"), limit=200)
    loans = [entry for entry in found if is_mend(entry)]

    assert [Loan(lender="DOGWOOD", borrower="ELM", quantity=14)] == [entry.body for entry in loans]
    assert ["2026-09-16"] == [entry.effective_on.isoformat() for entry in loans]


def test_the_wrong_quantity_is_recorded_anew(demo: Demo) -> None:
    wrong = demo.entry(trouble("wrong-quantity")["book"])
    loans = [entry.body for entry in demo.book.entries(kind="loan", member="FIR", limit=200) if is_mend(entry)]

    assert 12 == demo.book.entry(number=wrong.number).undone
    assert [Loan(lender="BIRCH", borrower="FIR", quantity=21)] == loans


def test_the_mistaken_use_that_the_vendor_refunded_is_reversed(demo: Demo) -> None:
    reversals = demo.book.entries(kind="reversal", from_day=date.fromisoformat("2026-09-24"), limit=200)
    (refund,) = (entry for entry in reversals if entry.effective_on == date.fromisoformat("2026-09-24"))
    assert isinstance(refund.body, Reversal)
    use = demo.book.entry(number=refund.body.entry).entry.body

    assert isinstance(use, Use)
    assert ("FIR", 12, 12) == (use.member, use.quantity, refund.body.quantity)


def test_the_purchase_that_was_booked_net_of_its_fee_is_recorded_anew(demo: Demo) -> None:
    net = demo.entry(trouble("purchase-booked-net-of-its-fee")["book"])
    (anew,) = (entry for entry in demo.book.entries(kind="purchase", limit=200) if is_mend(entry))

    assert 500 == demo.book.entry(number=net.number).undone
    assert isinstance(anew.body, Purchase)
    assert (500, Decimal("3477.60"), "N-20817") == (anew.body.quantity, anew.body.amount, anew.body.order_number)


def test_every_purchase_that_stands_cost_the_ladder_s_price_and_the_payment_fee(demo: Demo) -> None:
    checks = [each for month in MONTHS for each in demo.book.purchase_checks(month=month)]
    stands = [each for each in checks if not each.undone]

    assert stands
    assert all(each.order and each.difference == each.order.amount * 8 / 1000 for each in stands)
    assert [Decimal("0.00")] == [each.difference for each in checks if each.undone]


def test_uses_of_the_item_that_is_dearer_since_october_differ_from_the_catalogue(demo: Demo) -> None:
    since = date.fromisoformat("2026-10-15")
    uses = [each for each in demo.book.entries(kind="use", from_day=since, limit=200) if not is_mend(each)]
    logs = [each.number for each in uses if isinstance(each.body, Use) and each.body.item == "LOG"]
    checks = [each for month in MONTHS for each in demo.book.use_checks(month=month, doubtful=True)]

    assert logs
    assert [(number, 2, 3) for number in sorted(logs)] == [(each.entry, each.quantity, each.listed) for each in checks]
    (changed,) = demo.book.catalogue_changes(valid_from=since).dearer
    assert "LOG" == changed.after.code


def test_the_plan_is_for_what_the_last_month_took(demo: Demo) -> None:
    taken = {each.name: each.credits for each in demo.book.earnings(from_month="2026-10", by=By.MEMBER).rows}
    (plan,) = demo.book.order_plans()

    assert {member: (credits,) * 3 for member, credits in taken.items()} == {
        each.member: each.credits for each in demo.book.order_plan(plan_id=plan.plan_id).needs
    }
    assert "27 credits, one by one 30" in demo.said


def test_a_joint_order_and_a_request_are_open_to_try(demo: Demo) -> None:
    (opened,) = demo.book.rounds()
    (asked,) = demo.book.credit_requests()

    assert ("open", 270, 3) == (opened.state, opened.committed, opened.answered)
    assert ("ELM", 6, "open") == (asked.member, asked.quantity, asked.state)
    assert "Not answered: BIRCH, DOGWOOD, ELM." in demo.said


def test_the_date_that_is_a_day_off_is_matched(demo: Demo) -> None:
    entry = demo.entry(trouble("date-one-day-off")["book"])
    (match,) = (each for each in demo.book.reconciliation(month="2026-09").matches if entry.number in each.entries)

    assert (-1, "matched", 2) == (match.days_apart, match.status, len(match.rows))


def test_the_two_parts_of_a_return_are_matched_with_the_one_entry(demo: Demo) -> None:
    entry = demo.entry(trouble("loan-returned-in-two-parts")["book"])
    found = demo.book.reconciliation(month="2026-10")
    (match,) = (each for each in found.matches if entry.number in each.entries)
    numbers = {row.reference for row in found.rows if row.identity in match.rows}

    assert set(trouble("loan-returned-in-two-parts")["vendor"]) == numbers
    assert (30, 4) == (match.quantity, len(match.rows))


def test_the_pool_price_is_cost_over_credits(demo: Demo) -> None:
    """The opening and the purchases are those of seed/data, with the fee that the vendor shows."""
    stock, cost = 60, Decimal("426.00")
    bought = {"2026-08": (500, "3477.60"), "2026-09": (250, "1915.20"), "2026-10": (500, "3477.60")}
    for month in MONTHS:
        quantity, amount = bought[month]
        sheet = demo.book.sheet(month=month)
        price = Fraction(cost + Decimal(amount)) * 100 / (stock + quantity)

        assert sheet.pool_price is not None
        assert price == Fraction(sheet.pool_price.exact)
        assert (stock, cost) == (sheet.stock.opening.quantity, sheet.stock.opening.cost)
        stock, cost = sheet.stock.closing.quantity, sheet.stock.closing.cost


def test_dues_add_up_to_the_stock_and_nets_to_nothing(demo: Demo) -> None:
    for month in MONTHS:
        sheet, settlement = demo.book.sheet(month=month), demo.book.settlement(month=month)
        left = {each.member: each.amount for each in settlement.nets}
        for payment in settlement.payments:
            left[payment.payer] += payment.amount
            left[payment.payee] -= payment.amount

        assert sheet.stock.closing.cost == sum(each.due.total for each in sheet.members)
        assert sheet.stock.closing.cost == sum(each.amount for each in settlement.carried)
        assert 0 == sum(each.amount for each in settlement.nets)
        assert {Decimal(0)} == set(left.values())
        assert settlement.proven


def test_two_months_are_paid_and_the_last_one_is_not(demo: Demo) -> None:
    paid = {month: set[bool]() for month in MONTHS}
    for payment in demo.book.settlement_payments():
        paid[payment.month].add(payment.unpaid == 0)

    assert {"2026-08": {True}, "2026-09": {True}, "2026-10": {False}} == paid
    assert {"closed"} == {each.state for each in demo.book.months() if each.month in MONTHS}


def test_the_journal_verifies(demo: Demo) -> None:
    found = demo.book.verification()

    assert (True, ()) == (found.sound, found.findings)


def test_what_it_says_to_try_works(demo: Demo) -> None:
    lines = lines_to_try(demo.said)
    exports = dict(part.split("=", 1) for line in lines if line.startswith("export") for part in line.split()[1:])
    commands = [shlex.split(line) for line in lines if not line.startswith("export")]
    answers = [
        subprocess.run(command, cwd=ROOT, env={**os.environ, **exports}, capture_output=True, text=True, check=False)
        for command in commands
    ]

    assert ["positions", "lend", "statement"] == [command[1] for command in commands]
    assert [0, 0, 0] == [answer.returncode for answer in answers], [answer.stderr for answer in answers]
    assert "FIR" in answers[2].stdout


def test_the_link_that_it_says_opens_the_book(demo: Demo, chromium: Chromium) -> None:
    link = re.search(r"http://127\.0\.0\.1:\d+/invitation#\S+", demo.said)
    assert link is not None
    looks: tuple[tuple[ViewportSize, Scheme], ...] = ((PHONE, "light"), (DESK, "dark"))
    for size, scheme in looks:
        with opened(chromium, demo.address, size, scheme, script=True) as page:
            if size is PHONE:
                join(page, link[0], "Ines Walder")
            else:
                page.goto("/sign-in")
                page.get_by_label("Name").fill("Ines Walder")
                page.get_by_label("Password").fill(PASSWORD)
                page.get_by_role("button", name="Sign in", exact=True).click()
            expect(page.get_by_role("heading", level=1)).to_have_text("Now")
            picture(page, "demo-now", size, scheme)
            assert [] == flaws(page)
            page.get_by_role("link", name="Months", exact=True).click()
            page.get_by_role("link", name="October 2026").click()
            page.get_by_role("link", name="Settlement").click()
            expect(page.get_by_role("link", name=re.compile("Tick off")).first).to_be_visible()
            picture(page, "demo-settlement", size, scheme)
            assert [] == flaws(page)


def _short_story(_: Teller, service: Running, network: Network) -> str:
    with Client(service.address, service.first_key) as operator:
        return make_pool(operator, network)


def test_it_ends_by_itself_when_told_so(monkeypatch: pytest.MonkeyPatch, capfd: pytest.CaptureFixture[str]) -> None:
    """With another story, as the whole one has been told above."""
    before = signal.getsignal(signal.SIGTERM)
    monkeypatch.setattr("seed.demo.run", _short_story)
    try:
        assert 0 == main(["--stop-after"])
    finally:
        signal.signal(signal.SIGTERM, before)
    told = capfd.readouterr()
    address = re.search(r"http://127\.0\.0\.1:\d+", told.out)

    assert "" == told.err
    assert address is not None
    with pytest.raises(httpx.TransportError):
        httpx.get(f"{address[0]}/healthz")
