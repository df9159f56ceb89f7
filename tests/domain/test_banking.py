"""What of a settlement a member can have its bank transfer: what is left, between accounts that are on file."""

from dataclasses import replace

import pytest
from hypothesis import given
from hypothesis import strategies as st

from pool_api.domain.banking import BankAccount, PaymentOrder, payment_order
from pool_api.domain.book import SettlementPayment
from pool_api.domain.errors import NothingToTransfer
from pool_api.domain.values import Month
from tests.domain.journals import CODES

MONTH = Month(2026, 10)


def account(member: str, number: int = 1) -> BankAccount:
    return BankAccount(
        member=member,
        holder=f"{member.title()} Workshop",
        iban=f"AT80{number:016d}",
        bic=None,
        changed_at="2026-10-01T00:00:00.000000Z",
    )


def asked(place: int, payer: str, payee: str, amount: int, paid: int = 0) -> SettlementPayment:
    return SettlementPayment(id=f"{MONTH}-{place}", month=MONTH, payer=payer, payee=payee, amount=amount, paid=paid)


PAYMENTS = (
    asked(1, "BIRCH", "ALDER", 96_107),
    asked(2, "DOGWOOD", "ALDER", 49_121, 9_121),
    asked(3, "DOGWOOD", "CEDAR", 24_372),
)
EVERYBODY = {code: account(code) for code in CODES}


def ordered(payer: str, *without: str) -> PaymentOrder:
    accounts = {code: each for code, each in EVERYBODY.items() if code not in without}
    return payment_order("riverside", MONTH, payer, PAYMENTS, accounts)


def test_an_order_holds_what_its_payer_has_left_to_pay() -> None:
    order = ordered("DOGWOOD")

    assert [("2026-10-2", 40_000, "ALDER"), ("2026-10-3", 24_372, "CEDAR")] == [
        (each.payment, each.amount, each.to.member) for each in order.transfers
    ]
    assert 64_372 == order.total
    assert () == order.left_out


def test_what_lacks_an_account_is_left_out_with_the_reason() -> None:
    order = ordered("DOGWOOD", "CEDAR")

    assert ["2026-10-2"] == [each.payment for each in order.transfers]
    assert [("2026-10-3", "CEDAR", 24_372, "no bank account of CEDAR on file")] == [
        (each.payment, each.payee, each.amount, each.reason) for each in order.left_out
    ]


@pytest.mark.parametrize(
    ("payer", "without", "reason"),
    [
        ("ALDER", (), "it has nothing left to pay"),
        ("BIRCH", ("BIRCH",), "2026-10-1 to ALDER: no bank account of BIRCH on file"),
        ("BIRCH", ("ALDER", "BIRCH"), "2026-10-1 to ALDER: no bank account of BIRCH and ALDER on file"),
        (
            "DOGWOOD",
            ("ALDER", "CEDAR"),
            (
                "2026-10-2 to ALDER: no bank account of ALDER on file; "
                "2026-10-3 to CEDAR: no bank account of CEDAR on file"
            ),
        ),
    ],
)
def test_an_order_without_a_transfer_is_refused(payer: str, without: tuple[str, ...], reason: str) -> None:
    with pytest.raises(NothingToTransfer) as refused:
        ordered(payer, *without)

    assert {"member": payer, "month": "2026-10", "reason": reason} == refused.value.fields()


def test_what_is_paid_in_full_is_asked_for_no_more() -> None:
    paid = [replace(each, paid=each.amount) for each in PAYMENTS]

    with pytest.raises(NothingToTransfer, match="nothing left to pay"):
        payment_order("riverside", MONTH, "DOGWOOD", paid, EVERYBODY)


@given(
    one=st.lists(st.tuples(st.integers(1, 9), st.sampled_from(CODES[1:])), min_size=1, max_size=4),
    two=st.lists(st.tuples(st.integers(1, 9), st.sampled_from(CODES[1:])), min_size=1, max_size=4),
    changed=st.sampled_from((None, "holder", "iban", "bic")),
)
def test_orders_have_one_name_exactly_when_they_transfer_the_same(
    *, one: list[tuple[int, str]], two: list[tuple[int, str]], changed: str | None
) -> None:
    accounts = dict(EVERYBODY)
    if changed:
        accounts["ALDER"] = replace(accounts["ALDER"], **{changed: "INVNATA0"})
    first, second = (
        payment_order(
            "riverside",
            MONTH,
            "ALDER",
            [asked(place, "ALDER", payee, amount) for place, (amount, payee) in enumerate(each, start=1)],
            known,
        )
        for each, known in ((one, EVERYBODY), (two, accounts))
    )

    assert (one == two and changed is None) == (first.name == second.name)
    assert 32 == len(first.name)
    assert first.name.isalnum()
