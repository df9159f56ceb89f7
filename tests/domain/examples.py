"""The worked example of the month sheet as a journal, and how tests look at a sheet."""

from pool_api.domain.entries import Draw, Loan, Opening, OpeningMember, Return
from pool_api.domain.sheets import MemberSheet, Sheet
from tests.domain.journals import Journal, bought, use


def of(sheet: Sheet, code: str) -> MemberSheet:
    """Give a member's part of a sheet."""
    return next(each for each in sheet.members if each.member == code)


def moved(sheet: Sheet) -> dict[str, int]:
    """Give what each due moved by in the month."""
    due = {each.member: each.due.total - each.due.brought_forward for each in sheet.members}
    return {code: amount for code, amount in due.items() if amount}


def worked_example() -> Journal:
    """Give the example's month: BIRCH and CEDAR lend DOGWOOD 24 and 30, and get 10 and nothing back."""
    journal = Journal()
    dogwood = OpeningMember(member="DOGWOOD", held=20, cost=19_000, due=0)
    journal.write(Opening(members=(dogwood,), stock_quantity=0, stock_cost=0))
    journal.write(bought(500, 345_000), 2)
    for code, quantity in (("ALDER", 120), ("BIRCH", 150), ("CEDAR", 80)):
        journal.write(Draw(member=code, quantity=quantity), 3)
    journal.write(Loan(lender="BIRCH", borrower="DOGWOOD", quantity=24), 5)
    journal.write(Loan(lender="CEDAR", borrower="DOGWOOD", quantity=30), 6)
    journal.write(Return(lender="BIRCH", borrower="DOGWOOD", quantity=10), 12)
    journal.write(bought(100, 79_000, "CEDAR"), 15)
    journal.write(Draw(member="DOGWOOD", quantity=60), 16)
    for code, quantity in (("ALDER", 96), ("BIRCH", 110), ("CEDAR", 40), ("DOGWOOD", 70)):
        journal.write(use(code, quantity), 20)
    return journal
