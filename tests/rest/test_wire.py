"""The wire forms: what is published of a form is what is accepted, in both directions, and what each refuses."""

import re
from decimal import Decimal
from typing import Any

import pytest
import schemathesis
from hypothesis import HealthCheck, assume, given, settings
from hypothesis import strategies as st
from pydantic import TypeAdapter, ValidationError
from schemathesis import GenerationMode

from pool_api.rest import wire
from pool_api.rest.strict_json import read_json

FORMS: dict[str, Any] = {
    name: form for name, form in vars(wire).items() if hasattr(form, "__metadata__") and name[0].isupper()
}
BODY_FORMS = {name: form for name, form in FORMS.items() if not name.endswith("Param")}


def accepts(form: Any, value: Any) -> bool:
    try:
        TypeAdapter(form).validate_python(value)
    except ValidationError:
        return False
    return True


def generated(form: Any, mode: GenerationMode) -> st.SearchStrategy[Any]:
    """Give bodies {"value": …} as a checker makes them that knows the published schema only."""
    holder = {
        "type": "object",
        "properties": {"value": TypeAdapter(form).json_schema()},
        "required": ["value"],
        "additionalProperties": False,
    }
    document = {
        "openapi": "3.1.0",
        "info": {"title": "one form", "version": "1"},
        "paths": {
            "/": {
                "post": {
                    "requestBody": {"required": True, "content": {"application/json": {"schema": holder}}},
                    "responses": {"200": {"description": "taken"}},
                }
            }
        },
    }
    case = schemathesis.openapi.from_dict(document)["/"]["POST"].as_strategy(generation_mode=mode)
    return case.map(lambda made: made.body)


def as_read(value: Any) -> Any:
    """Give a generated value as the gate would read it: 24.0 is 24."""
    return read_json(repr(value).encode()) if isinstance(value, float) else value


@pytest.mark.parametrize("name", BODY_FORMS)
@settings(max_examples=25, suppress_health_check=list(HealthCheck))
@given(data=st.data())
def test_what_the_schema_calls_valid_is_accepted(name: str, data: st.DataObject) -> None:
    body = data.draw(generated(BODY_FORMS[name], GenerationMode.POSITIVE))

    assert accepts(BODY_FORMS[name], as_read(body["value"]))


@pytest.mark.parametrize("name", BODY_FORMS)
@settings(max_examples=25, suppress_health_check=list(HealthCheck))
@given(data=st.data())
def test_what_the_schema_calls_invalid_is_refused(name: str, data: st.DataObject) -> None:
    body = data.draw(generated(BODY_FORMS[name], GenerationMode.NEGATIVE))
    assume(isinstance(body, dict) and set(body) == {"value"})

    assert not accepts(BODY_FORMS[name], as_read(body["value"]))


@pytest.mark.parametrize("name", FORMS)
def test_every_form_publishes_a_meaning_and_bounds(name: str) -> None:
    schema = TypeAdapter(FORMS[name]).json_schema()

    if schema["type"] == "integer":
        assert {"minimum", "maximum"} <= set(schema)
    elif schema["type"] == "string":
        assert "pattern" in schema
        assert schema["pattern"].startswith("^")
        assert schema["pattern"].endswith("$")
    else:
        assert schema["type"] == "boolean"


@pytest.mark.parametrize("name", FORMS)
def test_every_example_is_valid(name: str) -> None:
    for example in TypeAdapter(FORMS[name]).json_schema().get("examples", ()):
        assert accepts(FORMS[name], example)


def test_no_form_is_a_json_number_but_a_whole_one() -> None:
    for form in FORMS.values():
        assert TypeAdapter(form).json_schema()["type"] in {"integer", "string", "boolean"}


