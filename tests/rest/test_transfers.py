"""Bank accounts and payment files over HTTP: who sees which number, and what a payer's bank is asked for."""

from datetime import date
from decimal import Decimal
from pathlib import Path

import pytest
import sepaxml
from pool_client.errors import Missing, NotAllowed, Refused, Stale
from pool_client.models.bookkeeping import BankAccount
from pool_client.models.directory import Role
from pool_client.models.entries import Payment
from xmlschema import XMLSchema

from tests.rest.test_worked_example import MONTH, d, record_example
from tests.served import Served

SCHEMA = XMLSchema(Path(sepaxml.__file__).parent / "schemas" / "pain.001.001.09.xsd")
IBANS = {
    "ALDER": "AT809990000000000001",
    "BIRCH": "AT539990000000000002",
    "CEDAR": "DE50999900000000000003",
    "DOGWOOD": "NL39XXXX0000000004",
}
"""Of banks that aren't there, with check digits that fit (ISO 13616: the number, turned round, leaves 1 by 97)."""


def account(member: str, iban: str = "", bic: str | None = None) -> BankAccount:
    return BankAccount(member=member, holder=f"{member.title()} Workshop", iban=iban or IBANS[member], bic=bic)


@pytest.fixture
def closed(service: Served) -> Served:
    """The worked example, closed: BIRCH pays ALDER 961.07, DOGWOOD pays ALDER 491.21 and CEDAR 243.72."""
    record_example(service)
    book = service.book()
    book.close(month=MONTH, digest=book.settlement(month=MONTH).digest)
    for member in ("ALDER", "DOGWOOD"):
        book.put_bank_account(account(member))
    return service


def test_the_invented_numbers_have_the_check_digits_of_the_standard() -> None:
    for number in IBANS.values():
        assert 1 == int("".join(str(int(sign, 36)) for sign in number[4:] + number[:4])) % 97


def test_an_account_is_kept_without_blanks_and_says_since_when_it_is_on_file(service: Served) -> None:
    book = service.book("clerk")
    made = book.put_bank_account(account("ALDER", "AT80 9990 0000 0000 0001", "INVNATA0"))

    assert ("AT809990000000000001", "INVNATA0", service.clock.at) == (
        made.value.iban, made.value.bic, made.value.changed_at
    )  # fmt: skip
    assert made == service.book().bank_account(member="ALDER")
    service.clock.pass_days(1)
    changed = book.put_bank_account(account("ALDER"), tag=made.tag)
    assert (None, service.clock.at) == (changed.value.bic, changed.value.changed_at)
    with pytest.raises(Stale):
        book.put_bank_account(account("ALDER"), tag=made.tag)


@pytest.mark.parametrize(
    ("iban", "bic", "part", "reason"),
    [
        ("AT809990000000000010", None, "IBAN", "check digits"),
        ("US979990000000000001", None, "IBAN", "country"),
        ("AT56999000000000000A", None, "IBAN", "form"),
        ("AT809990000000000001", "INVNXX0A", "BIC", "country"),
    ],
)
def test_an_account_that_cannot_be_right_is_refused_without_showing_it_again(
    service: Served, iban: str, bic: str | None, part: str, reason: str
) -> None:
    with pytest.raises(Refused, match=reason) as refused:
        service.book().put_bank_account(account("ALDER", iban, bic))

    assert ("bank-account-invalid", 422) == (refused.value.code, refused.value.status)
    assert part == refused.value.fields["part"]
    assert iban not in str(refused.value.fields)
    with pytest.raises(Missing):
        service.book().bank_account(member="ALDER")


def test_a_number_is_told_to_the_keeper_and_to_the_members_own_clerks(closed: Served) -> None:
    closed.book().put_bank_account(account("BIRCH"))

    assert IBANS["ALDER"] == closed.book("clerk").bank_account(member="ALDER").value.iban
    for key, member in (("clerk", "BIRCH"), ("reader", "ALDER"), ("operator", "ALDER")):
        with pytest.raises(NotAllowed):
            closed.book(key).bank_account(member=member)
    with pytest.raises(NotAllowed):
        closed.book("clerk").put_bank_account(account("BIRCH"))
    for address in ("/members", "/members/ALDER", "/months", f"/months/{MONTH}/settlement", "/settlement-payments"):
        assert IBANS["ALDER"] not in closed.send("GET", address).text


def test_an_account_that_is_taken_off_file_is_gone_and_its_tag_matches_no_later_one(service: Served) -> None:
    book = service.book()
    first = book.put_bank_account(account("ALDER"))

    book.erase_bank_account(member="ALDER", tag=first.tag)
    book.erase_bank_account(member="ALDER", tag=first.tag)

    with pytest.raises(Missing):
        book.bank_account(member="ALDER")
    with pytest.raises(Missing):
        book.put_bank_account(account("ALDER"), tag=first.tag)
    again = book.put_bank_account(account("ALDER"))
    assert first.tag != again.tag
    with pytest.raises(Stale):
        book.put_bank_account(account("ALDER"), tag=first.tag)


def test_an_account_is_erased_only_as_it_was_read(service: Served) -> None:
    book = service.book()
    first = book.put_bank_account(account("ALDER"))
    book.put_bank_account(account("ALDER"), tag=first.tag)

    path = "/members/ALDER/bank-account"
    answers = [service.send("DELETE", path), service.send("DELETE", path, If_Match=f"W/{first.tag}")]
    answers.append(service.send("DELETE", path, If_Match=first.tag))

    assert [(428, "precondition-required"), (412, "precondition-failed"), (412, "version-stale")] == [
        (answer.status_code, answer.json()["code"]) for answer in answers
    ]
    assert IBANS["ALDER"] == book.bank_account(member="ALDER").value.iban


