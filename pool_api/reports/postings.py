"""A holder's month for its bookkeeper: as a JSON object and as CSV, the same postings in both, amounts as text."""

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass

from pool_api.domain.bookkeeping import AccountCodes, Posting, Reason, Role, Transaction
from pool_api.domain.entries import Json, Reversal
from pool_api.domain.pool import Pool
from pool_api.domain.reversals import Fact
from pool_api.reports.cautions import STATEMENT
from pool_api.reports.cells import csv_text
from pool_api.reports.statement import what

HEAD = ("transaction", "day", "entry", "text", "account", "role", "debit", "credit", "currency")
_TEXT_AT = HEAD.index("text")


@dataclass(frozen=True, slots=True, kw_only=True)
class Books:
    """What a holder (a member, or the stock) books for a month, and how it calls its accounts.

    entries has, by number, every entry that a transaction names, and what those reverse; number and hash name the entry
    of the journal that all of it rests on."""

    pool: Pool
    holder: str
    month: str
    closed: bool
    transactions: Sequence[Transaction]
    codes: AccountCodes
    entries: Mapping[int, Fact]
    number: int
    hash: str


def postings_json(books: Books) -> Json:
    """Give the books as a JSON object: the transactions, and what each account moved by."""
    text = books.pool.currency.text
    moved = {role: _moved(books.transactions, role) for role in Role}
    return {
        "pool": books.pool.id,
        "holder": books.holder,
        "month": books.month,
        "state": "closed" if books.closed else "open",
        "currency": books.pool.currency.code,
        "rests_on": {"number": books.number, "hash": books.hash},
        "transactions": [_transaction(each, books) for each in books.transactions],
        "accounts": [
            {"role": role, "account": books.codes.of(role), "debit": text(debit), "credit": text(credit)}
            for role, (debit, credit) in moved.items()
            if debit or credit
        ],
        "cautions": list(STATEMENT),
    }


def _moved(transactions: Sequence[Transaction], role: Role) -> tuple[int, int]:
    amounts = [posting.amount for each in transactions for posting in each.postings if posting.role is role]
    return sum(each for each in amounts if each > 0), -sum(each for each in amounts if each < 0)


def _transaction(each: Transaction, books: Books) -> Json:
    shown: Json = {
        "on": each.on.isoformat(),
        "reason": each.reason,
        "text": _text(each, books),
        "postings": [_posting(posting, books) for posting in each.postings],
    }
    return shown if each.entry is None else {"entry": each.entry, **shown}


def _posting(posting: Posting, books: Books) -> Json:
    side = "debit" if posting.amount > 0 else "credit"
    amount = books.pool.currency.text(abs(posting.amount))
    return {"role": posting.role, "account": books.codes.of(posting.role), side: amount}


def _text(each: Transaction, books: Books) -> str:
    return _WORDS[each.reason](each, books)


def _of_entry(each: Transaction, books: Books) -> str:
    body = books.entries[each.entry or 0].body
    if isinstance(body, Reversal):
        return f"reversal of entry {body.entry}: {what(books.holder, books.entries[body.entry].body)}"
    return what(books.holder, body)


_WORDS: dict[Reason, Callable[[Transaction, Books], str]] = {
    Reason.ENTRY: _of_entry,
    Reason.LATE_COST: lambda _, _books: "cost of credits that came later than they were taken",
    Reason.LOANS_SETTLED: lambda each, _: f"loans settled with {each.other}",
    Reason.LOANS_CARRIED: lambda each, _: f"loans with {each.other} carried on",
    Reason.LOANS_RETURNED: lambda each, _: f"loans with {each.other} returned",
    Reason.SAVING_SHARED: lambda _, _books: "share of the saving by ordering together",
    Reason.MADE_UP: lambda _, _books: "cost of credits that had left before they were there",
    Reason.DIFFERENCE: lambda _, _books: "what reversals could not take at original amounts",
    Reason.SETTLEMENT: lambda _, books: f"settlement of {books.month}",
}
"""What a transaction is for, in words."""


def postings_csv(books: Books) -> str:
    """Give the books as CSV (RFC 4180) in the columns of HEAD, a line each posting; transactions are counted from 1."""
    rows = [
        (
            place,
            each["on"],
            each.get("entry", ""),
            each["text"],
            posting["account"],
            posting["role"],
            posting.get("debit", ""),
            posting.get("credit", ""),
            books.pool.currency.code,
        )
        for place, each in enumerate(postings_json(books)["transactions"], start=1)
        for posting in each["postings"]
    ]
    return csv_text([HEAD, *rows], free=_TEXT_AT)
