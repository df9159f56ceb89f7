"""The pool's worked example, from the first entry to the last payment, over HTTP and through the client."""

import csv
import io
from dataclasses import replace
from datetime import date
from decimal import Decimal

import pytest
from pool_client.errors import Refused, Stale
from pool_client.models.directory import Policy, StockCosting, StockFunding
from pool_client.models.entries import Command, Draw, Loan, Opening, OpeningMember, Payment, Purchase, Return, Use

from tests.served import SHOPS, Served, set_up

MONTH = "2026-09"


def d(amount: str) -> Decimal:
    return Decimal(amount)


EXAMPLE = (
    (1, Opening(members=(OpeningMember(member="DOGWOOD", held=20, cost=d("190.00")),))),
    (2, Purchase(paid_by="ALDER", quantity=500, amount=d("3450.00"))),
    (3, Draw(member="ALDER", quantity=120)),
    (3, Draw(member="BIRCH", quantity=150)),
    (3, Draw(member="CEDAR", quantity=80)),
    (4, Loan(lender="BIRCH", borrower="DOGWOOD", quantity=24)),
    (5, Loan(lender="CEDAR", borrower="DOGWOOD", quantity=30)),
    (6, Return(borrower="DOGWOOD", lender="BIRCH", quantity=10)),
    (7, Purchase(paid_by="CEDAR", quantity=100, amount=d("790.00"))),
    (8, Draw(member="DOGWOOD", quantity=60)),
    (9, Use(member="ALDER", quantity=96, item="CAL-M", job="J-1", price=d("900.00"))),
    (9, Use(member="BIRCH", quantity=110, item="CAL-M", job="J-2")),
    (9, Use(member="CEDAR", quantity=40, item="CAL-M", job="J-3")),
    (9, Use(member="DOGWOOD", quantity=70, item="CAL-M", job="J-4")),
)


def record_example(served: Served) -> None:
    commands = [Command(body=body, effective_on=date(2026, 9, day)) for day, body in EXAMPLE]
    served.book().record_all(commands)


@pytest.fixture
def example(service: Served) -> Served:
    record_example(service)
    return service


def test_the_sheet_has_every_figure_of_the_example(example: Served) -> None:
    sheet = example.book().sheet(month=MONTH)

    shown = {
        each.member: (
            (each.available.quantity, each.available.cost),
            each.blended_unit_cost and each.blended_unit_cost.shown,
            (each.loans_from_it.quantity, each.loans_from_it.cost),
            (each.uses.quantity, each.uses.cost),
            (each.closing.quantity, each.closing.cost),
            each.lending_gain,
            each.due.total,
        )
        for each in sheet.members
    }
    nothing, zero = (0, d("0.00")), d("0.00")
    assert shown == {
        "ALDER": (
            (120, d("848.00")), d("7.0667"), nothing, (96, d("678.40")), (24, d("169.60")), zero, d("2602.00"),
        ),
        "BIRCH": (
            (150, d("1060.00")), d("7.0667"), (14, d("98.94")), (110, d("777.33")), (26, d("183.73")), d("-0.01"),
            d("-961.07"),
        ),
        "CEDAR": (
            (80, d("565.33")), d("7.0666"), (30, d("212.00")), (40, d("282.66")), (10, d("70.67")), zero, d("436.67"),
        ),
        "DOGWOOD": (
            (124, d("924.93")), d("7.4591"), nothing, (70, d("522.14")), (54, d("402.79")), zero, d("-734.93"),
        ),
    }  # fmt: skip
    assert sheet.pool_price is not None
    assert sheet.pool_price.exact == "2120/3"
    assert [("BIRCH", "DOGWOOD", 14, d("98.93")), ("CEDAR", "DOGWOOD", 30, d("212.00"))] == [
        (each.lender, each.borrower, each.quantity, each.amount) for each in sheet.loans_settled
    ]
    assert (190, d("1342.67")) == (sheet.stock.closing.quantity, sheet.stock.closing.cost)


