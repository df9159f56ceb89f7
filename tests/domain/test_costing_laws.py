"""What holds of every chain of months, whatever was recorded and however late: no cost and no credit is lost.

The journals are by chance, as the book would have accepted them, with entries dated late, corrections in the month and
in later ones, and openings with loans."""

from collections.abc import Mapping
from dataclasses import replace

from hypothesis import given
from hypothesis import strategies as st

from pool_api.domain.book import Book
from pool_api.domain.entries import (
    Charge,
    Close,
    Direction,
    Entry,
    Json,
    Opening,
    Outside,
    Payment,
    Purchase,
    Reversal,
    Use,
    WriteOff,
    quantity_of,
)
from pool_api.domain.pool import Policy, StockCosting
from pool_api.domain.reversals import Divisible
from pool_api.domain.sheets import position_from, position_json, sheet_json
from pool_api.domain.stock import replay
from pool_api.domain.values import STOCK, Month
from tests.domain.journals import (
    CODES,
    SETTLEMENT,
    Journal,
    Rules,
    Wish,
    accepted,
    all_rules,
    chained,
    numbered,
    openings,
    policies,
    sheet_of,
    shops,
    under,
    wishes,
)

NO_PAYMENTS: Json = {"payments": []}


def taken_parts(journal: Journal, amounts: Mapping[int, tuple[int, int]]) -> int:
    """Give what reversals in later months took of amounts, told as (credits, amount) by entry. Own rule: pro rata, half
    up, the last part takes the rest."""
    month_of = {each.number: Month.of(each.effective_on) for each in journal.entries}
    left = {number: Divisible(quantity=quantity, amount=amount) for number, (quantity, amount) in amounts.items()}
    taken = 0
    for entry in sorted(journal.entries, key=lambda each: (each.effective_on, each.number)):
        if isinstance(entry.body, Reversal) and entry.body.entry in left:
            of, quantity = entry.body.entry, entry.body.quantity or 1
            if month_of[of] != month_of[entry.number]:
                taken += left[of].part(quantity)
                left[of] = left[of].without(quantity)
    return taken


def standing(journal: Journal, entry: Entry) -> tuple[int, int]:
    """Give what is left of an entry's credits and amount after the reversals of its own month."""
    whole = Divisible(quantity=quantity_of(entry.body) or 1, amount=getattr(entry.body, "amount", 0))
    for each in journal.of(Month.of(entry.effective_on)):
        if isinstance(each.body, Reversal) and each.body.entry == entry.number:
            whole = whole.without(each.body.quantity or 1)
    return whole.left, whole.left_amount


@given(opening=openings, asked=wishes(75), rules=all_rules, in_order=st.booleans())
def test_the_dues_are_the_cost_of_the_closing_stock(
    *, opening: Opening | None, asked: list[Wish], rules: Rules, in_order: bool
) -> None:
    for sheet, _ in chained(accepted(opening, asked, rules, in_order=in_order), rules):
        assert sheet.stock.closing.cost == sum(sheet.dues.values())


@given(opening=openings, asked=wishes(75), rules=all_rules, in_order=st.booleans())
def test_all_cost_that_came_in_is_somewhere(
    *, opening: Opening | None, asked: list[Wish], rules: Rules, in_order: bool
) -> None:
    """All cost bought or opened, less what reversals took back, is in stock, with members, used or written off, less
    lending gains and differences."""
    journal = accepted(opening, asked, rules, in_order=in_order)
    sheets = [sheet for sheet, _ in chained(journal, rules)]
    came = {
        each.number: standing(journal, each)
        for each in journal.entries
        if isinstance(each.body, Purchase) or (isinstance(each.body, Outside) and each.body.direction is Direction.IN)
    }
    opened = opening.stock_cost + sum(each.cost for each in opening.members) if opening else 0
    gone = {
        each.number: (standing(journal, each)[0], sheet.costs[each.number])
        for sheet in sheets
        for each in journal.of(sheet.month)
        if each.number in sheet.costs and isinstance(each.body, Use | WriteOff | Outside)
    }
    late = sum(each.cost for sheet in sheets for each in sheet.stock.late if each.holder == STOCK)
    made_up = sum(each.made_up.cost for sheet in sheets for each in sheet.members)
    gains = sum(each.lending_gain + each.difference for sheet in sheets for each in sheet.members)
    kept = sheets[-1].stock.closing.cost + sum(each.closing.cost for each in sheets[-1].members)

    came_in = opened + sum(amount for _, amount in came.values()) - taken_parts(journal, came)
    went_out = sum(cost for _, cost in gone.values()) - taken_parts(journal, gone) + late + made_up
    assert came_in == kept + went_out - gains


@given(opening=openings, asked=wishes(75), rules=all_rules, in_order=st.booleans())
def test_credits_are_where_the_book_has_them(
    *, opening: Opening | None, asked: list[Wish], rules: Rules, in_order: bool
) -> None:
    journal = accepted(opening, asked, rules, in_order=in_order)
    by_number = {each.number: each for each in journal.entries}
    for sheet, position in chained(journal, rules):
        book = Book(payments={SETTLEMENT.id: SETTLEMENT})
        for entry in journal.entries:
            if Month.of(entry.effective_on) <= sheet.month:
                book.apply(entry, by_number[entry.body.entry] if isinstance(entry.body, Reversal) else None)

        assert book.stock == sheet.stock.closing.quantity
        assert {code: book.held.get(code, 0) for code in CODES} == {
            each.member: each.closing.quantity for each in sheet.members
        }
        assert position == position_from(position_json(position))


