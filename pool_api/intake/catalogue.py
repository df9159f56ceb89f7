"""The vendor's catalogue as a file: which column says what of an item, a guess at that, and how rows become items.

Like the vendor's record it is read by a column profile that is proposed from the header's words and the values, looked
at, and saved. Rows that can't be read are set aside with the reason; whether a catalogue is made of the rest is for who
looks at them. What is in one cell of several names stands between semicolons, commas or bars.
"""

import re
from collections.abc import Mapping
from dataclasses import asdict, dataclass, fields
from typing import Any

from pool_api.domain.catalogue import MOST_COVERED, Covered, Item
from pool_api.domain.errors import ColumnMissing, ProfileUnfit
from pool_api.domain.record import SetAside
from pool_api.intake.cells import DECIMALS, THOUSANDS, Unfit, cleaned, credits_of, is_total, shown
from pool_api.intake.evidence import NUMBER_STYLES, most_telling
from pool_api.intake.rows import Row
from pool_api.intake.table import Table

MOST_IN_NAME = 100

COLUMNS = (
    "code",
    "title",
    "credits",
    "vehicle_class",
    "family",
    "covers",
    "covers_families",
    "covers_classes",
    "trade_only",
    "road_restricted",
)
"""What a column can be, in the order of the profile's fields."""

_WORDS = {
    "covers_families": "families",
    "covers_classes": "classes",
    "covers": "covers includes contains bundle included unlocks inhalt",
    "trade_only": "trade dealer dealers business professional gewerbe",
    "road_restricted": "road roads street offroad legal track",
    "credits": "credits credit price cost tokens units points kosten preis",
    "code": "code sku item article artikel id ref reference number no nr",
    "vehicle_class": "class vehicle category segment klasse fahrzeug kategorie",
    "family": "family group series line platform familie gruppe",
    "title": "name title description designation text product bezeichnung item",
}
"""Words of header cells by what the column is, the more telling ones first; in the order in which they choose."""

_BETWEEN = re.compile(r"[;,|]")
_YES = frozenset({"yes", "y", "true", "1", "x", "ja", "j"})
_NO = frozenset({"", "no", "n", "false", "0", "-", "nein"})
_SAMPLE = 2_000
_HALF, _NEARLY_ALL = 5, 9
"""Tenths of a column's cells that have to be fit where its header word tells what it is, and where nothing does."""


@dataclass(frozen=True, slots=True, kw_only=True)
class CatalogueProfile:
    """Which column of the vendor's catalogues, by its header word, says what; None where there is no such column.

    Refuses: ProfileUnfit."""

    name: str
    code: str
    credits: str
    title: str | None = None
    vehicle_class: str | None = None
    family: str | None = None
    covers: str | None = None
    covers_families: str | None = None
    covers_classes: str | None = None
    trade_only: str | None = None
    road_restricted: str | None = None
    decimal: str = "."
    thousands: str = ""

    def __post_init__(self) -> None:
        named = [*self.columns.values()]
        if len({*named}) < len(named):
            raise ProfileUnfit(reason="one column is named for two things")
        if self.decimal not in DECIMALS or self.thousands not in THOUSANDS or self.decimal == self.thousands:
            raise ProfileUnfit(reason="its signs for decimals and thousands are unknown or the same")

    @property
    def columns(self) -> dict[str, str]:
        """The columns that are named, by what they say, in the order of COLUMNS."""
        return {role: getattr(self, role) for role in COLUMNS if getattr(self, role) is not None}

    def as_json(self) -> dict[str, Any]:
        """Give the profile as a JSON object, every field stated."""
        return asdict(self)

    @classmethod
    def from_json(cls, given: Mapping[str, Any]) -> "CatalogueProfile":
        """Read what as_json gave; what isn't a field of a profile is read over."""
        return cls(**{each.name: given[each.name] for each in fields(cls) if each.name in given})


