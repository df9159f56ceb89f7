"""The forms that values take on the wire, each once: what is published of a form is exactly what is accepted.

Credits are JSON integers. Money is decimal text of major units, never a JSON number; how many decimals a currency has
is the pool's business. Days and months are text of a year from 2000 to 2999. Absent and null mean the same. Text holds
no control characters, except line ends and tabs where it may have several lines.

`…Param` forms are for path and query, where everything is text; a number there is digits and nothing else.
"""

import re
from collections.abc import Callable, Mapping
from datetime import date, datetime
from decimal import Decimal
from typing import Annotated, Any

from fastapi import Header, Query
from pydantic import AfterValidator, BaseModel, BeforeValidator, ConfigDict, Field, PlainSerializer, WithJsonSchema
from pydantic_core import PydanticCustomError

from pool_api.domain.values import MEMBER_CODE, MOST_CREDITS, POOL_ID, STOCK


class WireModel(BaseModel):
    """An object on the wire: no member but those named, and fixed once read."""

    model_config = ConfigDict(extra="forbid", frozen=True)


def stated(shown: Mapping[str, Any]) -> dict[str, Any]:
    """Give what is shown without the members that say nothing (see the module's text)."""
    return {name: value for name, value in shown.items() if value is not None}


def _text_form(
    pattern: str, read: Callable[[str], Any], wanted: str, **published: Any
) -> tuple[BeforeValidator, WithJsonSchema]:
    compiled = re.compile(pattern.removeprefix("^").removesuffix("$"))

    def from_text(value: object) -> Any:
        if not isinstance(value, str) or not compiled.fullmatch(value):
            raise PydanticCustomError("text_form", f"Input should be {wanted}")
        try:
            return read(value)
        except ValueError:
            raise PydanticCustomError("text_form", f"Input should be {wanted}") from None

    return BeforeValidator(from_text), WithJsonSchema({"type": "string", "pattern": pattern, **published})


# --- credits ---------------------------------------------------------------------------------------------------------

_COUNT = 10**15
"""No count of credits in an answer comes near this."""

Credits = Annotated[
    int,
    Field(strict=True, ge=1, le=MOST_CREDITS, examples=[24], description="Whole credits."),
]
CreditCount = Annotated[
    int, Field(strict=True, ge=0, le=_COUNT, examples=[190], description="Whole credits, none included.")
]
CreditChange = Annotated[
    int, Field(strict=True, ge=-_COUNT, le=_COUNT, examples=[-24], description="Whole credits, with a sign.")
]

# --- money -----------------------------------------------------------------------------------------------------------

MONEY_PATTERN = r"^(0|[1-9][0-9]{0,12})(\.[0-9]{1,4})?$"
SIGNED_MONEY_PATTERN = r"^-?(0|[1-9][0-9]{0,12})(\.[0-9]{1,4})?$"
UNIT_PRICE_PATTERN = r"^(0|[1-9][0-9]{0,8})(\.[0-9]{1,6})?$"

_AS_TEXT = PlainSerializer(str, return_type=str)

Money = Annotated[
    Decimal,
    *_text_form(
        MONEY_PATTERN,
        Decimal,
        'an amount as decimal text, such as "3450.00"',
        maxLength=18,
        examples=["3450.00"],
        description="An amount of the pool's currency as decimal text.",
    ),
    _AS_TEXT,
]
SignedMoney = Annotated[
    Decimal,
    *_text_form(
        SIGNED_MONEY_PATTERN,
        Decimal,
        'an amount as decimal text, such as "-961.07"',
        maxLength=19,
        examples=["-961.07"],
        description="An amount of the pool's currency as decimal text, with a sign when it is below 0.",
    ),
    _AS_TEXT,
]
MoneyText = Annotated[
    str, Field(pattern=SIGNED_MONEY_PATTERN, max_length=22, examples=["-961.07"], description="An amount, as text.")
]
"""Money in answers, where the core has put it into text already."""

UnitPriceText = Annotated[
    str,
    Field(
        pattern=UNIT_PRICE_PATTERN,
        max_length=16,
        examples=["7.0667"],
        description="A price per credit in the pool's currency as decimal text.",
    ),
]

# --- time ------------------------------------------------------------------------------------------------------------

DAY_PATTERN = r"^2[0-9]{3}-(0[1-9]|1[0-2])-(0[1-9]|[12][0-9]|3[01])$"

Day = Annotated[
    date,
    *_text_form(
        DAY_PATTERN,
        date.fromisoformat,
        "a day as YYYY-MM-DD",
        format="date",
        examples=["2026-11-03"],
        description="A day in the pool's time zone.",
    ),
]
MonthText = Annotated[
    str,
    Field(pattern=r"^2[0-9]{3}-(0[1-9]|1[0-2])$", examples=["2026-11"], description="A month in the pool's time zone."),
]


def _existing(instant: str) -> str:
    try:
        datetime.fromisoformat(instant)
    except ValueError:
        raise PydanticCustomError("instant", "Input should be an instant that exists") from None
    return instant