@given(opening=openings, asked=wishes(75), rules=all_rules, in_order=st.booleans())
def test_what_stays_open_is_open_in_the_book(
    *, opening: Opening | None, asked: list[Wish], rules: Rules, in_order: bool
) -> None:
    journal = accepted(opening, asked, rules, in_order=in_order)
    by_number = {each.number: each for each in journal.entries}
    book = Book(payments={SETTLEMENT.id: SETTLEMENT})
    for sheet, position in chained(journal, rules):
        for entry in journal.of(sheet.month):
            book.apply(entry, by_number[entry.body.entry] if isinstance(entry.body, Reversal) else None)
        close = Close(month=str(sheet.month), computed_at=0, digest="", sheet=sheet_json(sheet), settlement=NO_PAYMENTS)
        book.apply(numbered(len(journal.entries) + 1, close, sheet.month.last))

        assert {pair: quantity for pair, quantity in book.open.items() if quantity} == {
            (each.lender, each.borrower): each.quantity for each in position.loans
        }


@given(opening=openings, asked=wishes(75), rules=all_rules, in_order=st.booleans())
def test_what_one_gets_for_a_loan_another_pays_sooner_or_later(
    *, opening: Opening | None, asked: list[Wish], rules: Rules, in_order: bool
) -> None:
    """The value of all that was lent is returned, settled, or still open."""
    for sheet, position in chained(accepted(opening, asked, rules, in_order=in_order), rules):
        due = [each.due for each in sheet.members]
        assert 0 == sum(each.loans_from_it + each.loans_to_it for each in due)
        assert sum(each.loans_from_it for each in due) == (
            sum(each.amount for each in (*sheet.loans_settled, *sheet.loans_agreed))
            + sum(each.value or 0 for each in sheet.carried_settled)
        )
        assert all(each.value is not None and each.quantity > 0 for each in position.loans)


@given(opening=openings, asked=wishes(75), rules=all_rules, in_order=st.booleans())
def test_a_sheet_and_the_replay_cost_the_stock_alike(
    *, opening: Opening | None, asked: list[Wish], rules: Rules, in_order: bool
) -> None:
    journal = accepted(opening, asked, rules, in_order=in_order)
    replayed = replay(journal.entries, lambda month: rules[month].stock_costing)
    for sheet, _ in chained(journal, rules):
        if sheet.month in replayed:
            assert replayed[sheet.month] == sheet.stock


@given(opening=openings, asked=wishes(75), rules=all_rules)
def test_the_entries_of_a_month_add_up_to_its_lines(
    *, opening: Opening | None, asked: list[Wish], rules: Rules
) -> None:
    for sheet, _ in chained(accepted(opening, asked, rules, in_order=False), rules):
        out = [each.uses.cost + each.outside_out.cost + each.write_offs.cost for each in sheet.members]
        lent = [*sheet.loans_settled, *sheet.loans_carried, *sheet.loans_returned, *sheet.loans_agreed]

        assert sum(sheet.costs.values()) == sum(out) + sum(each.cost for each in sheet.stock.outflows)
        assert sum(each.cost for each in lent) == sum(each.loans_from_it.cost for each in sheet.members)
        assert sum(each.amount for each in lent) == sum(each.loans_to_it.cost for each in sheet.members)
        for shares in sheet.shares.values():
            assert len(CODES) == len(shares)


@given(asked=wishes(30), order=st.permutations(range(45)), policy=policies)
def test_under_the_month_average_arrival_changes_no_figure(
    *, asked: list[Wish], order: list[int], policy: Policy
) -> None:
    """For entries of different days (on one day a tie of remainders goes to the earlier number)."""
    policy = replace(policy, stock_costing=StockCosting.MONTH_AVERAGE)
    apart = {wish.day: wish for wish in asked}
    journal = accepted(None, list(apart.values()), under(policy), in_order=True)
    name = {each.number: order[each.number] + 1 for each in journal.entries}
    shuffled = []
    for each in journal.entries:
        body = each.body
        if isinstance(body, Reversal):
            body = Reversal(entry=name[body.entry], quantity=body.quantity)
        shuffled.append(numbered(name[each.number], body, each.effective_on))
    one, two = (
        sheet_of(entries, policy, shops())
        for entries in (journal.entries, sorted(shuffled, key=lambda each: each.number))
    )

    assert one.members == two.members
    assert one.loans_settled == two.loans_settled
    assert one.warnings == two.warnings
    assert {name[number]: cost for number, cost in one.costs.items()} == two.costs
    assert one.stock.closing == two.stock.closing


@given(asked=wishes(75), rules=all_rules)
def test_money_alone_moves_no_cost(*, asked: list[Wish], rules: Rules) -> None:
    journal = accepted(None, asked, rules, in_order=True)
    money = {each.number for each in journal.entries if isinstance(each.body, Charge | Payment)}
    without = Journal(
        [
            each
            for each in journal.entries
            if each.number not in money and not (isinstance(each.body, Reversal) and each.body.entry in money)
        ]
    )
    for (one, _), (two, _) in zip(chained(journal, rules), chained(without, rules), strict=True):
        assert [each.closing for each in one.members] == [each.closing for each in two.members]
        assert one.stock == two.stock
        assert one.costs == two.costs