REFUSED = [
    (wire.Credits, [0, -1, 1_000_000_001, True, "24", Decimal("1.5"), None]),
    (wire.CreditCount, [-1, 10**15 + 1, False, "0"]),
    (wire.Money, [3450, Decimal(3450), "", "3450.", ".5", "-1", "+1", "01", "1.00000", "1e3", "1,000.00", " 1", "1\n"]),
    (wire.Money, ["١٢", "10000000000000", "NaN", None, True]),
    (wire.SignedMoney, ["--1", "-", "-.5", "-01", 5]),
    (wire.UnitPriceText, ["-1", "7.0000000", "1000000000", 7]),
    (wire.Day, ["2026-02-30", "2026-13-01", "2026-1-1", "20261103", "2026-W45-2", "1999-12-31", "2026-11-03T00:00", 0]),
    (wire.MonthText, ["2026-00", "2026-13", "2026-1", "1999-12", "2026-11-01", "0000-01"]),
    (wire.MemberCode, ["alder", "", "A" * 17, "1ALDER", "ALDER ", "ALDER\n", "ÄLDER"]),
    (wire.Holder, ["Stock", "STOCKstock", "alder", ""]),
    (wire.PoolId, ["Riverside", "r", "r" * 41, "1river", "river_side", "river\n"]),
    (wire.CurrencyCode, ["eur", "EU", "EURO"]),
    (wire.TimeZone, ["", "/Vienna", "Europe/", "Europe//Vienna", "../etc/passwd", "Europe/Vienna\n"]),
    (wire.ShortText, ["", " Alder", "Al\nder", "Al\tder", "x" * 101, "\u0085x", "\0"]),
    (wire.Note, ["x" * 2_001, "a\rb", "a\0b", "a\x1bb", "a\x7fb", "a\u0085b"]),
    (wire.Reference, ["", " INV", "INV ", "INV\n1", "INV\t1", "Rechnung-ä", "x" * 101]),
    (wire.Digest, ["0" * 63, "0" * 65, "A" * 64]),
    (wire.Flag, [0, 1, "true", "yes", None]),
    (wire.EntryNumber, [0, -1, 2**53, True, "1"]),
    (wire.EntryNumberParam, ["0", "01", "1.0", " 1", "1_0", "+1", "1e3", "", "9007199254740992"]),
    (wire.FlagParam, ["1", "yes", "True", "on", ""]),
]


@pytest.mark.parametrize(("form", "values"), REFUSED)
def test_a_form_refuses(form: Any, values: list[Any]) -> None:
    assert [] == [value for value in values if accepts(form, value)]


ACCEPTED = [
    (wire.Credits, [1, 24, 1_000_000_000]),
    (wire.CreditChange, [-5, 0, 5]),
    (wire.Money, ["0", "0.00", "3450", "3450.00", "9999999999999.9999"]),
    (wire.SignedMoney, ["-961.07", "0", "961.07"]),
    (wire.Day, ["2026-11-03", "2028-02-29", "2999-12-31"]),
    (wire.Note, ["", "until Friday\n\tor Monday", "名前 😀"]),
    (wire.ShortText, ["Alder Tuning", "Ölwerk", "x" * 100]),
    (wire.Reference, ["x", "INV 2026/42 #7"]),
    (wire.EntryNumberParam, ["1", "42"]),
    (wire.FlagParam, ["true", "false"]),
]


@pytest.mark.parametrize(("form", "values"), ACCEPTED)
def test_a_form_accepts(form: Any, values: list[Any]) -> None:
    assert [] == [value for value in values if not accepts(form, value)]


@settings(max_examples=200)
@given(st.from_regex(re.compile(wire.SIGNED_MONEY_PATTERN[:-1] + r"\Z", re.ASCII)))
def test_money_goes_there_and_back_unchanged(text: str) -> None:
    adapter = TypeAdapter[Decimal](wire.SignedMoney)

    assert text == adapter.dump_python(adapter.validate_python(text), mode="json")


class Form(wire.WireModel):
    member: wire.MemberCode
    quantity: wire.Credits
    note: wire.Note = ""
    reference: wire.Reference | None = None


def test_an_object_refuses_members_it_does_not_know() -> None:
    for name in ("role", "pool_id", "number", "Member"):
        with pytest.raises(ValidationError, match="extra_forbidden"):
            Form.model_validate({"member": "ALDER", "quantity": 1, name: "x"})


def test_absent_and_null_are_one() -> None:
    absent = Form.model_validate({"member": "ALDER", "quantity": 1})

    assert absent == Form.model_validate({"member": "ALDER", "quantity": 1, "reference": None})


def test_an_object_is_fixed_once_read() -> None:
    form = Form(member="ALDER", quantity=1)

    with pytest.raises(ValidationError, match="frozen"):
        form.quantity = 2


@pytest.mark.parametrize("sent", ["4f1c2a9e-loan_1", '"4f1c2a9e-loan_1"'])
def test_a_quoted_and_a_bare_idempotency_key_are_one(sent: str) -> None:
    assert TypeAdapter[str](wire.IdempotencyKey).validate_python(sent) == "4f1c2a9e-loan_1"


@pytest.mark.parametrize(
    "sent", ["", "short", "x" * 65, '"12345678', '12345678"', "1234 5678", "12345678\n", '""12345678""', "schlüssel"]
)
def test_another_form_of_idempotency_key_is_refused(sent: str) -> None:
    assert not accepts(wire.IdempotencyKey, sent)