@dataclass(frozen=True, slots=True, kw_only=True)
class CatalogueGuess:
    """The column found for each role, the profile they make (None without codes or credits), and the doubts."""

    columns: dict[str, str]
    profile: CatalogueProfile | None
    doubts: tuple[str, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class ItemsRead:
    """The items of a file in its order, and the rows that are set aside, by their lines."""

    items: tuple[Item, ...]
    set_aside: tuple[SetAside, ...]


# --- guessing --------------------------------------------------------------------------------------------------------


def propose_catalogue(table: Table, name: str) -> CatalogueGuess:
    """Guess which column of a table says what of an item.

    Takes:   name — what the profile shall be called.
    Gives:   the same guess for the same table.  Refuses: nothing.
    Source:  own rule: header words, borne out by the values: credits are whole numbers, codes differ between rows."""
    values = {word: [cleaned(row.cells[at]) for row in table.rows[:_SAMPLE]] for at, word in enumerate(table.header)}
    chosen: dict[str, str] = {}
    doubts: list[str] = []
    free = [*table.header]
    for role, telling in _WORDS.items():
        best = most_telling(telling, [word for word in free if _fits(role, values[word], _HALF)])
        if best:
            chosen[role] = best
            free.remove(best)
    _fill_in(chosen, free, values, doubts)
    columns = {role: chosen[role] for role in COLUMNS if role in chosen}
    if "title" not in columns:
        doubts.append("No column names the items: each would be called by its code.")
    profile = None
    if "code" in columns and "credits" in columns:
        decimal, thousands = _number_style(values[columns["credits"]], _HALF) or NUMBER_STYLES[0]
        profile = CatalogueProfile(name=name, **columns, decimal=decimal, thousands=thousands)
    return CatalogueGuess(columns=columns, profile=profile, doubts=tuple(doubts))


def _fill_in(
    chosen: dict[str, str],
    free: list[str],
    values: dict[str, list[str]],
    doubts: list[str],
) -> None:
    """Choose columns for codes and credits by their values alone, where no header word told them."""
    for role, wanted in (("credits", "whole numbers"), ("code", "texts that differ from row to row")):
        if role not in chosen:
            fitting = [word for word in free if _fits(role, values[word], _NEARLY_ALL)]
            if fitting:
                chosen[role] = fitting[0]
                free.remove(fitting[0])
                doubts.append(f"{fitting[0]} is taken for the {role} because it holds {wanted}.")
            else:
                doubts.append(f"No column of {wanted} can be the {role}.")


def _fits(role: str, texts: list[str], tenths: int) -> bool:
    """Tell whether so many tenths of a column's cells bear out that it is what its role says."""
    if role == "credits":
        return _number_style(texts, tenths) is not None
    if role == "code":
        return bool(texts) and 10 * len({*filter(None, texts)}) >= tenths * len(texts)
    if role in ("trade_only", "road_restricted"):
        return all(text.casefold() in _YES | _NO for text in texts)
    return True


def _number_style(texts: list[str], tenths: int) -> tuple[str, str] | None:
    """Give the style under which the most texts are whole numbers of credits, the plain one when all read as many; None
    where so many tenths are under none."""
    read = {style: sum(_is_credits(text, style) for text in texts) for style in NUMBER_STYLES}
    best = max(read, key=lambda style: read[style])
    return best if texts and 10 * read[best] >= tenths * len(texts) else None


def _is_credits(text: str, style: tuple[str, str]) -> bool:
    try:
        return credits_of(text, *style) >= 0
    except Unfit:
        return False


# --- reading ---------------------------------------------------------------------------------------------------------


def read_items(table: Table, profile: CatalogueProfile) -> ItemsRead:
    """Read a table as the items of a catalogue: every row is an item or set aside.

    Refuses: ColumnMissing when the table lacks a column that the profile names."""
    words = {word.casefold(): at for at, word in reversed([*enumerate(table.header)])}
    missing = [f"{column} ({role})" for role, column in profile.columns.items() if column.casefold() not in words]
    if missing:
        raise ColumnMissing(missing=", ".join(missing), present=", ".join(table.header))
    reader = _Reader(profile=profile, at={role: words[word.casefold()] for role, word in profile.columns.items()})
    found: dict[str, Item] = {}
    aside = [*table.ragged]
    for row in table.rows:
        try:
            item = reader.item(row)
            if item.code in found:
                raise _Aside("code", f"the code {shown(item.code)} stands in the file before")
            found[item.code] = item
        except _Aside as finding:
            blamed = profile.columns.get(finding.role)
            aside.append(SetAside(line=row.line, column=blamed, reason=finding.reason, cells=row.cells))
    return ItemsRead(items=tuple(found.values()), set_aside=tuple(sorted(aside, key=lambda each: each.line)))


class _Aside(Exception):
    def __init__(self, role: str, reason: str) -> None:
        super().__init__(reason)
        self.role, self.reason = role, reason


@dataclass(frozen=True, slots=True, kw_only=True)
class _Reader:
    """Reads rows by a profile; at says where in a row each role's cell stands."""

    profile: CatalogueProfile
    at: dict[str, int]

    def item(self, row: Row) -> Item:
        """Give the item of a row, or raise _Aside."""
        code = self._name(row, "code")
        if code is None:
            raise _Aside("code", "the cell is empty")
        title = self._name(row, "title")
        if is_total(code) and title is None:
            raise _Aside("code", f"a total: {shown(code)}")
        return Item(
            code=code,
            name=title or code,
            credits=self._credits(row),
            vehicle_class=self._name(row, "vehicle_class"),
            family=self._name(row, "family"),
            covers=Covered(
                items=self._names(row, "covers"),
                families=self._names(row, "covers_families"),
                classes=self._names(row, "covers_classes"),
            ),
            trade_only=self._flag(row, "trade_only"),
            road_restricted=self._flag(row, "road_restricted"),
        )

    def _text(self, row: Row, role: str) -> str:
        return cleaned(row.cells[self.at[role]]) if role in self.at else ""

    def _name(self, row: Row, role: str) -> str | None:
        return _checked(role, self._text(row, role)) or None

    def _names(self, row: Row, role: str) -> tuple[str, ...]:
        texts = (text.strip() for text in _BETWEEN.split(self._text(row, role)))
        names = tuple(dict.fromkeys(_checked(role, text) for text in texts if text))
        if len(names) > MOST_COVERED:
            raise _Aside(role, f"it names more than {MOST_COVERED}")
        return names

    def _credits(self, row: Row) -> int:
        text = self._text(row, "credits")
        if not text:
            raise _Aside("credits", "the cell is empty")
        try:
            credits = credits_of(text, self.profile.decimal, self.profile.thousands)
        except Unfit as unfit:
            raise _Aside("credits", str(unfit)) from None
        if credits < 0:
            raise _Aside("credits", f"{shown(text)} is below 0")
        return credits

    def _flag(self, row: Row, role: str) -> bool:
        text = self._text(row, role).casefold()
        if text not in _YES | _NO:
            raise _Aside(role, f"{shown(text)} is neither yes nor no")
        return text in _YES


def _checked(role: str, text: str) -> str:
    if len(text) > MOST_IN_NAME:
        raise _Aside(role, f"{shown(text)} has more than {MOST_IN_NAME} characters")
    if not text.isprintable():
        raise _Aside(role, f"{shown(text)} holds control characters")
    return text
