"""For banks and bookkeepers: bank accounts, payment files, account codes, a month as double entry."""

from pool_client.calls.call import CSV, POOL, XML, Call, Versioned, get, model, nothing, put, versioned
from pool_client.models.bookkeeping import AccountCodes, BankAccount, PaymentFile, Postings

_ACCOUNT = f"{POOL}/members/{{member}}/bank-account"
_FILE = f"{POOL}/months/{{month}}/payment-files/{{member}}"
_CODES = f"{POOL}/account-codes/{{holder}}"
_POSTINGS = f"{POOL}/months/{{month}}/postings/{{holder}}"


def bank_account(pool: str, /, *, member: str) -> Call[Versioned[BankAccount]]:
    """Give a member's bank account, to the keeper and the member's own clerks."""
    return get(_ACCOUNT, {"pool": pool, "member": member}, versioned(BankAccount))


def put_bank_account(pool: str, account: BankAccount, /, *, tag: str | None = None) -> Call[Versioned[BankAccount]]:
    """Put a member's bank account on file, or replace the one that was read with a tag.

    Refuses: Refused for a number that can't be right; Stale when somebody was faster."""
    places = {"pool": pool, "member": account.member}
    return put(_ACCOUNT, places, account, named_by="member", tag=tag, told=("changed_at",))


def erase_bank_account(pool: str, /, *, member: str, tag: str) -> Call[None]:
    """Take a member's bank account, as it was read with a tag, off file; nothing of it is kept."""
    places, headers = {"pool": pool, "member": member}, {"If-Match": tag}
    return Call(method="DELETE", path=_ACCOUNT, places=places, headers=headers, understand=nothing, harmless=True)


def payment_file(pool: str, /, *, month: str, member: str) -> Call[PaymentFile]:
    """Give what a member's bank may be asked to transfer of what is left of a closed month's settlement.

    Refuses: Refused where nothing is left, or no account is on file."""
    return get(_FILE, {"pool": pool, "month": month, "member": member}, model(PaymentFile))


def payment_file_xml(pool: str, /, *, month: str, member: str) -> Call[str]:
    """Give the same as an ISO 20022 message (pain.001.001.09) for the payer's bank.

    It orders nothing until it is handed in: check names and accounts before money moves."""
    places = {"pool": pool, "month": month, "member": member}
    return get(_FILE, places, lambda answer: answer.content.decode(), headers={"Accept": XML})


def account_codes(pool: str, /, *, holder: str) -> Call[Versioned[AccountCodes]]:
    """Give the account codes that a member, or the stock, has stated."""
    return get(_CODES, {"pool": pool, "holder": holder}, versioned(AccountCodes))


def put_account_codes(pool: str, codes: AccountCodes, /, *, tag: str | None = None) -> Call[Versioned[AccountCodes]]:
    """State a holder's account codes, or replace those that were read with a tag."""
    return put(_CODES, {"pool": pool, "holder": codes.holder}, codes, named_by="holder", tag=tag)


def postings(pool: str, /, *, month: str, holder: str) -> Call[Postings]:
    """Give the month of a member, or of the stock, as double entry."""
    return get(_POSTINGS, {"pool": pool, "month": month, "holder": holder}, model(Postings))


def postings_csv(pool: str, /, *, month: str, holder: str) -> Call[str]:
    """Give the same as CSV text, a line each posting."""
    places = {"pool": pool, "month": month, "holder": holder}
    return get(_POSTINGS, places, lambda answer: answer.content.decode(), headers={"Accept": CSV})
