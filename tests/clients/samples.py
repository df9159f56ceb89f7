"""Every call of the client once, with all that can be said in it: by name, arguments by place and by name."""

from datetime import UTC, date, datetime
from decimal import Decimal
from typing import Any

from pool_client.calls.call import Call
from pool_client.client import Book, Client
from pool_client.models.bookkeeping import AccountCodes, BankAccount
from pool_client.models.directory import (
    Handle,
    LoansAtClose,
    Member,
    Policy,
    PolicyFrom,
    Pool,
    Role,
)
from pool_client.models.entries import (
    Acknowledgement,
    Charge,
    Command,
    Direction,
    Draw,
    Loan,
    Opening,
    OpeningMember,
    OpenLoan,
    Outside,
    Payment,
    Purchase,
    Recordable,
    Relocation,
    Return,
    Reversal,
    Use,
    Verdict,
    WriteOff,
    WriteOffReason,
)
from pool_client.models.mending import Answer
from pool_client.models.vendor import ColumnProfile

from tests.clients.samples_explaining import EXPLAINING
from tests.clients.samples_people import ELSEWHERE_OF_POOL, PEOPLE_OF_SERVICE

DAY = date(2026, 11, 3)
KEY = "4f1c2a9e-loan-1"

ONE_OF_EACH: tuple[Recordable, ...] = (
    Opening(
        members=(OpeningMember(member="DOGWOOD", held=20, cost=Decimal("190.00"), due=Decimal("-12.50")),),
        stock_quantity=10,
        stock_cost=Decimal(70),
        loans=(OpenLoan(lender="BIRCH", borrower="CEDAR", quantity=5),),
    ),
    Purchase(paid_by="ALDER", quantity=500, amount=Decimal("3450.00"), into="BIRCH", order_number="N-20817"),
    Draw(member="ALDER", quantity=120),
    Loan(lender="BIRCH", borrower="DOGWOOD", quantity=24, unit_price=Decimal("7.5")),
    Return(borrower="DOGWOOD", lender="BIRCH", quantity=10),
    Use(member="ALDER", quantity=96, item="CAL-M", job="J-1", price=Decimal("900.00"), off_road_only=True),
    WriteOff(holder="stock", quantity=3, reason=WriteOffReason.EXPIRED),
    Outside(member="CEDAR", direction=Direction.IN, party="a shop in Farhollow", quantity=20, amount=Decimal(150)),
    Relocation(from_member="ALDER", to_member="BIRCH", quantity=190),
    Charge(from_member="BIRCH", to_member="ALDER", amount=Decimal("12.50"), reason="courier"),
    Payment(
        from_member="BIRCH",
        to_member="ALDER",
        amount=Decimal("961.07"),
        method="bank",
        bank_reference="R-1",
        pays="2026-10-1",
        accept_overpayment=True,
    ),
    Reversal(entry=42, quantity=12),
    Acknowledgement(entry=42, member="DOGWOOD", verdict=Verdict.CONFIRMED),
)

POOL = Pool(
    id="riverside",
    name="Riverside",
    vendor="Norvane Tuning Systems",
    currency="EUR",
    time_zone="Europe/Vienna",
    began_on=DAY,
    keeper_member="ALDER",
    custodian="ALDER",
    policy=Policy(smallest_payment=Decimal("5.00"), no_payments_between=(("ALDER", "BIRCH"),)),
)
POLICY = PolicyFrom(from_month="2026-11", loans_at_close=LoansAtClose.CARRY)
MEMBER = Member(
    code="ALDER",
    name="Alder Workshop",
    joined_on=DAY,
    left_on=DAY,
    share=2,
    handles=(Handle(handle="nv-10417", since=DAY),),
)
BANK_ACCOUNT = BankAccount(
    member="ALDER",
    holder="Alder Workshop",
    iban="AT809990000000000001",
    bic="INVNATA0",
    changed_at=datetime(2026, 11, 3, tzinfo=UTC),
)
CODES = AccountCodes(holder="stock", credits="1400")
PROFILE = ColumnProfile(
    name="norvane",
    day="Booked",
    kind="Action",
    giver="From",
    receiver="To",
    counterparty="Other account",
    quantity="Credits",
    incoming="In",
    outgoing="Out",
    note="Remark",
    reference="Ref no",
    balance="Balance after",
    amount="Paid",
    kind_words={"Unlock": "use"},
    encoding="windows-1252",
    zone="Europe/Vienna",
)