@pytest.mark.parametrize(
    ("costing", "draws", "closing"),
    [
        (StockCosting.MOVING_AVERAGE, ["828.00", "1035.00", "552.00", "438.00"], "1387.00"),
        (StockCosting.FIFO, ["828.00", "1035.00", "552.00", "414.00"], "1411.00"),
    ],
)
def test_the_other_costings_give_the_draws_of_the_example(
    bare_service: Served, costing: StockCosting, draws: list[str], closing: str
) -> None:
    set_up(bare_service, policy=Policy(stock_costing=costing))
    record_example(bare_service)

    book = bare_service.book()
    drawn = {each.number for each in book.entries(kind="draw")}

    assert [d(each) for each in draws] == [
        each.cost for each in book.entry_costs(month=MONTH, limit=3) if each.entry in drawn
    ]
    sheet = book.sheet(month=MONTH)
    assert d(closing) == sheet.stock.closing.cost


@pytest.mark.parametrize(
    ("funding", "carried", "nets"),
    [
        (
            StockFunding.PAYERS,
            {"ALDER": "1149.72", "CEDAR": "192.95"},
            {"ALDER": "1452.28", "BIRCH": "-961.07", "CEDAR": "243.72", "DOGWOOD": "-734.93"},
        ),
        (
            StockFunding.SHARES,
            {"ALDER": "335.67", "BIRCH": "335.67", "CEDAR": "335.67", "DOGWOOD": "335.66"},
            {"ALDER": "2266.33", "BIRCH": "-1296.74", "CEDAR": "101.00", "DOGWOOD": "-1070.59"},
        ),
    ],
)
def test_the_settlement_has_the_nets_of_the_example(
    bare_service: Served, funding: StockFunding, carried: dict[str, str], nets: dict[str, str]
) -> None:
    set_up(bare_service, policy=Policy(stock_funding=funding))
    record_example(bare_service)

    found = bare_service.book().settlement(month=MONTH)

    assert {member: d(amount) for member, amount in carried.items()} == {e.member: e.amount for e in found.carried}
    assert {member: d(amount) for member, amount in nets.items()} == {e.member: e.amount for e in found.nets}
    assert found.proven
    assert 3 == len(found.payments) == found.lower_bound


def test_a_close_freezes_what_its_keeper_saw_and_payments_are_ticked_off(example: Served) -> None:
    book = example.book()
    preview = book.settlement(month=MONTH)

    entry = book.close(month=MONTH, digest=preview.digest)

    final = book.settlement(month=MONTH)
    assert ("closed", preview.nets) == (final.state, final.nets)
    assert ["2026-09-1", "2026-09-2", "2026-09-3"] == [each.id for each in book.settlement_payments(unpaid=True)]
    first = final.payments[0]
    pay = Payment(from_member=first.payer, to_member=first.payee, amount=d("100.00"), pays=first.id)
    book.record(pay)
    with pytest.raises(Refused, match="are unpaid") as refused:
        book.record(replace(pay, amount=first.amount))
    assert "more-than-unpaid" == refused.value.code
    book.record(replace(pay, amount=first.amount - d("100.00")))
    assert ["2026-09-2", "2026-09-3"] == [each.id for each in book.settlement_payments(unpaid=True)]
    assert entry.number == book.months()[0].close_entry
    assert book.verification().sound


def test_a_close_on_a_preview_that_the_book_has_left_behind_is_stale_and_records_nothing(example: Served) -> None:
    book = example.book()
    preview = book.settlement(month=MONTH)
    book.record(Draw(member="BIRCH", quantity=1), effective_on=date(2026, 9, 30))

    with pytest.raises(Stale) as stale:
        book.close(month=MONTH, digest=preview.digest)

    assert ("preview-stale", 412) == (stale.value.code, stale.value.status)
    assert "open" == book.months()[0].state


def test_entries_of_a_later_month_do_not_make_a_preview_stale(example: Served) -> None:
    book = example.book()
    preview = book.settlement(month=MONTH)
    book.record(Draw(member="BIRCH", quantity=1), effective_on=date(2026, 10, 2))

    assert "close" == book.close(month=MONTH, digest=preview.digest).kind


def test_the_same_close_twice_is_one_close(example: Served) -> None:
    book = example.book()
    digest = book.settlement(month=MONTH).digest

    first = book.close(month=MONTH, digest=digest, idempotency_key="close-september")
    again = book.close(month=MONTH, digest=digest, idempotency_key="close-september")

    assert first == again
    with pytest.raises(Refused) as refused:
        book.close(month=MONTH, digest=digest)
    assert "months-out-of-order" == refused.value.code


