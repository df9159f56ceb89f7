"""Requests for credits: a member needs so many by an instant, and one that holds enough lends them, all of them.

A request is the fold of its steps: asked, and at most one more, by which it was taken up or withdrawn. It expires at
its instant without anybody doing anything.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from enum import StrEnum

from pool_api.domain.arrangements import Step, StepKind
from pool_api.domain.entries import Loan
from pool_api.domain.errors import RequestOver


class RequestState(StrEnum):
    """How far a request has come."""

    OPEN = "open"
    TAKEN_UP = "taken_up"
    WITHDRAWN = "withdrawn"
    EXPIRED = "expired"


_ENDS = {StepKind.TAKEN_UP: RequestState.TAKEN_UP, StepKind.WITHDRAWN: RequestState.WITHDRAWN}


@dataclass(frozen=True, slots=True, kw_only=True)
class CreditRequest:
    """A request as it stands: the step by which it was asked, and the one that ended it, if any."""

    request_id: str
    asked: Step
    end: Step | None = None

    @property
    def member(self) -> str:
        """Who needs the credits."""
        return self.asked.member or ""

    @property
    def quantity(self) -> int:
        """How many are needed."""
        quantity: int = self.asked.content["quantity"]
        return quantity

    @property
    def needed_by(self) -> str:
        """The instant at which it expires."""
        return self.asked.until or ""

    @property
    def lender(self) -> str | None:
        """Who took it up."""
        return self.end.member if self.end is not None and self.end.kind is StepKind.TAKEN_UP else None

    def state(self, at: str) -> RequestState:
        """Tell how far it has come at an instant; the instant by which it is needed is too late."""
        if self.end is not None:
            return _ENDS[self.end.kind]
        return RequestState.OPEN if at < self.needed_by else RequestState.EXPIRED

    def permit_end(self, at: str) -> None:
        """Let it be taken up or withdrawn. Refuses: RequestOver."""
        if (state := self.state(at)) is not RequestState.OPEN:
            raise RequestOver(request=self.request_id, state=state.value.replace("_", " "))

    def loan_of(self, lender: str) -> Loan:
        """Give the loan by which a member takes it up."""
        return Loan(lender=lender, borrower=self.member, quantity=self.quantity)

    def concerns(self, member: str, held: int, at: str) -> bool:
        """Tell whether it is of a member's: its own, one that it took up, or an open one that it holds enough for."""
        can_serve = self.state(at) is RequestState.OPEN and held >= self.quantity
        return can_serve or member in (self.member, self.lender)


def request_of(request_id: str, steps: Sequence[Step]) -> CreditRequest:
    """Give a request by its steps, in order; the first one asked for it."""
    return CreditRequest(request_id=request_id, asked=steps[0], end=steps[1] if len(steps) > 1 else None)