MEND = {
    "kind": "return",
    "giver": "ALDER",
    "receiver": "BIRCH",
    "member": "CEDAR",
    "into": "stock",
    "paid_by": "ALDER",
    "entry": 42,
    "quantity": 24,
    "amount": Decimal("3450.00"),
    "order_number": "N-20817",
    "item": "CAL-S",
    "job": "A-1001",
    "price": Decimal("900.00"),
    "direction": "in",
    "party": "a shop",
    "effective_on": DAY,
    "note": "by phone",
}

Told = tuple[tuple[Any, ...], dict[str, Any]]

OF_SERVICE: dict[str, list[Told]] = PEOPLE_OF_SERVICE | {
    "pools": [((), {"limit": 5})],
    "put_pool": [((POOL,), {"tag": '"3"'})],
}
OF_POOL: dict[str, list[Told]] = {
    "terms": [((), {})],
    "policies": [((), {})],
    "policy": [((), {"month": "2026-11"})],
    "put_policy": [((POLICY,), {"tag": '"3"'})],
    "members": [((), {"limit": 5})],
    "member": [((), {"code": "ALDER"})],
    "put_member": [((MEMBER,), {"tag": '"3"'})],
    "keys": [((), {"limit": 5})],
    "key": [((), {"key_id": "4f0c8e12ab34"})],
    "make_key": [
        (
            (),
            {
                "name": "counter",
                "role": Role.CLERK,
                "member": "ALDER",
                "expires_at": datetime(2026, 12, 31, tzinfo=UTC),
                "idempotency_key": KEY,
            },
        )
    ],
    "end_key": [((), {"key_id": "4f0c8e12ab34"})],
    "record": [
        ((body,), {"effective_on": DAY, "note": "until Friday", "reference": "INV-42", "idempotency_key": KEY})
        for body in ONE_OF_EACH
    ],
    "record_all": [
        (
            ([Command(body=body, effective_on=DAY, note="until Friday", reference="INV-42") for body in ONE_OF_EACH],),
            {"idempotency_key": KEY},
        )
    ],
    "preview": [
        (([Command(body=body, effective_on=DAY, note="until Friday", reference="INV-42") for body in ONE_OF_EACH],), {})
    ],
    "entries": [
        (
            (),
            {
                "member": "ALDER",
                "kind": "loan",
                "from_day": DAY,
                "to_day": DAY,
                "text": "waiting",
                "job": "J-1",
                "limit": 5,
            },
        )
    ],
    "entry": [((), {"number": 42})],
    "verification": [((), {"known": "42:" + "0" * 16})],
    "positions": [((), {"as_of": DAY})],
    "member_cost": [((), {"member": "ALDER"})],
    "job": [((), {"job": "J-1"})],
    "months": [((), {})],
    "sheet": [((), {"month": "2026-11"})],
    "entry_costs": [((), {"month": "2026-11", "limit": 5})],
    "settlement": [((), {"month": "2026-11"})],
    "close": [
        (
            (),
            {
                "month": "2026-11",
                "digest": "0" * 64,
                "accept_warnings": True,
                "accept_differences": True,
                "note": "seen",
                "idempotency_key": KEY,
            },
        )
    ],
    "reopen": [((), {"month": "2026-11", "reason": "a purchase was missing", "idempotency_key": KEY})],
    "statement": [((), {"month": "2026-11", "member": "ALDER"})],
    "statement_csv": [((), {"month": "2026-11", "member": "ALDER"})],
    "statement_pdf": [((), {"month": "2026-11", "member": "ALDER"})],
    "statement_xlsx": [((), {"month": "2026-11", "member": "ALDER"})],
    "statements_zip": [((), {"month": "2026-11", "form": "csv"})],
    "report": [((), {"month": "2026-11"})],
    "report_pdf": [((), {"month": "2026-11"})],
    "settlement_payments": [((), {"unpaid": True, "member": "ALDER", "month": "2026-11", "limit": 5})],
    **EXPLAINING,
    "bank_account": [((), {"member": "ALDER"})],
    "put_bank_account": [((BANK_ACCOUNT,), {"tag": '"3"'})],
    "erase_bank_account": [((), {"member": "ALDER", "tag": '"3"'})],
    "payment_file": [((), {"month": "2026-11", "member": "ALDER"})],
    "payment_file_xml": [((), {"month": "2026-11", "member": "ALDER"})],
    "account_codes": [((), {"holder": "stock"})],
    "put_account_codes": [((CODES,), {"tag": '"3"'})],
    "postings": [((), {"month": "2026-11", "holder": "stock"})],
    "postings_csv": [((), {"month": "2026-11", "holder": "stock"})],
    **ELSEWHERE_OF_POOL,
    "column_profiles": [((), {"limit": 5})],
    "column_profile": [((), {"name": "norvane"})],
    "put_column_profile": [((PROFILE,), {"tag": '"3"'})],
    "propose_column_profile": [((b"a;b\n",), {"name": "norvane", "record": "uses", "sheet": "October"})],
    "import_record": [
        (
            (b"a;b\n",),
            {
                "member": "ALDER",
                "profile": "norvane",
                "account": "nv-10417",
                "sheet": "October",
                "from_day": DAY,
                "to_day": DAY,
                "idempotency_key": KEY,
            },
        )
    ],
    "imports": [((), {"limit": 5})],
    "imported": [((), {"import_id": "00000007"})],
    "changes": [((), {"import_id": "00000007", "limit": 5})],
    "coverage": [((), {"from_day": DAY, "to_day": DAY})],
    "proof": [((), {"month": "2026-11", "member": "ALDER"})],
    "proof_csv": [((), {"month": "2026-11", "member": "ALDER"})],
    "reconciliation": [((), {"month": "2026-11"})],
    "decide": [
        (
            (),
            {
                "month": "2026-11",
                "difference": "bae5a3cb",
                "verdict": "accepted",
                "reason": "as the vendor shows",
                "fields": {"paid_by": "ALDER"},
                "as_answered": True,
                "idempotency_key": KEY,
            },
        )
    ],
    "preview_all": [
        (
            (),
            {
                "month": "2026-11",
                "kind": "missing_in_journal",
                "verdict": "accepted",
                "reason": "as the vendor shows",
                "fields": {"paid_by": "ALDER"},
            },
        )
    ],
    "decide_all": [
        (
            (),
            {
                "month": "2026-11",
                "kind": "missing_in_journal",
                "verdict": "accepted",
                "reason": "as the vendor shows",
                "fields": MEND,
                "idempotency_key": KEY,
            },
        )
    ],
    "confirm": [
        (
            (),
            {
                "month": "2026-11",
                "matches": ["0" * 64],
                "all_suggested": True,
                "entries": [42],
                "rows": ["0" * 64 + ":1"],
                "word": "as CEDAR says",
                "idempotency_key": KEY,
            },
        )
    ],
    "take_back": [
        ((), {"month": "2026-11", "match": "0" * 64, "word": "it was the other loan", "idempotency_key": KEY})
    ],
    "hand": [
        (
            (),
            {
                "month": "2026-11",
                "difference": "bae5a3cb",
                "member": "CEDAR",
                "word": "what was this?",
                "idempotency_key": KEY,
            },
        )
    ],
    "handed": [((), {"member": "CEDAR", "limit": 5})],
    "answer": [
        (
            (),
            {
                "month": "2026-11",
                "difference": "bae5a3cb",
                "answer": Answer.MEND,
                "fields": MEND,
                "word": "we gave it back",
                "idempotency_key": KEY,
            },
        )
    ],
    "sign_off": [
        (
            (),
            {"month": "2026-11", "digest": "0" * 64, "accept_open": True, "note": "seen", "idempotency_key": KEY},
        )
    ],
}


class Recorder:
    """A line that keeps what would be sent."""

    def __init__(self) -> None:
        self.calls: list[Call[Any]] = []

    def send(self, call: Call[Any]) -> None:
        self.calls.append(call)

    each = send


def every_call() -> list[tuple[str, Call[Any]]]:
    """Give the name and the description of each sample, made through the bindings that programs use."""
    line: Any = Recorder()
    client, book = Client("https://pool.test", "cp_key"), Book(line, "riverside")
    client.line = line
    names = []
    for owner, samples in ((client, OF_SERVICE), (book, OF_POOL)):
        for name, told in samples.items():
            for given, named in told:
                getattr(owner, name)(*given, **named)
                names.append(name)
    return list(zip(names, line.calls, strict=True))
