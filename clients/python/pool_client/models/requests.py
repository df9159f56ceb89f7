"""Requests for credits: what a member needs by an instant, and what has become of it."""

from dataclasses import dataclass
from datetime import datetime
from enum import StrEnum


class RequestState(StrEnum):
    """How far a request has come."""

    OPEN = "open"
    TAKEN_UP = "taken_up"
    WITHDRAWN = "withdrawn"
    EXPIRED = "expired"


@dataclass(frozen=True, slots=True, kw_only=True)
class CreditRequestAsked:
    """What was asked for; it expires by itself at needed_by."""

    request_id: str
    member: str
    quantity: int
    needed_by: datetime
    note: str
    asked_by: str
    asked_at: datetime


@dataclass(frozen=True, slots=True, kw_only=True)
class CreditRequest(CreditRequestAsked):
    """A request with what has become of it: who lent by which entry, or why it was withdrawn."""

    state: RequestState
    lender: str | None = None
    entry: int | None = None
    reason: str | None = None
    ended_by: str | None = None
    ended_at: datetime | None = None
