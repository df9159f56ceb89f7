"""The message for a bank fits the standard's own schema, which a package brings, whatever names and amounts it has."""

import re
from datetime import UTC, date, datetime, timedelta, timezone
from decimal import Decimal
from pathlib import Path
from typing import Any

import pytest
import sepaxml
from hypothesis import given, settings
from hypothesis import strategies as st
from xmlschema import XMLSchema

from pool_api.domain.banking import BankAccount, PaymentOrder, payment_order
from pool_api.domain.book import SettlementPayment
from pool_api.domain.pool import Pool
from pool_api.domain.values import Currency, Month
from pool_api.reports.payment_file import latin, order_json, payment_xml

SCHEMA = XMLSchema(Path(sepaxml.__file__).parent / "schemas" / "pain.001.001.09.xsd")
MONTH = Month(2026, 10)
MADE_AT = datetime(2026, 11, 5, 9, 30, tzinfo=timezone(timedelta(hours=1)))
PASSED_ON = re.compile(r"[A-Za-z0-9/?:().,'+ -]+")


def pool(currency: str = "EUR", name: str = "Riverside") -> Pool:
    return Pool(
        id="riverside",
        name=name,
        vendor="Norvane Tuning Systems",
        currency=Currency(currency),
        time_zone="Europe/Vienna",
        began_on=date(2026, 10, 1),
    )


def order(*amounts: int, holder: str = "Dogwood Workshop", bic: str | None = None, lacking: str = "") -> PaymentOrder:
    """Give an order of DOGWOOD, who pays ALDER so many amounts; 100.00 more goes to whoever lacks an account."""
    accounts = {
        "ALDER": BankAccount(
            member="ALDER", holder="Alder & Söhne", iban="AT809990000000000001", bic=bic, changed_at="2026"
        ),
        "DOGWOOD": BankAccount(
            member="DOGWOOD", holder=holder, iban="DE50999900000000000003", bic=bic, changed_at="2026"
        ),
    }
    asked = [(amount, "ALDER") for amount in amounts] + ([(10_000, lacking)] if lacking else [])
    payments = [
        SettlementPayment(id=f"2026-10-{place}", month=MONTH, payer="DOGWOOD", payee=payee, amount=amount)
        for place, (amount, payee) in enumerate(asked, start=1)
    ]
    return payment_order("riverside", MONTH, "DOGWOOD", payments, accounts)


def message(made: PaymentOrder, terms: Pool | None = None) -> str:
    return payment_xml(made, terms or pool(), made_at=MADE_AT, on=date(2026, 11, 5)).decode()


def read(text: str) -> Any:
    """Give what a message says, by the schema; refused when it doesn't fit."""
    said = SCHEMA.to_dict(text)
    assert isinstance(said, dict)
    return said["CstmrCdtTrfInitn"]


def test_a_message_says_who_pays_whom_how_much_and_what_for() -> None:
    said = read(message(order(49_121, 5, bic="INVNATA0")))

    (block,) = said["PmtInf"]
    name = order(49_121, 5, bic="INVNATA0").name
    assert {
        "MsgId": name,
        "CreDtTm": "2026-11-05T08:30:00Z",
        "NbOfTxs": "2",
        "CtrlSum": Decimal("491.26"),
        "InitgPty": {"Nm": "Dogwood Workshop"},
    } == said["GrpHdr"]
    transfers = block.pop("CdtTrfTxInf")
    bank = {"FinInstnId": {"BICFI": "INVNATA0"}}
    assert {
        "PmtInfId": name,
        "PmtMtd": "TRF",
        "NbOfTxs": "2",
        "CtrlSum": Decimal("491.26"),
        "ReqdExctnDt": {"Dt": "2026-11-05"},
        "Dbtr": {"Nm": "Dogwood Workshop"},
        "DbtrAcct": {"Id": {"IBAN": "DE50999900000000000003"}},
        "DbtrAgt": bank,
    } == block
    assert {
        "PmtId": {"EndToEndId": "2026-10-1"},
        "Amt": {"InstdAmt": {"@Ccy": "EUR", "$": Decimal("491.21")}},
        "CdtrAgt": bank,
        "Cdtr": {"Nm": "Alder + Sohne"},
        "CdtrAcct": {"Id": {"IBAN": "AT809990000000000001"}},
        "RmtInf": {"Ustrd": ["2026-10-1 DOGWOOD to ALDER, settlement of 2026-10, Riverside"]},
    } == transfers[0]


