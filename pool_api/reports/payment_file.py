"""A payment order written out: as an ISO 20022 message that banks take (pain.001.001.09), and as a JSON object.

One message has the account of one payer, whose bank it is for, in one block of payment information. Texts are in the
Latin characters that European banks agree to pass on (a-z A-Z 0-9 / - ? : ( ) . , ' + and blanks): others are written
as those that come nearest to them in sound or shape, and what then is none of them becomes a point. Every text is
cut to its longest length: 70 characters for names, 140 for the purpose.

Source: ISO 20022, CustomerCreditTransferInitiationV09; the characters and the length of names are those of the
European Payments Council's guidelines, from memory.
"""

import re
from datetime import UTC, date, datetime
from xml.etree.ElementTree import Comment, Element, SubElement, indent, tostring

from anyascii import anyascii

from pool_api.domain.banking import BankAccount, CreditTransfer, PaymentOrder
from pool_api.domain.entries import Json
from pool_api.domain.pool import Pool
from pool_api.reports.cautions import SETTLEMENT

NAMESPACE = "urn:iso:std:iso:20022:tech:xsd:pain.001.001.09"

_NAME, _PURPOSE = 70, 140
_LIKE = str.maketrans({"&": "+", "_": "-", '"': "'", "`": "'", "[": "(", "]": ")", "{": "(", "}": ")"})
_OTHERS = re.compile(r"[^A-Za-z0-9/?:().,'+ -]")
_DOUBLE_HYPHEN = re.compile("-(?=-)")
"""Nothing of the kind may stand in a comment (XML 1.0, 2.5)."""

_UNKNOWN = "NOTPROVIDED"
"""Stands where the standard needs something that isn't known."""


def payment_xml(order: PaymentOrder, pool: Pool, *, made_at: datetime, on: date) -> bytes:
    """Give the message, in UTF-8.

    Takes:   made_at, the aware instant at which it is made; on, the day on which the bank is to do it. Messages made of
             the same order at other times differ in nothing else, and have the same identification."""
    document = Element("Document", xmlns=NAMESPACE)
    for said in (*SETTLEMENT, *(f"Left out: {each.payment}: {each.reason}." for each in order.left_out)):
        document.append(Comment(f" {_DOUBLE_HYPHEN.sub('- ', said)} "))
    message = SubElement(document, "CstmrCdtTrfInitn")
    header = SubElement(message, "GrpHdr")
    _say(header, "MsgId", order.name)
    _say(header, "CreDtTm", made_at.astimezone(UTC).strftime("%Y-%m-%dT%H:%M:%SZ"))
    _count(header, order, pool)
    _say(SubElement(header, "InitgPty"), "Nm", latin(order.payer.holder, _NAME))
    block = SubElement(message, "PmtInf")
    _say(block, "PmtInfId", order.name)
    _say(block, "PmtMtd", "TRF")
    _count(block, order, pool)
    _say(SubElement(block, "ReqdExctnDt"), "Dt", on.isoformat())
    _party(block, "Dbtr", order.payer)
    _bank(block, "DbtrAgt", order.payer.bic)
    for each in order.transfers:
        _transfer(SubElement(block, "CdtTrfTxInf"), each, order, pool)
    indent(document)
    return bytes(tostring(document, encoding="utf-8", xml_declaration=True)) + b"\n"


def latin(text: str, most: int) -> str:
    """Give a text in the characters that banks pass on (see the module), of 1 to most characters."""
    written = " ".join(anyascii(text).translate(_LIKE).split())
    return _OTHERS.sub(".", written)[:most].strip() or _UNKNOWN


def _transfer(into: Element, each: CreditTransfer, order: PaymentOrder, pool: Pool) -> None:
    _say(SubElement(into, "PmtId"), "EndToEndId", each.payment)
    amount = _say(SubElement(into, "Amt"), "InstdAmt", pool.currency.text(each.amount))
    amount.set("Ccy", pool.currency.code)
    if each.to.bic is not None:
        _bank(into, "CdtrAgt", each.to.bic)
    _party(into, "Cdtr", each.to)
    _say(SubElement(into, "RmtInf"), "Ustrd", latin(purpose(each, order, pool), _PURPOSE))


def purpose(each: CreditTransfer, order: PaymentOrder, pool: Pool) -> str:
    """Give the text that tells payer and payee what a transfer is for."""
    return f"{each.payment} {order.payer.member} to {each.to.member}, settlement of {order.month}, {pool.name}"


def _count(into: Element, order: PaymentOrder, pool: Pool) -> None:
    _say(into, "NbOfTxs", str(len(order.transfers)))
    _say(into, "CtrlSum", pool.currency.text(order.total))


def _party(into: Element, side: str, account: BankAccount) -> None:
    _say(SubElement(into, side), "Nm", latin(account.holder, _NAME))
    _say(SubElement(SubElement(into, f"{side}Acct"), "Id"), "IBAN", account.iban)


def _bank(into: Element, side: str, bic: str | None) -> None:
    bank = SubElement(SubElement(into, side), "FinInstnId")
    if bic is None:
        _say(SubElement(bank, "Othr"), "Id", _UNKNOWN)
    else:
        _say(bank, "BICFI", bic)


def _say(into: Element, name: str, text: str) -> Element:
    found = SubElement(into, name)
    found.text = text
    return found


def order_json(order: PaymentOrder, pool: Pool) -> Json:
    """Give an order as a JSON object, amounts as decimal text."""
    text = pool.currency.text
    return {
        "name": order.name,
        "month": str(order.month),
        "payer": order.payer.member,
        "currency": pool.currency.code,
        "total": text(order.total),
        "from": account_json(order.payer),
        "transfers": [
            {
                "payment": each.payment,
                "amount": text(each.amount),
                "to": account_json(each.to),
                "purpose": purpose(each, order, pool),
            }
            for each in order.transfers
        ],
        "left_out": [
            {"payment": each.payment, "payee": each.payee, "amount": text(each.amount), "reason": each.reason}
            for each in order.left_out
        ],
        "cautions": list(SETTLEMENT),
    }


def account_json(account: BankAccount) -> Json:
    """Give a bank account as a JSON object."""
    shown: Json = {
        "member": account.member,
        "holder": account.holder,
        "iban": account.iban,
        "changed_at": account.changed_at,
    }
    return shown if account.bic is None else {**shown, "bic": account.bic}
