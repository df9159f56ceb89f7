"""What would mend a difference, told as a sentence, and as the fields of a form that may be changed before it is done.

The names of mends and fields are the service's. What a form leaves as it was offered isn't said again.
"""

from collections.abc import Callable, Mapping
from datetime import date
from decimal import Decimal
from typing import Any

from pool_client.models.entries import STOCK, Direction
from pool_client.models.vendor import Mend

from pool_web.deeds import Field
from pool_web.forms import MOST_NOTE, Form
from pool_web.sentences import credits_of

_ALWAYS = (
    Field(name="quantity", label="Credits", kind="credits"),
    Field(name="effective_on", label="Day", kind="day"),
    Field(name="note", label="Note", kind="note", needed=False),
)
_GIVER = Field(name="giver", label="From", kind="member")
_RECEIVER = Field(name="receiver", label="To", kind="member")
_MEMBER = Field(name="member", label="Shop", kind="member")
_AMOUNT = Field(name="amount", label="Amount", kind="money")

FIELDS: Mapping[str, tuple[Field, ...]] = {
    "record_loan": (
        Field(name="kind", label="What it was", kind="choice", choices=("loan", "return", "draw")),
        _GIVER,
        _RECEIVER,
        *_ALWAYS,
    ),
    "record_outside": (
        _MEMBER,
        Field(name="direction", label="Direction", kind="choice", choices=tuple(each.value for each in Direction)),
        Field(name="party", label="The other side", kind="text"),
        _AMOUNT,
        *_ALWAYS,
    ),
    "record_purchase": (
        Field(name="into", label="For", kind="holder"),
        Field(name="paid_by", label="Paid by", kind="member"),
        _AMOUNT,
        Field(name="order_number", label="The vendor's order number", kind="text", needed=False),
        *_ALWAYS,
    ),
    "record_use": (
        _MEMBER,
        Field(name="item", label="Item", kind="text"),
        Field(name="job", label="Job", kind="text"),
        Field(name="price", label="Charged to the customer", kind="money", needed=False),
        *_ALWAYS,
    ),
    "reverse": _ALWAYS,
    "correct": (_GIVER, _RECEIVER, _AMOUNT, *_ALWAYS),
    "withdraw": (),
}
"""What may be said of each kind of mend, in the order in which it is asked."""


def fields_of(mend: Mend) -> tuple[list[Field], list[Field]]:
    """Give the fields that have to be filled in, and those that may be changed. An entry that is corrected keeps what
    the vendor doesn't show otherwise."""
    among = FIELDS.get(mend.kind, ())
    if mend.kind == "correct":
        among = tuple(each for each in among if each.name in mend.fields or each.name == "note")
    return [each for each in among if each.name in mend.asks], [each for each in among if each.name not in mend.asks]


def offered(mend: Mend) -> dict[str, str]:
    """Give what a mend offers, as the texts of its form."""
    texts = {name: str(value) for name, value in mend.fields.items()}
    return {"kind": "loan", **texts} if mend.kind == "record_loan" else texts


def said(form: Form, mend: Mend, *, complete: bool = True) -> dict[str, str | int | Decimal | date]:
    """Read what a form says otherwise than the mend offers. Finds problems.

    Takes:   complete — whether what the mend asks for has to be there."""
    told: dict[str, str | int | Decimal | date] = {}
    was = offered(mend)
    for each in (field for fields in fields_of(mend) for field in fields):
        value = form[each.name]
        if value == was.get(each.name, "") and not (complete and each.name in mend.asks):
            continue
        found = _read(form, each, needed=complete and each.name in mend.asks)
        if found not in {None, ""}:
            told[each.name] = found
    return told


def _read(form: Form, each: Field, *, needed: bool) -> Any:
    match each.kind:
        case "credits":
            return form.quantity(each.name, needed=needed)
        case "money":
            return form.money(each.name, needed=needed)
        case "day":
            return form.day(each.name)
        case "choice":
            return form.chosen(each.name, each.choices)
        case "note":
            return form.text(each.name, needed=False, most=MOST_NOTE)
        case _:
            return form.text(each.name, needed=needed, most=100)


def offer(mend: Mend) -> str:
    """Say what mending would record."""
    say = _OFFERS.get(mend.kind)
    return say(mend.fields) if say else mend.kind.replace("_", " ")


def words_of(fields: Mapping[str, Any]) -> str:
    """Say the fields of a mend, one after the other."""
    return ", ".join(f"{_label(name)} {value}" for name, value in fields.items() if value)


def _label(name: str) -> str:
    return _LABELS.get(name, name.replace("_", " "))


_LABELS = {each.name: each.label.lower() for fields in FIELDS.values() for each in fields}


def _on(told: Mapping[str, Any]) -> str:
    if not told.get("effective_on"):
        return ""
    day = date.fromisoformat(str(told["effective_on"]))
    return f" on {day.day} {day:%b} {day.year}"


def _loan(told: Mapping[str, Any]) -> str:
    kind = told.get("kind", "loan")
    return f"Record a {kind}: {credits_of(told['quantity'])} from {told['giver']} to {told['receiver']}{_on(told)}."


def _outside(told: Mapping[str, Any]) -> str:
    way = "from" if told["direction"] == Direction.IN else "to"
    moved = f"{credits_of(told['quantity'])} of {told['member']} {way} {told['party']}"
    return f"Record a movement outside the pool: {moved}{_on(told)}."


def _purchase(told: Mapping[str, Any]) -> str:
    into = "into stock" if told["into"] == STOCK else f"for {told['into']}"
    paid = f" for {told['amount']}" if told.get("amount") else ""
    return f"Record a purchase: {credits_of(told['quantity'])} {into}{paid}{_on(told)}."


def _correct(told: Mapping[str, Any]) -> str:
    changes = words_of({name: value for name, value in told.items() if name != "entry"})
    return f"Undo entry {told['entry']} and record it anew with {changes}."


_OFFERS: dict[str, Callable[[Mapping[str, Any]], str]] = {
    "record_loan": _loan,
    "record_outside": _outside,
    "record_purchase": _purchase,
    "record_use": lambda told: f"Record a use: {credits_of(told['quantity'])} of {told['member']}{_on(told)}.",
    "reverse": lambda told: f"Undo {credits_of(told['quantity'])} of entry {told['entry']}{_on(told)}.",
    "correct": _correct,
    "withdraw": lambda _: "Take the vendor's later word: the earlier row no longer counts. No entry is recorded.",
}