def test_only_the_last_close_reopens_and_only_while_nothing_is_paid(example: Served) -> None:
    book = example.book()
    before = book.positions().open_loans
    book.close(month=MONTH, digest=book.settlement(month=MONTH).digest)
    assert () == book.positions().open_loans

    book.reopen(month=MONTH, reason="a purchase was missing")
    assert before == book.positions().open_loans
    book.close(month=MONTH, digest=book.settlement(month=MONTH).digest)
    first = book.settlement(month=MONTH).payments[0]
    payment = book.record(Payment(from_member=first.payer, to_member=first.payee, amount=first.amount, pays=first.id))

    with pytest.raises(Refused) as refused:
        book.reopen(month=MONTH, reason="too late")
    assert ("payments-recorded", "2026-09-1") == (refused.value.code, refused.value.fields["payment"])
    assert payment.number == book.entry(number=payment.number).entry.number
    assert book.verification().sound


def test_a_statement_ties_to_the_sheet_to_the_cent(example: Served) -> None:
    book = example.book()
    sheet = {each.member: each for each in book.sheet(month=MONTH).members}

    for code, own in sheet.items():
        statement = book.statement(month=MONTH, member=code)
        assert own.due.total == statement.due_total == sum(each.amount for each in statement.due)
        paid = sum(e.amount if e.direction == "to expect" else -e.amount for e in statement.payments)
        assert statement.due_total == statement.carried_forward + statement.too_small_to_pay + paid
        credits = sum(line.credits for line in statement.lines)
        assert statement.closing.held == statement.opening.held + credits
        assert own.closing == statement.closing.own
        assert own.uses == statement.blended.uses


def test_a_statement_as_csv_has_the_figures_of_the_one_as_json(example: Served) -> None:
    book = example.book()

    for code in SHOPS:
        statement = book.statement(month=MONTH, member=code)
        rows = list(csv.DictReader(io.StringIO(book.statement_csv(month=MONTH, member=code))))
        amounts = [(row["kind"], d(row["amount"])) for row in rows if row["section"] == "due"]
        assert [*((each.line, each.amount) for each in statement.due), ("total", statement.due_total)] == amounts
        assert [(each.entry, each.credits) for each in statement.lines] == [
            (int(row["entry"]), int(row["credits"])) for row in rows if row["section"] == "line"
        ]
        assert [(each.other, each.direction, each.amount) for each in statement.payments] == [
            (row["what"], row["kind"], d(row["amount"])) for row in rows if row["section"] == "payment"
        ]


def test_a_job_says_what_it_cost_and_earned(example: Served) -> None:
    job = example.book().job(job="J-1")

    assert (96, d("678.40"), d("900.00"), d("221.60")) == (job.credits, job.cost, job.price, job.margin)


def test_positions_of_a_past_day_count_what_was_effective_by_then(example: Served) -> None:
    found = example.book().positions(as_of=date(2026, 9, 5))

    assert {"ALDER": 120, "BIRCH": 126, "CEDAR": 50, "DOGWOOD": 74} == {e.member: e.held for e in found.members}
    assert (150, 54) == (found.stock, sum(each.borrowed for each in found.members))


def test_a_month_with_warnings_closes_only_with_an_explicit_word(service: Served) -> None:
    book = service.book()
    book.record(Purchase(paid_by="ALDER", quantity=50, amount=d("400.00")), effective_on=date(2026, 9, 20))
    book.record(Draw(member="ALDER", quantity=50), effective_on=date(2026, 9, 21))
    book.record(Use(member="ALDER", quantity=50, item="CAL-M", job="J-9"), effective_on=date(2026, 9, 10))
    preview = book.settlement(month=MONTH)

    assert ("below_zero", date(2026, 9, 10), "ALDER", 50) == tuple(
        getattr(book.sheet(month=MONTH).warnings[0], name) for name in ("rule", "on", "holder", "size")
    )
    with pytest.raises(Refused) as refused:
        book.close(month=MONTH, digest=preview.digest)
    assert "month-has-warnings" == refused.value.code
    assert "close" == book.close(month=MONTH, digest=preview.digest, accept_warnings=True).kind


def test_positions_of_a_day_far_ahead_are_the_present_ones(example: Served) -> None:
    now = example.send("GET", "/positions").json()

    assert {**now, "as_of": "2931-12-19"} == example.send("GET", "/positions?as_of=2931-12-19").json()
