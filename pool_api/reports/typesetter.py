"""What a document on paper is made of, and how it becomes a PDF: the only place that knows the typesetter.

Promises: the same document gives the same bytes; there is no clock, no font of the machine and no network in them.
Text is data to the typesetter and never its markup. What can't be printed is shown as a replacement character, and
words too long for a line are broken. How pages look stands in document.typ.
"""

import json
import re
import threading
from dataclasses import asdict, dataclass, field
from functools import cache
from pathlib import Path
from typing import TYPE_CHECKING, Any, Literal

if TYPE_CHECKING:
    from typst import Fonts

_LAYOUT = Path(__file__).with_name("document.typ")


@dataclass(frozen=True, slots=True, kw_only=True)
class Column:
    """A column of a table: figures stand to the right, and a wide column takes the room that the others leave."""

    name: str
    right: bool = False
    wide: bool = False


@dataclass(frozen=True, slots=True, kw_only=True)
class Table:
    """Rows under a head that is repeated on every page. strong names the rows that are totals; size is in points."""

    columns: tuple[Column, ...]
    rows: tuple[tuple[str, ...], ...]
    strong: tuple[int, ...] = ()
    size: int = 9
    kind: Literal["table"] = "table"


@dataclass(frozen=True, slots=True, kw_only=True)
class Words:
    """A paragraph; a note is smaller."""

    text: str
    kind: Literal["words", "note"] = "words"


@dataclass(frozen=True, slots=True, kw_only=True)
class Picture:
    """A drawing as SVG, with what it shows in words."""

    svg: str
    alt: str
    kind: Literal["picture"] = "picture"


@dataclass(frozen=True, slots=True, kw_only=True)
class Signatures:
    """A line to sign on for each party; asks says what belongs on it."""

    parties: tuple[str, ...]
    asks: str
    kind: Literal["signatures"] = "signatures"


@dataclass(frozen=True, slots=True, kw_only=True)
class Section:
    """A part of a document under a heading; together keeps it on one page."""

    heading: str
    blocks: tuple[Table | Words | Picture | Signatures, ...]
    together: bool = False


@dataclass(frozen=True, slots=True, kw_only=True)
class Document:
    """A document: its head, a band of main figures, sections, and the foot of every page. facts and figures are pairs
    of a name and what it is; a draft says so across every page."""

    title: str
    subtitle: str
    state: str
    draft: bool
    facts: tuple[tuple[str, str], ...]
    figures: tuple[tuple[str, str], ...]
    sections: tuple[Section, ...] = field(default=())
    foot: str


def pdf(document: Document) -> bytes:
    """Set a document, as PDF with the tags that reading aloud needs."""
    import typst  # noqa: PLC0415 - takes a moment to load, and few requests need it

    said = json.dumps(_printable(asdict(document)), ensure_ascii=False)
    with _ONE_AT_A_TIME:
        return typst.compile(
            _LAYOUT.read_bytes(), font_paths=_own_fonts(), ignore_system_fonts=True, sys_inputs={"said": said}
        )


_ONE_AT_A_TIME = threading.Lock()
"""A document of forty pages takes hundreds of MiB while it is set, and all cores."""


@cache
def _own_fonts() -> "Fonts":
    from typst import Fonts  # noqa: PLC0415 - as above

    return Fonts(include_system_fonts=False)


_LONG = re.compile(r"(?<!\S)(?![0-9a-f]{64}(?!\S))\S{24,}")
"""What needs places to break at; a digest has to stay as it is, to be copied."""

_BREAK = "\N{ZERO WIDTH SPACE}"


def _printable(said: Any) -> Any:
    if isinstance(said, dict):
        return {name: each if name in {"svg", "kind"} else _printable(each) for name, each in said.items()}
    if isinstance(said, list | tuple):
        return [_printable(each) for each in said]
    return _text(said) if isinstance(said, str) else said


def _text(text: str) -> str:
    shown = "".join(
        each if each.isprintable() else " " if each.isspace() else "\N{REPLACEMENT CHARACTER}" for each in text
    )
    return _LONG.sub(lambda found: _BREAK.join(found[0][at : at + 12] for at in range(0, len(found[0]), 12)), shown)
