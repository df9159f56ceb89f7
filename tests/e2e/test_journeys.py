"""What the service says in one place holds in every other, wherever a random journey has led, on each database."""

import csv
import io
from collections import defaultdict
from collections.abc import Iterator
from contextlib import contextmanager
from datetime import date, timedelta
from decimal import Decimal
from typing import Any

import pytest
from pool_client import Book
from pool_client.errors import Refused
from pool_client.models.bookkeeping import Postings
from pool_client.models.entries import STOCK
from pool_client.models.months import MonthListed, Settlement, Sheet

from tests.databases import Database
from tests.e2e.journeys import Journey
from tests.reports.papers import pages
from tests.reports.workbooks import opened
from tests.served import Served, serving

NOTHING = Decimal()
STEPS, LOOK, STUDY = 110, 5, 55
"""So many steps of a journey, and so many between two looks at the figures, and at all documents."""


@contextmanager
def beside(database: Database, served: Served) -> Iterator[Served]:
    """Serve the same book from a process that knows nothing of it yet."""
    with serving(database.url) as fresh:
        fresh.keys, fresh.clock.at = served.keys, served.clock.at
        yield fresh


def last_day(month: str) -> date:
    year, number = map(int, month.split("-"))
    return date(year + number // 12, number % 12 + 1, 1) - timedelta(days=1)


def by_member(amounts: Any) -> dict[str, Decimal]:
    return {each.member: each.amount for each in amounts}


class Months:
    """All months of a book, as sheets and settlements say."""

    def __init__(self, book: Book) -> None:
        self.book = book
        self.listed: tuple[MonthListed, ...] = book.months()
        self.sheets: dict[str, Sheet] = {each.month: book.sheet(month=each.month) for each in self.listed}
        self.settled: dict[str, Settlement] = {each.month: book.settlement(month=each.month) for each in self.listed}

    def check(self) -> None:
        """Hold sheets, settlements, positions and journal against each other."""
        before: Sheet | None = None
        for listed in self.listed:
            sheet = self.sheets[listed.month]
            self._one(listed, sheet)
            if before is not None:
                self._goes_on(before, sheet)
            before = sheet
        self._positions()
        self._payments()
        found = self.book.verification()
        assert (True, ()) == (found.sound, found.findings)

    def _one(self, listed: MonthListed, sheet: Sheet) -> None:
        settled = self.settled[listed.month]
        dues = {each.member: each.due.total for each in sheet.members}
        carried, small, nets = map(by_member, (settled.carried, settled.small, settled.nets))
        assert sheet.stock.closing.cost == sum(dues.values()) == sum(carried.values())
        assert 0 == sum(nets.values()) == sum(small.values())
        for member, due in dues.items():
            assert due == sum(parts.get(member, NOTHING) for parts in (carried, small, nets)), (member, settled)
            if not settled.unpayable:
                paid = sum(each.amount for each in settled.payments if each.payer == member)
                received = sum(each.amount for each in settled.payments if each.payee == member)
                assert nets.get(member, NOTHING) == received - paid, (member, settled)
        assert settled.lower_bound <= len(settled.payments) or settled.unpayable
        for each in sheet.members:
            assert each.available.cost + each.difference == sum(
                part.cost
                for part in (
                    each.made_up,
                    each.loans_from_it,
                    each.uses,
                    each.outside_out,
                    each.given_back,
                    each.write_offs,
                    each.closing,
                )
            ), each

    def _goes_on(self, before: Sheet, sheet: Sheet) -> None:
        assert before.stock.closing == sheet.stock.opening
        settled = self.settled[before.month]
        carried, small = map(by_member, (settled.carried, settled.small))
        closings = {each.member: each.closing for each in before.members}
        for each in sheet.members:
            left = carried.get(each.member, NOTHING) + small.get(each.member, NOTHING)
            assert left == each.due.brought_forward, (before.month, each)
            if each.member in closings:
                assert closings.pop(each.member) == each.opening, (before.month, each)

    def _positions(self) -> None:
        now = self.book.positions()
        sheet = self.sheets[now.month]
        assert self.listed[-1].month == now.month
        ours = {each.member: each for each in sheet.members}
        for each in now.members:
            assert each.due == ours[each.member].due.total
            assert each.blended_unit_cost == ours[each.member].blended_unit_cost
            assert each.lent == sum(loan.quantity for loan in now.open_loans if loan.lender == each.member)
            assert each.borrowed == sum(loan.quantity for loan in now.open_loans if loan.borrower == each.member)
            assert each.held >= 0
        for month, sheet in self.sheets.items():
            then = self.book.positions(as_of=last_day(month))
            assert sheet.stock.closing.quantity == then.stock, (month, then)
            for position in then.members:
                said = self.book.statement(month=month, member=position.member)
                assert said.closing.held == position.held, (month, position)

    def _payments(self) -> None:
        asked_for = {each.id: each for each in self.book.settlement_payments()}
        final = {
            str(each.id): each
            for settled in self.settled.values()
            if settled.state == "closed"
            for each in settled.payments
        }
        assert set(final) == set(asked_for)
        for name, each in asked_for.items():
            assert (each.payer, each.payee, each.amount, each.paid) == (
                final[name].payer,
                final[name].payee,
                final[name].amount,
                final[name].paid,
            )
            assert 0 <= each.unpaid == each.amount - each.paid

    def check_documents(self) -> None:
        """Hold every document of every month against its sheet."""
        balances: dict[str, dict[str, Decimal]] = defaultdict(lambda: defaultdict(Decimal))
        for listed in self.listed:
            month, sheet = listed.month, self.sheets[listed.month]
            for each in sheet.members:
                self._statement(month, each)
            self._postings(month, sheet, balances)
            self._report(month, sheet)
            self._explanations(month, sheet)
            self._comparison(month, sheet)
            if listed.state == "closed":
                self._payment_files(month)
            self._costs(month, sheet)

    def _statement(self, month: str, own: Any) -> None:
        book, member = self.book, own.member
        said = book.statement(month=month, member=member)
        settled = self.settled[month]
        assert (own.due.total, own.closing, own.opening) == (said.due_total, said.closing.own, said.opening.own)
        assert own.due.total == sum(each.amount for each in said.due)
        assert (own.lending_gain, own.difference, own.uses) == (said.lending_gain, said.difference, said.blended.uses)
        assert said.carried_forward == by_member(settled.carried).get(member, NOTHING)
        assert said.too_small_to_pay == by_member(settled.small).get(member, NOTHING)
        assert said.opening.held + sum(each.credits for each in said.lines) == said.closing.held, said
        rows = list(csv.DictReader(io.StringIO(book.statement_csv(month=month, member=member))))
        totals = {(row["section"], row["kind"]): row for row in rows}
        assert f"{said.due_total}" == totals["due", "total"]["amount"]
        closing = totals["closing", ""]
        assert (f"{said.closing.held}", f"{said.closing.own.cost}") == (closing["credits"], closing["amount"])
        assert len(said.lines) == sum(row["section"] == "line" for row in rows)
        text = "\n".join(pages(book.statement_pdf(month=month, member=member)))
        for amount in (said.due_total, said.closing.own.cost):
            assert f"{amount:,}".replace("-", "−") in text, (month, member, amount)
        sheet = opened(book.statement_xlsx(month=month, member=member), shown=True)
        values = {
            Decimal(str(cell.value)).quantize(Decimal("0.01"))
            for row in sheet.iter_rows()
            for cell in row
            if isinstance(cell.value, int | float)
        }
        assert values >= {said.due_total, said.closing.own.cost}, (month, member, said)

    def _postings(self, month: str, sheet: Sheet, balances: dict[str, dict[str, Decimal]]) -> None:
        nets, closed = by_member(self.settled[month].nets), self.settled[month].state == "closed"
        for own in sheet.members:
            found = self.book.postings(month=month, holder=own.member)
            self._balanced(found, balances[own.member])
            mine = balances[own.member]
            assert own.closing.cost == mine["credits"], (month, own, found)
            mine["pool"] -= NOTHING if closed else nets.get(own.member, NOTHING)
            assert own.due.total - nets.get(own.member, NOTHING) == mine["pool"], (month, own, found)
            assert -own.lending_gain == _moved(found).get("lending", NOTHING), (month, own, found)
        stock = self.book.postings(month=month, holder=STOCK)
        self._balanced(stock, balances[STOCK])
        assert sheet.stock.closing.cost == balances[STOCK]["credits"] == -balances[STOCK]["pool"]
        assert 0 == sum(each["settlement"] for each in balances.values())

    def _balanced(self, found: Postings, balances: dict[str, Decimal]) -> None:
        for each in found.transactions:
            assert sum(one.debit or NOTHING for one in each.postings) == sum(
                one.credit or NOTHING for one in each.postings
            )
        for role, amount in _moved(found).items():
            balances[role] += amount
        rows = list(csv.reader(io.StringIO(self.book.postings_csv(month=found.month, holder=found.holder))))
        assert sum(len(each.postings) for each in found.transactions) == len(rows) - 1

    def _report(self, month: str, sheet: Sheet) -> None:
        told = self.book.report(month=month)
        costs = {each.member: each for each in told.costs[-1].members}
        assert (month, sheet.pool_price) == (told.costs[-1].month, told.costs[-1].pool_price)
        for each in sheet.members:
            if each.blended_unit_cost is not None:
                assert each.blended_unit_cost == costs[each.member].blended_unit_cost, (month, each, costs)
        if told.stock:
            assert sheet.stock.closing.quantity == told.stock[-1].credits, (
                month,
                sheet.stock,
                sheet.warnings,
                told.stock[-4:],
            )
        if month != self.listed[0].month:
            assert sheet.stock.opening.quantity == told.stock_before
        assert self.book.report_pdf(month=month).startswith(b"%PDF")

    def _explanations(self, month: str, sheet: Sheet) -> None:
        figures = {each.figure: each.value for each in self.book.figures(month=month)}
        for own in sheet.members:
            assert own.due.total == figures[f"members.{own.member}.due.total"].shown
            assert own.closing.cost == figures[f"members.{own.member}.closing.cost"].shown
        assert sheet.stock.closing.cost == figures["stock.closing.cost"].shown
        for name in list(figures)[:: max(1, len(figures) // 12)]:
            found = self.book.explanation(month=month, figure=name)
            assert (name, figures[name]) == (found.items[0].figure, found.items[0].value)

    def _comparison(self, month: str, sheet: Sheet) -> None:
        settled = self.settled[month]
        if sheet.obstacle is not None or settled.unpayable:
            with pytest.raises(Refused):
                self.book.comparison(month=month)
            return
        found = self.book.comparison(month=month)
        assert found.present == found.alternative, (month, found.present, found.alternative)
        assert sheet.policy == found.present.policy
        for own in sheet.members:
            (each,) = (each for each in found.members if each.member == own.member)
            assert each.present == each.alternative
            assert (own.due.total, own.lending_gain) == (each.present.due, each.present.lending_gain)
            assert by_member(settled.nets).get(own.member, NOTHING) == each.present.net, (month, each)

    def _payment_files(self, month: str) -> None:
        left: dict[str, Decimal] = defaultdict(Decimal)
        for each in self.book.settlement_payments(month=month, unpaid=True):
            left[each.payer] += each.unpaid
        for payer in ("ALDER", "BIRCH", "CEDAR"):
            try:
                found = self.book.payment_file(month=month, member=payer)
            except Refused:
                continue
            assert found.total == sum(each.amount for each in found.transfers)
            assert left[payer] == found.total + sum(each.amount for each in found.left_out), (month, payer)
            assert f"<CtrlSum>{found.total}</CtrlSum>" in self.book.payment_file_xml(month=month, member=payer)

    def _costs(self, month: str, sheet: Sheet) -> None:
        costs = {each.entry: each.cost for each in self.book.entry_costs(month=month)}
        for own in sheet.members:
            lines = self.book.statement(month=month, member=own.member).lines
            used = sum(costs.get(each.entry, NOTHING) for each in lines if each.kind == "use")
            assert own.uses.cost == used, (month, own)
            said = {each.month: each.blended_unit_cost for each in self.book.member_cost(member=own.member).items}
            assert own.blended_unit_cost == said.get(month), (month, own)


def _moved(found: Postings) -> dict[str, Decimal]:
    return {each.role: each.debit - each.credit for each in found.accounts}


def answers(served: Served) -> dict[str, Any]:
    """Give all that the service says of the months as it comes."""
    paths = ["/positions", "/settlement-payments"]
    for each in served.book().months():
        paths += [f"/months/{each.month}{more}" for more in ("", "/settlement", "/costs")]
    return {path: served.send("GET", path).json() for path in paths}


@pytest.mark.parametrize("seed", [8])
def test_what_is_said_in_one_place_holds_in_every_other(database: Database, seed: int) -> None:
    with serving(database.url) as served:
        journey = Journey(served, seed)
        done = []
        for number in range(1, STEPS + 1):
            done.append(journey.step())
            if number % LOOK == 0:
                months = Months(journey.book)
                months.check()
                if number % STUDY == 0:
                    months.check_documents()
                    with beside(database, served) as fresh:
                        assert answers(fresh) == answers(served), done
