"""How pages are written: templates, and how figures, days and instants look in them. Everything is escaped.

Amounts keep the digits that the service gives, with commas between thousands, as in documents on paper and in what
the service says; an amount below nothing has a minus sign before it, never a colour alone.
"""

import re
from collections.abc import Iterable, Mapping
from datetime import date, datetime, timedelta
from decimal import Decimal
from pathlib import Path
from typing import Any
from zoneinfo import ZoneInfo

from jinja2 import Environment, FileSystemLoader, StrictUndefined
from markupsafe import Markup
from pool_client.happenings import by_whom, in_words, to_whom
from pool_client.models.directory import Member
from pool_client.models.months import MemberAmount
from starlette.responses import HTMLResponse, Response

from pool_web.sentences import month_words, row_words, sentence

TEMPLATES = Path(__file__).with_name("templates")
NOTHING = "–"
_UNTOLD: dict[str, Any] = {
    "pool": None,
    "home": "",
    "proof": "",
    "who": None,
    "own": None,
    "is_keeper": False,
    "wants_second_factor": False,
    "again": "",
    "today": None,
}
"""What pages that are about nobody and no pool say nothing of."""
_NEGATIVE = re.compile(r"(?<!\w)-(?=\d)")


class View:
    """Writes pages. beside is what every template knows."""

    def __init__(self, beside: Mapping[str, Any]) -> None:
        self._environment = Environment(
            loader=FileSystemLoader(TEMPLATES),
            autoescape=True,
            undefined=StrictUndefined,
            trim_blocks=True,
            lstrip_blocks=True,
        )
        self._environment.globals.update(beside)
        self._environment.filters.update(
            amount=amount,
            by_member=by_member,
            by_whom=by_whom,
            count=count,
            day=day,
            happened=in_words,
            instant=instant,
            minus=minus,
            month=month_words,
            month_before=month_before,
            named=named,
            path_words=path_words,
            plain=plain,
            recorder=recorder,
            row_words=row_words,
            sentence=sentence,
            themselves=themselves,
            to_whom=to_whom,
            words=words,
        )

    def answer(self, template: str, told: Mapping[str, Any], status: int = 200) -> Response:
        """Answer with a page."""
        return HTMLResponse(self._environment.get_template(template).render({**_UNTOLD, **told}), status)


def amount(value: Decimal | None) -> str:
    """Show an amount of money or a price."""
    return NOTHING if value is None else _grouped(value)


def count(value: int | None) -> str:
    """Show whole credits."""
    return NOTHING if value is None else _grouped(value)


def _grouped(value: Decimal | int) -> str:
    return f"{value:,}".replace("-", "\N{MINUS SIGN}")


def day(value: date | str | None) -> Markup | str:
    """Show a day, or one that a form carries."""
    value = date.fromisoformat(value) if isinstance(value, str) else value
    return NOTHING if value is None else _time(value.isoformat(), f"{value.day} {value:%b} {value.year}")


def instant(value: datetime, zone: str) -> Markup:
    """Show an instant on the clocks of a time zone."""
    local = value.astimezone(ZoneInfo(zone))
    return _time(value.isoformat(), f"{local.day} {local:%b} {local.year}, {local:%H:%M}")


def minus(value: str) -> str:
    """Show a text of the service's with minus signs before its figures, not hyphens."""
    return _NEGATIVE.sub("\N{MINUS SIGN}", value)


def plain(value: str) -> str:
    """Show a word of the wire as people write it."""
    return value.replace("_", " ").replace("-", " ")


def month_before(value: str) -> str:
    """Give the month before one, both written as 2026-11."""
    last = date.fromisoformat(f"{value}-01") - timedelta(days=1)
    return f"{last:%Y-%m}"


def path_words(value: str) -> str:
    """Show a figure's name, written with points, in words; members' codes in it stay as they are."""
    first, *rest = value.split(".")
    if first == "members":
        first, *rest = rest
    elif first == "entries":
        first, *rest = f"entry {rest[0]}", *rest[1:]
    first, *rest = (part.replace("_", " ") for part in (first, *rest))
    return f"{first}: {', '.join(rest)}" if rest else first


def by_member(amounts: Iterable[MemberAmount]) -> dict[str, Decimal]:
    """Give amounts by member."""
    return {each.member: each.amount for each in amounts}


def recorder(value: str) -> str:
    """Show who recorded an entry, as the book keeps it: role, member, and key or person."""
    role, member, name = value.split("/", 2) if value.count("/") >= 2 else ("", "-", value)
    of = "" if member == "-" else f" of {member}"
    return f"{role}{of} ({name})" if role else name


def words(values: Iterable[str]) -> list[tuple[str, str]]:
    """Give choices of words of the wire."""
    return [(value, plain(value)) for value in values]


def themselves(values: Iterable[str]) -> list[tuple[str, str]]:
    """Give choices of names that people gave."""
    return [(value, value) for value in values]


def named(members: Iterable[Member]) -> list[tuple[str, str]]:
    """Give choices of members."""
    return [(each.code, f"{each.code} – {each.name}") for each in members]


def _time(machine: str, human: str) -> Markup:
    return Markup('<time datetime="{}">{}</time>').format(machine, human)
