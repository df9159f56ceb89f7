"""How requests for credits are asked for and shown on the wire."""

from typing import Annotated, Any

from pydantic import Field

from pool_api.domain.arrangements import Step
from pool_api.domain.requests import RequestState
from pool_api.rest.wire import Credits, EntryNumber, Instant, MemberCode, Note, ShortText, WireModel, stated
from pool_api.services.credit_requests import Seen

Json = dict[str, Any]

REQUEST_ID = "^[0-9]{8,12}$"

RequestName = Annotated[
    str, Field(pattern=REQUEST_ID, examples=["00000003"], description="The id of a credit request.")
]


class CreditRequestForm(WireModel):
    """The credits that a member needs, and the instant by which; then it expires."""

    member: MemberCode
    quantity: Credits
    needed_by: Instant
    note: Note = ""


class TakingUpForm(WireModel):
    """Who lends: all that is asked for, from today."""

    lender: MemberCode
    note: ShortText | None = None


class RequestWithdrawalForm(WireModel):
    """Why the credits aren't needed any more."""

    reason: Note = ""


class CreditRequestAsked(WireModel):
    """What was asked for."""

    request_id: RequestName
    member: MemberCode
    quantity: Credits
    needed_by: Instant
    note: Note
    asked_by: str
    asked_at: Instant


class CreditRequestShown(CreditRequestAsked):
    """A request, and what has become of it: who lent by which entry, or why it was withdrawn."""

    state: RequestState
    lender: MemberCode | None = None
    entry: EntryNumber | None = None
    reason: Note | None = None
    ended_by: str | None = None
    ended_at: Instant | None = None


def show_asked(request_id: str, asked: Step) -> Json:
    """Give what was asked for."""
    return {
        "request_id": request_id,
        "member": asked.member,
        "quantity": asked.content["quantity"],
        "needed_by": asked.until,
        "note": asked.content["note"],
        "asked_by": asked.made_by,
        "asked_at": asked.made_at,
    }


def show_request(seen: Seen) -> Json:
    """Give a request with what has become of it."""
    found, end = seen.request, seen.request.end
    shown = {**show_asked(found.request_id, found.asked), "state": seen.state.value}
    if end is None:
        return shown
    told = {name: end.content.get(name) for name in ("entry", "reason")}
    return stated({**shown, "lender": found.lender, **told, "ended_by": end.made_by, "ended_at": end.made_at})