Instant = Annotated[
    str,
    Field(
        pattern=r"^2[0-9]{3}-[0-9]{2}-[0-9]{2}T[0-9]{2}:[0-9]{2}:[0-9]{2}(\.[0-9]{1,6})?Z$",
        json_schema_extra={"format": "date-time"},
        examples=["2026-11-03T09:30:00.000000Z"],
        description="An instant in UTC (RFC 3339).",
    ),
    AfterValidator(_existing),
]

# --- names -----------------------------------------------------------------------------------------------------------

_LINE = r"[^\x00-\x1f\x7f-\x9f]"
_LINE_START = r"[^\x00-\x20\x7f-\xa0]"
_LINES = r"[^\x00-\x08\x0b-\x1f\x7f-\x9f]"

MemberCode = Annotated[
    str,
    Field(pattern=f"^{MEMBER_CODE.pattern}$", max_length=16, examples=["ALDER"], description="The code of a member."),
]
Holder = Annotated[
    str,
    Field(
        pattern=f"^({STOCK}|{MEMBER_CODE.pattern})$",
        max_length=16,
        examples=[STOCK],
        description=f"The code of a member, or {STOCK}.",
    ),
]
PoolId = Annotated[
    str, Field(pattern=f"^{POOL_ID.pattern}$", max_length=40, examples=["riverside"], description="The id of a pool.")
]
CurrencyCode = Annotated[
    str, Field(pattern="^[A-Z]{3}$", examples=["EUR"], description="A currency code of ISO 4217 that has minor units.")
]
TimeZone = Annotated[
    str,
    Field(
        pattern=r"^[A-Za-z][A-Za-z0-9_+-]{0,31}(/[A-Za-z0-9_+-]{1,31}){0,2}$",
        max_length=64,
        examples=["Europe/Vienna"],
        description="A name of the IANA time zone database.",
    ),
]
ShortText = Annotated[
    str,
    Field(
        pattern=f"^{_LINE_START}{_LINE}*$",
        min_length=1,
        max_length=100,
        examples=["Alder Tuning"],
        description="One line that doesn't start with a blank.",
    ),
]
HeaderWord = Annotated[
    str,
    Field(
        pattern=f"^{_LINE}+$",
        min_length=1,
        max_length=200,
        examples=["Booked"],
        description="A word of a file's header, or of its cells.",
    ),
]
Note = Annotated[
    str,
    Field(
        pattern=f"^{_LINES}*$",
        max_length=2_000,
        examples=["until Friday"],
        description="Free text of up to 2,000 characters; line ends are LF.",
    ),
]
Reference = Annotated[
    str,
    Field(
        pattern=r"^[!-~]([ -~]*[!-~])?$",
        min_length=1,
        max_length=100,
        examples=["INV-2026-0042"],
        description="A reference of your own, unique in the pool: printable ASCII without blanks at its ends.",
    ),
]
DIGEST_PATTERN = "^[0-9a-f]{64}$"
Digest = Annotated[
    str, Field(pattern=DIGEST_PATTERN, examples=["0" * 64], description="A SHA-256 digest in hexadecimal.")
]

# --- numbers and switches --------------------------------------------------------------------------------------------

_MOST_ENTRIES = 2**53 - 1

EntryNumber = Annotated[
    int, Field(strict=True, ge=1, le=_MOST_ENTRIES, examples=[42], description="The number of an entry of the journal.")
]
Flag = Annotated[bool, Field(strict=True)]


def _digits(value: object) -> object:
    if isinstance(value, str) and not re.fullmatch(r"-?(0|[1-9][0-9]{0,18})", value):
        raise PydanticCustomError("digits", "Input should be a whole number in plain digits")
    return value


def _true_or_false(value: object) -> object:
    if isinstance(value, str) and value not in {"true", "false"}:
        raise PydanticCustomError("true_or_false", "Input should be true or false")
    return value


PLAIN_DIGITS = BeforeValidator(_digits)
"""Refuses the other spellings of a number in path and query: blanks, signs, underscores, decimals, leading zeros."""

EntryNumberParam = Annotated[
    int, Field(ge=1, le=_MOST_ENTRIES, description="The number of an entry of the journal."), PLAIN_DIGITS
]
FlagParam = Annotated[bool, BeforeValidator(_true_or_false)]

ProfileName = Annotated[
    str,
    Field(pattern="^[a-z0-9][a-z0-9-]{0,39}$", max_length=40, examples=["norvane"]),
]
SheetParam = Annotated[
    ShortText,
    Query(description="Which sheet of a spreadsheet to read; the first that holds a table unless stated."),
]

# --- headers ---------------------------------------------------------------------------------------------------------


def _unquoted(key: str) -> str:
    return key.strip('"')


IdempotencyKey = Annotated[
    str,
    Header(
        alias="Idempotency-Key",
        pattern=r'^([A-Za-z0-9_-]{8,64}|"[A-Za-z0-9_-]{8,64}")$',
        max_length=66,
        examples=["4f1c2a9e-loan-1"],
        description=(
            "Names this request for good: sent again with the same key it is answered as the first time and records "
            "nothing more. Quoted and bare are one key. Keys never expire."
        ),
    ),
    AfterValidator(_unquoted),
]
