"""How joint orders are asked for and shown on the wire. Costs are shown as in ladder_forms.py."""

from typing import Annotated, Any, Literal

from pydantic import Field

from pool_api.domain.arrangements import Step, StepKind
from pool_api.domain.rounds import Effect, NextBreak, Round, RoundState
from pool_api.domain.values import MOST_CREDITS, Currency
from pool_api.rest.entry_forms import EntryShown, show_entry
from pool_api.rest.ladder_forms import CheaperShown, OrderShown, show_cheaper, show_order
from pool_api.rest.wire import (
    CreditCount,
    Credits,
    Day,
    EntryNumber,
    Flag,
    Instant,
    MemberCode,
    Money,
    MoneyText,
    Note,
    ShortText,
    WireModel,
    stated,
)
from pool_api.services.rounds import RoundView
from pool_api.store.writer import Recorded

Json = dict[str, Any]

ROUND_ID = "^[0-9]{8,12}$"

RoundName = Annotated[str, Field(pattern=ROUND_ID, examples=["00000003"], description="The id of an order round.")]
StepNumber = Annotated[
    int, Field(strict=True, ge=1, le=10**9, examples=[4], description="Counts the steps of an order round.")
]


class RoundForm(WireModel):
    """Until when members may commit, and a note to them."""

    deadline: Instant
    note: Note = ""


class ExtensionForm(WireModel):
    """A later deadline, and why."""

    deadline: Instant
    reason: ShortText


class CallingOffForm(WireModel):
    """Why nothing is ordered."""

    reason: ShortText


class CommitmentForm(WireModel):
    """The credits that a member wants; 0 is an answer too."""

    quantity: Annotated[int, Field(strict=True, ge=0, le=MOST_CREDITS, examples=[120])]


class ClosingForm(WireModel):
    """What was ordered. seen is the version of the round that was looked at. The quantity is what is committed, the
    amount what the ladder says, unless stated; before the deadline, accept_unanswered is the word that it was seen who
    hasn't answered."""

    seen: StepNumber
    paid_by: MemberCode
    quantity: Credits | None = None
    amount: Money | None = None
    order_number: ShortText | None = None
    effective_on: Day | None = None
    note: ShortText | None = None
    accept_unanswered: Flag = False


class RoundStepShown(WireModel):
    """What was done with a round, other than commitments to it, and its deadline from then on."""

    round_id: RoundName
    number: StepNumber
    step: Literal["opened", "extended", "called_off"]
    deadline: Instant | None = None
    note: Note | None = None
    reason: ShortText | None = None
    made_by: str
    made_at: Instant


class CommitmentShown(WireModel):
    """What a member has committed to."""

    member: MemberCode
    quantity: CreditCount
    made_by: str
    made_at: Instant


class RoundListed(WireModel):
    """A joint order, with what is committed and how many members have answered. Past its deadline it takes no
    commitments, unless it is extended."""

    round_id: RoundName
    version: StepNumber
    state: RoundState
    opened_by: str
    opened_at: Instant
    deadline: Instant
    note: Note
    committed: CreditCount
    answered: Annotated[int, Field(ge=0)]


class SharePaidShown(WireModel):
    """What a member would pay of an order."""

    member: MemberCode
    amount: MoneyText


class NextBreakShown(WireModel):
    """The order at which the next tier begins, with so many credits more. saves_per_credit is what a credit costs less
    there, saves what those who have committed would pay less together if others brought what is missing, costs_more
    what the whole order would cost more (below 0: less)."""

    order: OrderShown
    more: Credits
    saves_per_credit: MoneyText | None = None
    saves: MoneyText | None = None
    costs_more: MoneyText | None = None


class EffectShown(WireModel):
    """What an order of what is committed comes to by the ladder of its day, at one price for all. order is absent where
    it has no price; cheaper are larger orders that cost less in total."""

    ladder: Day
    order: OrderShown | None = None
    shares: list[SharePaidShown]
    next_break: NextBreakShown | None = None
    cheaper: list[CheaperShown]


