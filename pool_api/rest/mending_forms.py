"""What is asked about reconciliations on the wire: deciding, confirming, handing over, answering, signing off."""

from typing import Annotated, Any, Literal

from pydantic import Field

from pool_api.domain.acts import Answer
from pool_api.domain.entries import Direction
from pool_api.domain.matching import DifferenceKind
from pool_api.domain.values import Currency, Month
from pool_api.rest.act_forms import DifferenceKey, show_handed
from pool_api.rest.entry_forms import show_entry
from pool_api.rest.record_forms import VendorRowShown, show_row
from pool_api.rest.vendor_forms import DifferenceShown, show_difference
from pool_api.rest.wire import (
    Credits,
    Day,
    Digest,
    EntryNumber,
    Flag,
    Holder,
    MemberCode,
    Money,
    MonthText,
    Note,
    ShortText,
    WireModel,
    stated,
)
from pool_api.services.handing import InHand
from pool_api.services.mending import MOST_AT_ONCE, Dealt, DealtWith

Json = dict[str, Any]

_Keys = Annotated[str, Field(pattern="^[0-9a-f]{64}$", description="The key of a match.", examples=["5d1c" * 16])]
_RowName = Annotated[
    str, Field(pattern="^[0-9a-f]{64}:[1-9][0-9]{0,8}$", description="A row's identity.", examples=["5d1c" * 16 + ":1"])
]


class MendFields(WireModel):
    """What a mend asks for, or what is to be recorded instead of what it offers. Which fields a mend takes hangs on its
    kind; giver and receiver are those at the vendor, whatever the entry calls them."""

    kind: Literal["loan", "return", "draw"] | None = Field(default=None, description="What a transfer really was.")
    giver: MemberCode | None = None
    receiver: MemberCode | None = None
    member: MemberCode | None = None
    into: Holder | None = None
    paid_by: MemberCode | None = None
    entry: EntryNumber | None = Field(default=None, description="The entry that a refund takes back.")
    quantity: Credits | None = None
    amount: Money | None = None
    order_number: ShortText | None = None
    item: ShortText | None = None
    job: ShortText | None = None
    price: Money | None = None
    direction: Direction | None = None
    party: ShortText | None = None
    effective_on: Day | None = None
    note: Note | None = None

    def said(self) -> dict[str, str | int]:
        """Give what is stated."""
        return self.model_dump(mode="json", exclude_none=True)


class DecisionForm(WireModel):
    """What is decided on a difference. fields adds what the mend asks for, or changes what it offers; as_answered takes
    over what the member that it was handed to has answered."""

    difference: DifferenceKey
    verdict: Literal["accepted", "dismissed"]
    reason: ShortText
    fields: MendFields = MendFields()
    as_answered: Flag = False


class DecisionsForm(WireModel):
    """What is decided on all undecided differences of a kind; fields as of a single decision, for those whose mends
    take them."""

    kind: DifferenceKind
    verdict: Literal["accepted", "dismissed"]
    reason: ShortText
    fields: MendFields = MendFields()


class ConfirmationForm(WireModel):
    """Which matches are confirmed: some by their keys, all that are suggested, or a pair by hand: entries and rows that
    are one movement."""

    matches: Annotated[list[_Keys], Field(max_length=500)] = []
    all_suggested: Flag = False
    entries: Annotated[list[EntryNumber], Field(max_length=50)] = []
    rows: Annotated[list[_RowName], Field(max_length=50)] = []
    word: Note = ""


class WithdrawalForm(WireModel):
    """Which match is no longer kept: by its key, or by the name that it is kept under; and why."""

    match: _Keys
    word: ShortText


class HandingForm(WireModel):
    """To which member a difference is handed, with a word to it; without a member it goes back to the keeper."""

    difference: DifferenceKey
    member: MemberCode | None = None
    word: Note = ""


class AnswerForm(WireModel):
    """What a member says of a difference in its hands: mend it, with these fields; the vendor is mistaken; or something
    else, in words."""

    difference: DifferenceKey
    answer: Answer
    fields: MendFields = MendFields()
    word: Note = ""


class SignOffForm(WireModel):
    """What is signed off: the digest of the comparison that was seen; accept_open is the word that what is undecided or
    unconfirmed was seen."""

    digest: Digest
    accept_open: Flag = False
    note: Note = ""


class ToRecordShown(WireModel):
    """What is recorded to mend a difference, as an entry would say it."""

    kind: str
    effective_on: Day
    note: Note
    body: dict[str, Any]


class RefusalShown(WireModel):
    """Why a difference can't be mended like this: the code of a problem, and its sentence."""

    code: str
    detail: str


class DealtShown(WireModel):
    """What becomes of one difference; entries are their numbers once they are recorded."""

    difference: DifferenceKey
    sentence: str
    records: list[ToRecordShown]
    entries: list[EntryNumber]
    refusal: RefusalShown | None = None


class DealtWithShown(WireModel):
    """What becomes of the undecided differences of a kind: each is decided, or refused and left undecided. left is how
    many there are beyond those that one request decides."""

    month: MonthText
    kind: DifferenceKind
    verdict: Literal["accepted", "dismissed"]
    differences: Annotated[list[DealtShown], Field(max_length=MOST_AT_ONCE)]
    left: int = Field(ge=0)


class HandedDifferenceShown(WireModel):
    """A difference in a member's hands, with the rows of the vendor's record that it speaks of."""

    month: MonthText
    member: MemberCode
    difference: DifferenceShown
    rows: list[VendorRowShown]


def show_dealt_with(made: DealtWith, month: Month, currency: Currency, *, recorded: bool) -> Json:
    """Give what became, or would become, of all differences of a kind."""
    return {
        "month": str(month),
        "kind": made.kind.value,
        "verdict": "accepted" if made.accepted else "dismissed",
        "differences": [_dealt(each, currency, recorded=recorded) for each in made.differences],
        "left": made.left,
    }


_SAID = ("kind", "effective_on", "note", "body")


def _dealt(each: Dealt, currency: Currency, *, recorded: bool) -> Json:
    shown = [show_entry(entry, currency) for entry in each.entries]
    return stated(
        {
            "difference": each.difference,
            "sentence": each.sentence,
            "records": [{name: told[name] for name in _SAID} for told in shown],
            "entries": [entry.number for entry in each.entries] if recorded else [],
            "refusal": None if each.refusal is None else {"code": each.refusal[0], "detail": each.refusal[1]},
        }
    )


def show_in_hand(each: InHand) -> Json:
    """Give a difference in a member's hands."""
    shown = show_difference(each.difference, each.offered, None, each.handed)
    return {
        "month": str(each.month),
        "member": each.handed.member,
        "difference": shown | {"handed": show_handed(each.handed)},
        "rows": [show_row(row) for row in each.rows],
    }
