"""What can go wrong with a call, as a tree; how an answer becomes one of its errors.

    PoolError
    ├── Refused        the rules or the book say no; nothing was written
    ├── Misused        the request isn't understood: a mistake of the caller, or of this client
    ├── NotAllowed     the API key is missing, has ended, or may not do this
    ├── Missing        there is no such thing, as far as the key may see
    ├── Stale          what the caller looked at has moved since; look again
    ├── Busy           too many ask at once; repeating is safe
    ├── Unreachable    no answer came; whether something was recorded is unknown, repeating with the same key is safe
    └── ServerFault    the service failed, or gave an answer that can't be read

Every error has the sentence to show to a person. Those that come from a problem document (RFC 9457) also have its
status, code and figures, and for a misused call the findings with their places. No error holds an API key.
"""

import json
from collections.abc import Mapping
from typing import Any

_OF_DOCUMENT = frozenset({"type", "title", "status", "detail", "code", "errors", "instance"})

_NOT_UNDERSTOOD = "invalid-request"
"""The one code under status 422 that says that a request isn't understood; the others are refusals of the rules."""


class PoolError(Exception):
    """A call didn't succeed."""

    def __init__(
        self,
        sentence: str,
        *,
        code: str = "",
        status: int | None = None,
        title: str = "",
        fields: Mapping[str, Any] | None = None,
        findings: tuple[Mapping[str, str], ...] = (),
        retry_after_s: float | None = None,
    ) -> None:
        super().__init__(sentence)
        self.sentence = sentence
        """One sentence that says what is the matter, with the figures."""
        self.code = code
        """Which rule or state: a word of the service's list of problems, such as `not-enough-held`."""
        self.status = status
        self.title = title
        self.fields: Mapping[str, Any] = fields or {}
        """The figures of the sentence, by name."""
        self.findings = findings
        """Of a misused call: what is wrong where; each has `detail`, and `pointer` or `parameter` and `location`."""
        self.retry_after_s = retry_after_s
        """The pause that the service asks for, in seconds."""
        self.idempotency_key: str | None = None
        """The key to repeat the call with, where it had one."""


class Refused(PoolError):
    """The rules or the book say no; nothing was written."""


class Misused(PoolError):
    """The request isn't understood."""


class NotAllowed(PoolError):
    """The API key is missing, has ended, or may not do this."""


class Missing(PoolError):
    """There is no such thing, as far as the key may see."""


class Stale(PoolError):
    """What the caller looked at has moved since."""


class Busy(PoolError):
    """Too many ask at once."""


class Unreachable(PoolError):
    """No answer came. connected says whether the request may have reached the service."""

    def __init__(self, sentence: str, *, connected: bool) -> None:
        super().__init__(sentence)
        self.connected = connected


class ServerFault(PoolError):
    """The service failed, or gave an answer that can't be read."""


_BY_STATUS: dict[int, type[PoolError]] = {
    401: NotAllowed,
    403: NotAllowed,
    404: Missing,
    409: Refused,
    412: Stale,
    422: Refused,
    428: Refused,
    429: Busy,
    503: Busy,
}


def error_from(status: int, headers: Mapping[str, str], content: bytes) -> PoolError:
    """Give the error that an answer tells of.

    Takes:   status — 300 or above; headers — by names in small letters; content — a problem document, or anything.
    Gives:   an error of the leaf that fits; one without code where the content is no problem document."""
    told = _document(content)
    code = told.get("code", "")
    sentence = told.get("detail") or f"The service answered with status {status}."
    return _leaf(status, code)(
        sentence,
        code=code,
        status=status,
        title=told.get("title", ""),
        fields={name: value for name, value in told.items() if name not in _OF_DOCUMENT},
        findings=tuple(told.get("errors", ())),
        retry_after_s=_seconds(headers.get("retry-after")),
    )


def _leaf(status: int, code: str) -> type[PoolError]:
    if code == _NOT_UNDERSTOOD:
        return Misused
    if status in _BY_STATUS:
        return _BY_STATUS[status]
    return Misused if 400 <= status < 500 else ServerFault


def _document(content: bytes) -> dict[str, Any]:
    """Give a problem document, empty for anything else: what stands between may answer whatever it likes."""
    try:
        told = json.loads(content)
    except (ValueError, RecursionError):
        return {}
    if not isinstance(told, dict) or not all(isinstance(told.get(name), str) for name in ("code", "title", "detail")):
        return {}
    findings = told.get("errors", [])
    is_listed = isinstance(findings, list) and all(isinstance(each, dict) for each in findings)
    return told if is_listed else {**told, "errors": []}


def _seconds(retry_after: str | None) -> float | None:
    """Read Retry-After in seconds; its other form, a date, needs a clock and counts as not given."""
    return float(retry_after) if retry_after is not None and retry_after.isdecimal() else None