class ClosingShown(WireModel):
    """What a round became: the entries of its purchase and its draws. listed is what the ladder said; left is what was
    bought beyond the commitments, which stays in stock."""

    entries: list[EntryNumber]
    paid_by: MemberCode
    quantity: Credits
    amount: MoneyText
    listed: MoneyText | None = None
    order_number: ShortText | None = None
    left: CreditCount
    made_by: str
    made_at: Instant


class RoundShown(RoundListed):
    """A joint order with its commitments, by member. While it isn't over: who hasn't answered, and what it comes to."""

    commitments: list[CommitmentShown]
    extensions: list[RoundStepShown]
    unanswered: list[MemberCode]
    effect: EffectShown | None = None
    closing: ClosingShown | None = None
    calling_off: RoundStepShown | None = None


class ClosedShown(WireModel):
    """The purchase that a round became, and its draws."""

    round_id: RoundName
    entries: list[EntryShown]


def show_listed(found: Round, state: RoundState) -> Json:
    """Give a round as it is listed."""
    return {
        "round_id": found.round_id,
        "version": found.version,
        "state": state.value,
        "opened_by": found.opened.made_by,
        "opened_at": found.opened.made_at,
        "deadline": found.deadline,
        "note": found.opened.content["note"],
        "committed": found.total,
        "answered": len(found.commitments),
    }


def show_round(view: RoundView, currency: Currency) -> Json:
    """Give a round as it is seen now."""
    found, end = view.round, view.round.end
    called_off = end is not None and end.kind is StepKind.CALLED_OFF
    return stated(
        {
            **show_listed(found, view.state),
            "commitments": [show_commitment(step) for step in found.commitments.values()],
            "extensions": [show_step(found.round_id, step) for step in found.extended],
            "unanswered": [*view.unanswered],
            "effect": view.effect and _effect(view.effect, currency),
            "closing": _closing(end, found.total, currency) if end and not called_off else None,
            "calling_off": show_step(found.round_id, end) if end and called_off else None,
        }
    )


def show_commitment(step: Step) -> Json:
    """Give what a member has committed to."""
    return {
        "member": step.member,
        "quantity": step.content["quantity"],
        "made_by": step.made_by,
        "made_at": step.made_at,
    }


def show_step(round_id: str, step: Step) -> Json:
    """Give a step that opened, extended or called off a round."""
    return stated(
        {
            "round_id": round_id,
            "number": step.number,
            "step": step.kind.value,
            "deadline": step.until,
            "note": step.content.get("note"),
            "reason": step.content.get("reason"),
            "made_by": step.made_by,
            "made_at": step.made_at,
        }
    )


def show_closed(round_id: str, recorded: Recorded, currency: Currency) -> Json:
    """Give the entries that closing a round recorded."""
    return {"round_id": round_id, "entries": [show_entry(entry, currency) for entry in recorded.entries]}


def _closing(step: Step, committed: int, currency: Currency) -> Json:
    said = step.content
    return stated(
        {
            "entries": said["entries"],
            "paid_by": said["paid_by"],
            "quantity": said["quantity"],
            "amount": currency.text(said["amount"]),
            "listed": None if said["listed"] is None else currency.text(said["listed"]),
            "order_number": said["order_number"],
            "left": max(said["quantity"] - committed, 0),
            "made_by": step.made_by,
            "made_at": step.made_at,
        }
    )


def _effect(found: Effect, currency: Currency) -> Json:
    order = found.order
    return stated(
        {
            "ladder": found.ladder.valid_from.isoformat(),
            "order": order and show_order(order, currency),
            "shares": [{"member": member, "amount": currency.text(part)} for member, part in found.shares.items()],
            "next_break": found.next_break and _next_break(found.next_break, currency),
            "cheaper": [show_cheaper(each, order, currency) for each in found.cheaper] if order else [],
        }
    )


def _next_break(found: NextBreak, currency: Currency) -> Json:
    amounts = {"saves": found.saves, "costs_more": found.costs_more}
    unit = found.saves_per_credit
    return stated(
        {
            "order": show_order(found.order, currency),
            "more": found.more,
            "saves_per_credit": None if unit is None else currency.unit_text(unit),
            **{name: None if amount is None else currency.text(amount) for name, amount in amounts.items()},
        }
    )