@pytest.mark.parametrize(
    "address", ["/members/ELM/bank-account", "/account-codes/ELM", f"/months/{MONTH}/postings/ELM"]
)
def test_what_belongs_to_an_unknown_member_is_not_there(service: Served, address: str) -> None:
    assert 404 == service.send("GET", address).status_code


def test_an_unknown_member_gets_no_account(service: Served) -> None:
    with pytest.raises(Missing):
        service.book().put_bank_account(BankAccount(member="ELM", holder="Elm", iban=IBANS["ALDER"]))
    with pytest.raises(Missing):
        service.book().erase_bank_account(member="ELM", tag='"1"')


def test_a_payer_gets_what_it_can_transfer_and_is_told_what_it_cannot(closed: Served) -> None:
    found = closed.book().payment_file(month=MONTH, member="DOGWOOD")

    assert (d("491.21"), IBANS["DOGWOOD"]) == (found.total, found.from_.iban)
    assert [("2026-09-2", d("491.21"), IBANS["ALDER"])] == [
        (each.payment, each.amount, each.to.iban) for each in found.transfers
    ]
    assert [("2026-09-3", "CEDAR", d("243.72"), "no bank account of CEDAR on file")] == [
        (each.payment, each.payee, each.amount, each.reason) for each in found.left_out
    ]
    assert "check names and accounts before money moves" in found.cautions[-1]


def test_the_file_for_the_bank_says_the_same_and_fits_the_schema(closed: Served) -> None:
    closed.book().put_bank_account(account("CEDAR"))
    found = closed.book().payment_file(month=MONTH, member="DOGWOOD")

    text = closed.book().payment_file_xml(month=MONTH, member="DOGWOOD")

    said = SCHEMA.to_dict(text)
    assert isinstance(said, dict)
    (block,) = said["CstmrCdtTrfInitn"]["PmtInf"]
    assert (found.name, "2026-11-10", d("734.93")) == (
        said["CstmrCdtTrfInitn"]["GrpHdr"]["MsgId"], block["ReqdExctnDt"]["Dt"], block["CtrlSum"],
    )  # fmt: skip
    assert [(each.payment, each.amount, each.to.iban) for each in found.transfers] == [
        (each["PmtId"]["EndToEndId"], each["Amt"]["InstdAmt"]["$"], each["CdtrAcct"]["Id"]["IBAN"])
        for each in block["CdtTrfTxInf"]
    ]


def test_a_file_is_saved_under_a_name_of_its_own(closed: Served) -> None:
    answer = closed.send("GET", f"/months/{MONTH}/payment-files/DOGWOOD", Accept="application/xml")

    assert "application/xml; charset=utf-8" == answer.headers["content-type"]
    assert f'attachment; filename="payments-riverside-DOGWOOD-{MONTH}.xml"' == answer.headers["content-disposition"]
    assert 406 == closed.send("GET", f"/months/{MONTH}/payment-files/DOGWOOD", Accept="text/csv").status_code


def test_what_is_paid_already_is_not_asked_for_again(closed: Served) -> None:
    book = closed.book()
    before = book.payment_file(month=MONTH, member="DOGWOOD")
    paid = Payment(from_member="DOGWOOD", to_member="ALDER", amount=d("91.21"), pays="2026-09-2")

    entry = book.record(paid, effective_on=date(2026, 10, 5))

    after = book.payment_file(month=MONTH, member="DOGWOOD")
    assert [d("400.00")] == [each.amount for each in after.transfers]
    assert before.name != after.name
    closed.send("POST", "/reversals", {"entry": entry.number})
    assert before == book.payment_file(month=MONTH, member="DOGWOOD")


@pytest.mark.parametrize(
    ("member", "reason"), [("ALDER", "nothing left to pay"), ("BIRCH", "no bank account of BIRCH on file")]
)
def test_a_file_without_any_transfer_is_refused_with_the_reason(closed: Served, member: str, reason: str) -> None:
    for call in (closed.book().payment_file, closed.book().payment_file_xml):
        with pytest.raises(Refused, match=reason) as refused:
            call(month=MONTH, member=member)
        assert ("nothing-to-transfer", 409) == (refused.value.code, refused.value.status)


def test_there_is_no_file_before_the_close(service: Served) -> None:
    record_example(service)

    with pytest.raises(Refused) as refused:
        service.book().payment_file(month=MONTH, member="BIRCH")
    assert "month-not-closed" == refused.value.code
    with pytest.raises(Missing):
        service.book().payment_file(month="2026-08", member="BIRCH")
    with pytest.raises(Missing):
        service.book().payment_file(month=MONTH, member="ELM")


def test_a_clerk_reads_what_its_own_member_has_to_pay_and_nobody_elses(closed: Served) -> None:
    made = closed.book().make_key(name="counter", role=Role.CLERK, member="DOGWOOD")
    closed.keys["dogwood"] = made.secret or ""

    assert Decimal("491.21") == closed.book("dogwood").payment_file(month=MONTH, member="DOGWOOD").total
    for key in ("clerk", "reader"):
        with pytest.raises(NotAllowed):
            closed.book(key).payment_file(month=MONTH, member="DOGWOOD")
