"""What holds of every month's double entry, whatever was recorded and however late.

Debits equal credits in every transaction (the duality of double entry; see test_bookkeeping.py for the source), and the
accounts, added up month after month, have what the sheets say: closing credits at cost, dues, lending gains."""

from collections import defaultdict
from collections.abc import Iterator
from itertools import pairwise

from hypothesis import given, settings
from hypothesis import strategies as st

from pool_api.domain.bookkeeping import Role, Transaction, transactions
from pool_api.domain.entries import Opening, Payment, Reversal, Use, WriteOff
from pool_api.domain.sheets import Sheet
from pool_api.domain.values import STOCK
from tests.domain.journals import CODES, Journal, Rules, Wish, accepted, all_rules, chained, openings, wishes

HOLDERS = (*CODES, STOCK)

Ledger = dict[str, dict[Role, int]]
"""Each holder's balances, debits above 0."""


def booked(journal: Journal, rules: Rules) -> Iterator[tuple[Sheet, dict[str, tuple[Transaction, ...]]]]:
    """Give each month's sheet with what every holder books, as a close of the month would have it."""
    targets = {each.number: each for each in journal.entries}
    for sheet, position in chained(journal, rules):
        remaining = {each.member: each.due for each in position.members}
        nets = {code: due - remaining.get(code, 0) for code, due in sheet.dues.items()}
        yield sheet, {holder: transactions(holder, sheet, journal.of(sheet.month), targets, nets) for holder in HOLDERS}


def kept(journal: Journal, rules: Rules) -> Iterator[tuple[Sheet, Ledger, Ledger]]:
    """Give each month's sheet with what its accounts moved by, and with their balances at its end."""
    balances: Ledger = {holder: defaultdict(int) for holder in HOLDERS}
    for sheet, found in booked(journal, rules):
        moved: Ledger = {holder: defaultdict(int) for holder in HOLDERS}
        for holder, each in ((holder, each) for holder, all_of_it in found.items() for each in all_of_it):
            for role, amount in each.postings:
                moved[holder][role] += amount
                balances[holder][role] += amount
        yield sheet, moved, balances


def part_of(sheet: Sheet, journal: Journal, member: str, kind: type) -> int:
    """Give the cost of what reversals took back of a member's earlier entries of a kind."""
    by_number = {each.number: each for each in journal.entries}
    bodies = {
        number: by_number[reversal.entry].body
        for number in sheet.reversed
        if isinstance(reversal := by_number[number].body, Reversal)
    }
    return sum(
        sheet.reversed[number].cost
        for number, body in bodies.items()
        if isinstance(body, kind) and member == getattr(body, "member", getattr(body, "holder", ""))
    )


@settings(deadline=None)
@given(opening=openings, asked=wishes(75), rules=all_rules, in_order=st.booleans())
def test_debits_equal_credits_in_every_transaction(
    *, opening: Opening | None, asked: list[Wish], rules: Rules, in_order: bool
) -> None:
    journal = accepted(opening, asked, rules, in_order=in_order)
    for sheet, found in booked(journal, rules):
        for each in (each for all_of_it in found.values() for each in all_of_it):
            assert 0 == sum(amount for _, amount in each.postings)
            assert 2 <= len(each.postings) == len({role for role, _ in each.postings})
            assert all(amount for _, amount in each.postings)
            assert sheet.month.first <= each.on <= sheet.month.last
        for all_of_it in found.values():
            assert all(one.on <= two.on for one, two in pairwise(all_of_it))


@settings(deadline=None)
@given(opening=openings, asked=wishes(75), rules=all_rules, in_order=st.booleans())
def test_over_the_months_the_accounts_have_what_the_sheets_say(
    *, opening: Opening | None, asked: list[Wish], rules: Rules, in_order: bool
) -> None:
    journal = accepted(opening, asked, rules, in_order=in_order)
    carrier = CODES[0]
    for sheet, _, balances in kept(journal, rules):
        closing = sheet.stock.closing.cost

        assert {each.member: each.closing.cost for each in sheet.members} == {
            code: balances[code][Role.CREDITS] for code in CODES
        }
        assert closing == balances[STOCK][Role.CREDITS] == -balances[STOCK][Role.POOL]
        assert {code: closing if code == carrier else 0 for code in CODES} == {
            code: balances[code][Role.POOL] for code in CODES
        }
        assert 0 == sum(balances[code][Role.SETTLEMENT] for code in CODES)
        assert {code: _open(sheet, code) for code in CODES} == {code: balances[code][Role.LOANS] for code in CODES}


def _open(sheet: Sheet, code: str) -> int:
    lent = sum(each.value or 0 for each in sheet.open_loans if each.lender == code)
    return lent - sum(each.value or 0 for each in sheet.open_loans if each.borrower == code)


@settings(deadline=None)
@given(opening=openings, asked=wishes(75), rules=all_rules, in_order=st.booleans())
def test_every_month_its_accounts_move_by_what_its_sheet_says(
    *, opening: Opening | None, asked: list[Wish], rules: Rules, in_order: bool
) -> None:
    journal = accepted(opening, asked, rules, in_order=in_order)
    for sheet, moved, _ in kept(journal, rules):
        for own in sheet.members:
            accounts = moved[own.member]
            back = {kind: part_of(sheet, journal, own.member, kind) for kind in (Use, WriteOff)}

            assert own.uses.cost - back[Use] == accounts[Role.USED]
            assert own.write_offs.cost - back[WriteOff] == accounts[Role.WRITTEN_OFF]
            assert -own.lending_gain == accounts[Role.LENDING]
        differences = sum(moved[own.member][Role.DIFFERENCES] for own in sheet.members)
        assert sum(own.made_up.cost - own.difference for own in sheet.members) == differences


@settings(deadline=None)
@given(opening=openings, asked=wishes(75), rules=all_rules)
def test_what_members_pay_each_other_leaves_one_bank_for_the_other(
    *, opening: Opening | None, asked: list[Wish], rules: Rules
) -> None:
    journal = accepted(opening, asked, rules, in_order=False)
    payments = {each.number for each in journal.entries if isinstance(each.body, Payment)}
    for _, found in booked(journal, rules):
        paid = [
            amount
            for all_of_it in found.values()
            for each in all_of_it
            if each.entry in payments
            for role, amount in each.postings
            if role is Role.BANK
        ]

        assert 0 == sum(paid)


@settings(deadline=None)
@given(opening=openings, asked=wishes(75), rules=all_rules)
def test_an_open_month_asks_for_no_payments_yet(*, opening: Opening | None, asked: list[Wish], rules: Rules) -> None:
    journal = accepted(opening, asked, rules, in_order=False)
    targets = {each.number: each for each in journal.entries}
    brought: dict[str, int] = {}
    for sheet, position in chained(journal, rules):
        for code, due in sheet.dues.items():
            found = transactions(code, sheet, journal.of(sheet.month), targets, {})
            moved = sum(amount for each in found for role, amount in each.postings if role is Role.POOL)

            assert due == brought.get(code, 0) + moved
        brought = {each.member: each.due for each in position.members}
