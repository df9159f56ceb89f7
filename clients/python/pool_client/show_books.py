"""What people are shown of bank accounts and books. Pure, as show.py, which shows all the rest."""

from pool_client.cells import tabulated
from pool_client.models.bookkeeping import AccountCodes, BankAccount, PaymentFile, Postings
from pool_client.table import Table
from pool_client.wire import write


def bank_account(found: BankAccount) -> list[Table]:
    """Show a bank account."""
    rows = [(name.replace("_", " "), value) for name, value in write(found).items()]
    return [tabulated(f"Bank account of {found.member}", "what|is", rows)]


def payment_file(found: PaymentFile) -> list[Table]:
    """Show what a bank may be asked to transfer, to be compared before it is."""
    transfers = [
        (each.payment, each.to.member, each.to.holder, each.to.iban, each.to.changed_at, each.amount)
        for each in found.transfers
    ]
    left = [(each.payment, each.payee, each.amount, each.reason) for each in found.left_out]
    title = f"From {found.payer}, {found.from_.iban}: {found.total:,} {found.currency} for {found.month}"
    columns = "payment|to|holder|account|changed at|>amount"
    tables = [tabulated(title, columns, transfers, f"Name: {found.name}", *found.cautions)]
    return tables + ([tabulated("Left out", "payment|to|>amount|because", left)] if left else [])


def account_codes(found: AccountCodes) -> list[Table]:
    """Show a holder's account codes."""
    rows = [(name.replace("_", " "), code) for name, code in write(found).items() if name != "holder"]
    return [tabulated(f"Accounts of {found.holder}", "role|account", rows)]


def postings(found: Postings) -> list[Table]:
    """Show a holder's month as double entry, and what each account moved by."""
    rows = [
        (str(each.entry) if each.entry else None, each.on, each.text, posting.account, posting.debit, posting.credit)
        for each in found.transactions
        for posting in each.postings
    ]
    moved = [(each.account, each.role.replace("_", " "), each.debit, each.credit) for each in found.accounts]
    title = f"Postings of {found.holder} for {found.month} ({found.state}), {found.currency}"
    rests = f"Rests on entry {found.rests_on.number}, hash {found.rests_on.hash}."
    return [
        tabulated(title, ">entry|day|text|account|>debit|>credit", rows),
        tabulated("Accounts", "account|role|>debit|>credit", moved, rests, *found.cautions),
    ]
