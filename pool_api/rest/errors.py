"""The requests that aren't understood, and the two things a caller is told when it isn't the request's fault.

    RequestError
    ├── the address     UnknownPath, MethodNotAllowed, AddressTooLong, MalformedQuery, UnknownQueryParameter,
    │                   DuplicateQueryParameter
    ├── the caller      Unauthenticated, RateLimited
    ├── the headers     DuplicateHeader, IdempotencyKeyMissing, IdempotencyKeyMalformed, PreconditionRequired,
    │                   PreconditionFailed, NotAcceptable
    ├── the body        UnsupportedMediaType, BodyTooLarge, MalformedJson, DuplicateMember, InvalidRequest
    ├── the page        CursorInvalid
    └── the service     ServerFault, NotReady

Like a refusal of the rules, an error holds fields and makes its sentence from them; its code is its class name in kebab
case. Beside that it may know headers that its answer needs. Status, title and advice stand in problem_types.py.
"""

import re
from dataclasses import dataclass, fields
from typing import Any, ClassVar


@dataclass(kw_only=True, eq=False)
class RequestError(Exception):
    """The message isn't understood. Subclasses carry what was found as fields and the sentence as `says`."""

    code: ClassVar[str] = "request-error"
    says: ClassVar[str] = "The request was not understood."

    def __init_subclass__(cls, **kwargs: Any) -> None:
        super().__init_subclass__(**kwargs)
        cls.code = re.sub(r"(?<=[a-z])(?=[A-Z])", "-", cls.__name__).lower()

    def __str__(self) -> str:
        return self.says.format(**self.fields())

    def fields(self) -> dict[str, Any]:
        """Give what was found by name, as plain JSON values."""
        return {field.name: getattr(self, field.name) for field in fields(self)}

    def headers(self) -> dict[str, str]:
        """Give the headers that the answer needs beside those of every answer."""
        return {}


# --- the address -----------------------------------------------------------------------------------------------------


@dataclass(kw_only=True, eq=False)
class UnknownPath(RequestError):
    says: ClassVar[str] = "There is nothing at this address."


@dataclass(kw_only=True, eq=False)
class MethodNotAllowed(RequestError):
    says: ClassVar[str] = "{method} can't be used at this address."
    method: str
    allowed: list[str]

    def headers(self) -> dict[str, str]:
        """Allow, with every method of the address (RFC 9110, 15.5.6)."""
        return {"Allow": ", ".join(self.allowed)}


@dataclass(kw_only=True, eq=False)
class AddressTooLong(RequestError):
    says: ClassVar[str] = "The address is longer than {limit} characters."
    limit: int


@dataclass(kw_only=True, eq=False)
class MalformedQuery(RequestError):
    says: ClassVar[str] = "The query is not UTF-8 text without NUL after percent-decoding."


@dataclass(kw_only=True, eq=False)
class UnknownQueryParameter(RequestError):
    says: ClassVar[str] = "The query parameter {parameter} is not known here."
    parameter: str
    known: list[str]


@dataclass(kw_only=True, eq=False)
class DuplicateQueryParameter(RequestError):
    says: ClassVar[str] = "The query parameter {parameter} stands more than once."
    parameter: str


# --- the caller ------------------------------------------------------------------------------------------------------


@dataclass(kw_only=True, eq=False)
class Unauthenticated(RequestError):
    says: ClassVar[str] = "The request needs a valid API key or a session: {reason}."
    reason: str

    def headers(self) -> dict[str, str]:
        """The challenge (RFC 6750, section 3)."""
        return {"WWW-Authenticate": 'Bearer realm="credit pool"'}


@dataclass(kw_only=True, eq=False)
class RateLimited(RequestError):
    says: ClassVar[str] = "Too many requests came in a short time; ask again in {retry_after} s."
    retry_after: int

    def headers(self) -> dict[str, str]:
        """How long to wait, in seconds."""
        return {"Retry-After": str(self.retry_after)}


# --- the headers -----------------------------------------------------------------------------------------------------


@dataclass(kw_only=True, eq=False)
class DuplicateHeader(RequestError):
    says: ClassVar[str] = "The header {header} stands more than once."
    header: str


@dataclass(kw_only=True, eq=False)
class IdempotencyKeyMissing(RequestError):
    says: ClassVar[str] = "Recording needs the header Idempotency-Key."


@dataclass(kw_only=True, eq=False)
class IdempotencyKeyMalformed(RequestError):
    says: ClassVar[str] = "The header Idempotency-Key must be 8 to 64 letters, digits, - or _, with or without quotes."


@dataclass(kw_only=True, eq=False)
class PreconditionRequired(RequestError):
    says: ClassVar[str] = "Changing this needs the header If-Match with the ETag it was read with."


@dataclass(kw_only=True, eq=False)
class PreconditionFailed(RequestError):
    says: ClassVar[str] = "The header If-Match holds no strong ETag that this service could have given out."


@dataclass(kw_only=True, eq=False)
class NotAcceptable(RequestError):
    says: ClassVar[str] = "None of the accepted media types can be given here."
    offered: list[str]


# --- the body --------------------------------------------------------------------------------------------------------


@dataclass(kw_only=True, eq=False)
class UnsupportedMediaType(RequestError):
    says: ClassVar[str] = "The header Content-Type must name one of the supported media types."
    supported: list[str]

    def headers(self) -> dict[str, str]:
        """Accept, with what can be sent (RFC 9110, 15.5.16)."""
        return {"Accept": ", ".join(self.supported)}


@dataclass(kw_only=True, eq=False)
class BodyTooLarge(RequestError):
    says: ClassVar[str] = "The body is larger than {limit} bytes."
    limit: int

    def headers(self) -> dict[str, str]:
        """The rest of the body stays unread, so the connection ends with the answer (RFC 9110, 15.5.14)."""
        return {"Connection": "close"}


@dataclass(kw_only=True, eq=False)
class MalformedJson(RequestError):
    says: ClassVar[str] = "The body is not JSON that can be read here: {reason}."
    reason: str


@dataclass(kw_only=True, eq=False)
class DuplicateMember(RequestError):
    says: ClassVar[str] = "A JSON object in the body has the member {member} more than once."
    member: str


@dataclass(kw_only=True, eq=False)
class InvalidRequest(RequestError):
    """errors lists each finding with a detail and where it is: pointer in the body, or parameter and location."""

    says: ClassVar[str] = "Invalid values in the request: {count}."
    count: int
    errors: list[dict[str, str]]


# --- the page --------------------------------------------------------------------------------------------------------


@dataclass(kw_only=True, eq=False)
class CursorInvalid(RequestError):
    says: ClassVar[str] = "The cursor was not given out for this list with these filters."


# --- the service -----------------------------------------------------------------------------------------------------


@dataclass(kw_only=True, eq=False)
class ServerFault(RequestError):
    says: ClassVar[str] = "Something went wrong inside the service; it is logged under {request_id}."
    request_id: str


@dataclass(kw_only=True, eq=False)
class NotReady(RequestError):
    says: ClassVar[str] = "The service is not ready."
    failing: list[str]

    def headers(self) -> dict[str, str]:
        """When asking again makes sense, in seconds."""
        return {"Retry-After": "5"}
