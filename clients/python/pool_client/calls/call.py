"""What a call is: a request as plain values, with the reading of its answer. How it is sent stands in line.py."""

from collections.abc import Callable, Collection, Mapping
from dataclasses import dataclass, field, replace
from types import MappingProxyType
from typing import Generic, TypeVar
from urllib.parse import quote

from pool_client.wire import Json, Unfit, read, read_json, write

T = TypeVar("T")

JSON = "application/json"
CSV = "text/csv"
PDF = "application/pdf"
XLSX = "application/vnd.openxmlformats-officedocument.spreadsheetml.sheet"
XML = "application/xml"
ZIP = "application/zip"
SHEETS = {
    "xlsx": XLSX,
    "xlsb": "application/vnd.ms-excel.sheet.binary.macroenabled.12",
    "ods": "application/vnd.oasis.opendocument.spreadsheet",
    "xls": "application/vnd.ms-excel",
}
POOL = "/v1/pools/{pool}"
"""The path of a pool, under which all that belongs to it has its paths."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Answer:
    """An answer that tells of success. headers by names in small letters."""

    status: int
    headers: Mapping[str, str]
    content: bytes


@dataclass(frozen=True, slots=True, kw_only=True)
class Page(Generic[T]):
    """Some rows of a list, and the cursor of the next page, None on the last."""

    items: tuple[T, ...]
    next: str | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Upload:
    """A file as the body of a call."""

    content: bytes
    media_type: str = CSV


MOST_ROWS = 200
"""Of a page; no list gives more at once."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Call(Generic[T]):
    """One call of the service.

    path is the template of the OpenAPI document, places are its parameters; understand reads the answer, or refuses it
    as Unfit. keyed says that the call records something under an idempotency key, and key is the one that its maker
    wants for it. harmless says that doing it twice changes nothing more, so that it can be repeated without a key."""

    method: str
    path: str
    understand: Callable[[Answer], T]
    places: Mapping[str, str] = field(default_factory=dict)
    query: Mapping[str, str] = field(default_factory=dict)
    headers: Mapping[str, str] = field(default_factory=dict)
    body: Json | Upload | None = None
    keyed: bool = False
    key: str | None = None
    harmless: bool = False

    @property
    def target(self) -> str:
        """The path with its parameters filled in."""
        return self.path.format_map({name: _segment(value) for name, value in self.places.items()})

    def in_long_pages(self) -> "Call[T]":
        """Give the same call of a list with as many rows to a page as the service gives, unless it says how many."""
        return self if "limit" in self.query else replace(self, query={**self.query, "limit": str(MOST_ROWS)})

    def on(self, cursor: str) -> "Call[T]":
        """Give the same call for the page that a cursor names."""
        return replace(self, query={**self.query, "cursor": cursor})


@dataclass(frozen=True, slots=True, kw_only=True)
class Versioned(Generic[T]):
    """Something changeable as it was read. Its tag is opaque; a change states it, so that nobody's work is lost."""

    value: T
    tag: str


def model(form: type[T]) -> Callable[[Answer], T]:
    """Give the reading of an answer that is one model."""
    return lambda answer: read(form, read_json(answer.content))


def versioned(form: type[T]) -> Callable[[Answer], Versioned[T]]:
    """Give the reading of an answer that is one model with an entity tag."""

    def understand(answer: Answer) -> Versioned[T]:
        if "etag" not in answer.headers:
            raise Unfit("The header ETag is missing.")
        return Versioned(value=model(form)(answer), tag=answer.headers["etag"])

    return understand


def page(form: type[T]) -> Callable[[Answer], Page[T]]:
    """Give the reading of an answer that is a page of models."""

    def understand(answer: Answer) -> Page[T]:
        told = read(_PageForm, read_json(answer.content))
        rows = tuple(read(form, row, f"#/items/{at}") for at, row in enumerate(told.items))
        return Page(items=rows, next=told.next)

    return understand


def items(form: type[T]) -> Callable[[Answer], tuple[T, ...]]:
    """Give the reading of an answer that is a list of models, all of it."""
    return lambda answer: page(form)(answer).items


def get(
    path: str,
    places: Mapping[str, str],
    understand: Callable[[Answer], T],
    *,
    query: Mapping[str, str] = MappingProxyType({}),
    headers: Mapping[str, str] = MappingProxyType({}),
) -> Call[T]:
    """Give the call that reads something, and so does no harm when it is repeated."""
    return Call(
        method="GET", path=path, places=places, query=query, headers=headers, understand=understand, harmless=True
    )


def get_file(
    path: str, places: Mapping[str, str], media_type: str, *, query: Mapping[str, str] = MappingProxyType({})
) -> Call[bytes]:
    """Give the call that reads something as a file of a media type."""
    return get(path, places, lambda answer: answer.content, query=query, headers={"Accept": media_type})


def put(
    path: str,
    places: Mapping[str, str],
    value: T,
    *,
    named_by: str,
    tag: str | None,
    told: Collection[str] = (),
) -> Call[Versioned[T]]:
    """Give the call that makes something, or replaces what was read with a tag.

    Takes:   value — a model, whose field named_by stands in the path and not in the body; told — its fields that are
             for the service to say."""
    body = {name: each for name, each in write(value).items() if name != named_by and name not in told}
    headers = {} if tag is None else {"If-Match": tag}
    return Call(method="PUT", path=path, places=places, headers=headers, body=body, understand=versioned(type(value)))


def upload(content: bytes) -> Upload:
    """Give a file of the vendor's as a body: as what its bytes say it is, whatever it is called."""
    return Upload(content=content, media_type=_media_type(content))


def _media_type(content: bytes) -> str:
    """Tell what a file is by its bytes: a spreadsheet of one of four kinds, or else delimited text."""
    if content.startswith(b"\xd0\xcf\x11\xe0"):
        return SHEETS["xls"]
    if not content.startswith(b"PK\x03\x04"):
        return CSV
    kinds = {b"content.xml": "ods", b"xl/workbook.bin": "xlsb"}
    return SHEETS[next((kind for name, kind in kinds.items() if name in content), "xlsx")]


def nothing(answer: Answer) -> None:
    """Read an answer that says nothing but that it's done."""


@dataclass(frozen=True, slots=True, kw_only=True)
class _PageForm:
    items: tuple[Json, ...]
    next: str | None = None


def _segment(value: str) -> str:
    """Give what stands for a value in a path; dots alone would be taken for a step up."""
    return quote(value, safe="").replace(".", "%2E")


def query(**given: object) -> dict[str, str]:
    """Give the query parameters that are stated, as text; a trailing underscore isn't part of a name."""
    return {name.removesuffix("_"): _text(value) for name, value in given.items() if value is not None}


def _text(value: object) -> str:
    return str(value).lower() if isinstance(value, bool) else str(value)