def test_a_bank_whose_code_is_not_on_file_is_not_invented() -> None:
    (block,) = read(message(order(100)))["PmtInf"]

    assert {"FinInstnId": {"Othr": {"Id": "NOTPROVIDED"}}} == block["DbtrAgt"]
    assert "CdtrAgt" not in block["CdtTrfTxInf"][0]


@pytest.mark.parametrize(
    ("currency", "text"), [("EUR", "1234.56"), ("JPY", "123456"), ("KWD", "123.456"), ("CLF", "12.3456")]
)
def test_amounts_have_the_decimals_of_the_currency(currency: str, text: str) -> None:
    found = message(order(123_456), pool(currency))

    assert f'<InstdAmt Ccy="{currency}">{text}</InstdAmt>' in found
    assert 2 == found.count(f"<CtrlSum>{text}</CtrlSum>")
    assert SCHEMA.is_valid(found)


def test_the_same_order_made_again_differs_in_its_time_alone() -> None:
    later = payment_xml(order(100), pool(), made_at=datetime(2026, 12, 1, tzinfo=UTC), on=date(2026, 12, 1)).decode()
    changed = [
        (one.strip(), two.strip())
        for one, two in zip(message(order(100)).split("\n"), later.split("\n"), strict=True)
        if one != two
    ]

    assert [
        ("<CreDtTm>2026-11-05T08:30:00Z</CreDtTm>", "<CreDtTm>2026-12-01T00:00:00Z</CreDtTm>"),
        ("<Dt>2026-11-05</Dt>", "<Dt>2026-12-01</Dt>"),
    ] == changed


def test_a_message_has_the_cautions_and_what_is_left_out_as_comments() -> None:
    found = message(order(100, lacking="A--B-"))

    assert "<!-- A settlement list is not a payment order: check names and accounts before money moves. -->" in found
    assert "<!-- Left out: 2026-10-2: no bank account of A- -B- on file. -->" in found
    assert SCHEMA.is_valid(found)


@given(
    holder=st.text(min_size=1, max_size=120),
    name=st.text(min_size=1, max_size=120),
    amounts=st.lists(st.integers(1, 10**15 - 1), min_size=1, max_size=4),
    currency=st.sampled_from(("EUR", "JPY", "BHD", "UYW")),
)
@settings(deadline=None)
def test_whatever_the_names_and_amounts_a_message_fits_the_schema(
    *, holder: str, name: str, amounts: list[int], currency: str
) -> None:
    terms = pool(currency, name)
    said = read(message(order(*amounts, holder=holder), terms))

    (block,) = said["PmtInf"]
    told = [block["Dbtr"]["Nm"], *(each["RmtInf"]["Ustrd"][0] for each in block["CdtTrfTxInf"])]
    assert all(PASSED_ON.fullmatch(each) for each in told)
    assert [terms.currency.text(each) for each in amounts] == [
        f"{each['Amt']['InstdAmt']['$']:f}" for each in block["CdtTrfTxInf"]
    ]
    assert sum(each["Amt"]["InstdAmt"]["$"] for each in block["CdtTrfTxInf"]) == block["CtrlSum"]


@pytest.mark.parametrize(
    ("text", "written"),
    [
        ("Åse Müßig", "Ase Mussig"),
        ("Łódź_Ørsted", "Lodz-Orsted"),
        ('"Kfz" & Söhne [Nord]', "'Kfz' + Sohne (Nord)"),
        ("Автосервис", "Avtoservis"),
        ("50 % = a*b", "50 . . a.b"),
        ("  many \t blanks  ", "many blanks"),
        ("\u200b", "NOTPROVIDED"),
        ("x" * 80, "x" * 70),
    ],
)
def test_texts_are_written_in_the_characters_that_banks_pass_on(text: str, written: str) -> None:
    assert written == latin(text, 70)


def test_the_json_has_the_names_as_they_are_and_what_is_left_out() -> None:
    said = order_json(order(49_121, lacking="CEDAR"), pool())

    assert ("491.21", "DE50999900000000000003") == (said["total"], said["from"]["iban"])
    assert [("2026-10-1", "491.21", "Alder & Söhne")] == [
        (each["payment"], each["amount"], each["to"]["holder"]) for each in said["transfers"]
    ]
    assert [
        {"payment": "2026-10-2", "payee": "CEDAR", "amount": "100.00", "reason": "no bank account of CEDAR on file"}
    ] == (said["left_out"])
