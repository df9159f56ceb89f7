"""How catalogues, their items and changes, and the reading of their files are asked for and shown on the wire."""

from typing import Annotated, Any, Literal

from pydantic import Field

from pool_api.domain.catalogue import MOST_COVERED, MOST_ITEMS, Catalogue, Changes, Covered, Item
from pool_api.domain.values import MOST_CREDITS
from pool_api.intake.catalogue import CatalogueProfile
from pool_api.intake.cells import DECIMALS, THOUSANDS
from pool_api.reports.cautions import ROAD_USE
from pool_api.rest.record_forms import SetAsideShown
from pool_api.rest.wire import Day, Flag, HeaderWord, Instant, ProfileName, ShortText, WireModel, stated
from pool_api.services.catalogues import CatalogueRead
from pool_api.store.catalogues import CatalogueVersion

Json = dict[str, Any]

_SHOWN_ROWS = 10

TRADE_ONLY = "The vendor sells it to trade buyers only; whether this buyer is one is the vendor's to say."
"""The caution of items that have the flag; that of the other flag is ROAD_USE."""

CAUTIONS = {"trade_only": TRADE_ONLY, "road_restricted": ROAD_USE}

Version = Annotated[int, Field(strict=True, ge=1, examples=[2], description="Counts the changes of a catalogue.")]
ItemCredits = Annotated[
    int, Field(strict=True, ge=0, le=MOST_CREDITS, examples=[24], description="The whole credits that one costs.")
]
ItemCode = Annotated[
    ShortText, Field(examples=["CAL-S"], description="The code of an item, exactly as the vendor writes it.")
]
_Names = Annotated[list[ShortText], Field(max_length=MOST_COVERED)]


class CoveredForm(WireModel):
    """What a bundle covers beside itself: items by their codes, all items of families, all of vehicle classes."""

    items: _Names = []
    families: _Names = []
    classes: _Names = []


class ItemForm(WireModel):
    """Something that the vendor releases for credits. A bundle covers others, and what those cover. trade_only: sold to
    trade buyers only; road_restricted: what it does isn't lawful on public roads everywhere."""

    code: ItemCode
    name: ShortText
    credits: ItemCredits
    vehicle_class: ShortText | None = None
    family: ShortText | None = None
    covers: CoveredForm = CoveredForm()
    trade_only: Flag = False
    road_restricted: Flag = False

    def item(self) -> Item:
        """Give the core's item."""
        covers = self.covers
        return Item(
            code=self.code,
            name=self.name,
            credits=self.credits,
            vehicle_class=self.vehicle_class,
            family=self.family,
            covers=Covered(
                items=tuple(dict.fromkeys(covers.items)),
                families=tuple(dict.fromkeys(covers.families)),
                classes=tuple(dict.fromkeys(covers.classes)),
            ),
            trade_only=self.trade_only,
            road_restricted=self.road_restricted,
        )


class CatalogueForm(WireModel):
    """All items of a catalogue, each code once."""

    items: Annotated[list[ItemForm], Field(min_length=1, max_length=MOST_ITEMS)]


class CatalogueListed(WireModel):
    """A catalogue as it counts from a day on, until the next one's, without its items."""

    valid_from: Day
    version: Version
    item_count: int = Field(ge=1)
    written_at: Instant
    written_by: str


class CatalogueShown(CatalogueListed):
    """A catalogue, its items in order of their codes, and what is lawful but unusual in it. Cautions go with flags."""

    items: list[ItemForm]
    doubts: list[str]
    cautions: list[str]


class CatalogueVersionShown(WireModel):
    """What was said of a catalogue; without a count of items where it was withdrawn."""

    version: Version
    item_count: int | None = Field(default=None, ge=1)
    written_at: Instant
    written_by: str


class ItemChanged(WireModel):
    """An item before and after."""

    before: ItemForm
    after: ItemForm


class ChangesShown(WireModel):
    """What a catalogue says otherwise than an older one, in order of code. altered cost as much as before, but are
    called, sorted, bundled or flagged otherwise."""

    since: Day
    new: list[ItemForm]
    gone: list[ItemForm]
    dearer: list[ItemChanged]
    cheaper: list[ItemChanged]
    altered: list[ItemChanged]


class CatalogueProfileForm(WireModel):
    """Which column, by its header word, says what of an item. The columns of what a bundle covers hold several names
    between semicolons, commas or bars."""

    code: HeaderWord
    credits: HeaderWord
    title: HeaderWord | None = None
    vehicle_class: HeaderWord | None = None
    family: HeaderWord | None = None
    covers: HeaderWord | None = None
    covers_families: HeaderWord | None = None
    covers_classes: HeaderWord | None = None
    trade_only: HeaderWord | None = None
    road_restricted: HeaderWord | None = None
    decimal: Literal[DECIMALS] = "."  # type: ignore[valid-type]
    thousands: Literal[THOUSANDS] = ""  # type: ignore[valid-type]


class CatalogueProfileShown(CatalogueProfileForm):
    """A column profile of catalogues."""

    name: ProfileName


class CatalogueReadShown(WireModel):
    """What a file says: the profile that it was read by (absent when none could be guessed, and so nothing was read),
    doubts about it, of a spreadsheet the sheet that was read, the file's first rows, the items, and the rows that were
    set aside. changes are beside the catalogue that counts, absent where none does."""

    profile: CatalogueProfileShown | None = None
    columns: dict[str, str]
    doubts: list[str]
    sheet: str | None = None
    other_sheets: list[str]
    header: list[str]
    rows: list[list[str]]
    items: list[ItemForm]
    set_aside: list[SetAsideShown]
    changes: ChangesShown | None = None


def show_item(item: Item) -> Json:
    """Give an item; what it doesn't say is left out."""
    covers = {"items": [*item.covers.items], "families": [*item.covers.families], "classes": [*item.covers.classes]}
    return stated(
        {
            "code": item.code,
            "name": item.name,
            "credits": item.credits,
            "vehicle_class": item.vehicle_class,
            "family": item.family,
            "covers": covers,
            "trade_only": item.trade_only,
            "road_restricted": item.road_restricted,
        }
    )


def show_listed(version: CatalogueVersion) -> Json:
    """Give a catalogue without its items."""
    return {"valid_from": version.valid_from.isoformat(), **show_version(version)}


def show_version(version: CatalogueVersion) -> Json:
    """Give one version of a catalogue."""
    return stated(
        {
            "version": version.version,
            "item_count": version.said,
            "written_at": version.written_at,
            "written_by": version.written_by,
        }
    )


def show_catalogue(version: CatalogueVersion, said: Catalogue) -> Json:
    """Give a catalogue."""
    return {
        **show_listed(version),
        "items": [show_item(each) for each in said.items],
        "doubts": [*said.doubts()],
        "cautions": [words for flag, words in CAUTIONS.items() if any(getattr(each, flag) for each in said.items)],
    }


def show_changes(since: str, found: Changes) -> Json:
    """Give what has changed since an older catalogue."""
    pairs = {name: getattr(found, name) for name in ("dearer", "cheaper", "altered")}
    return {
        "since": since,
        "new": [show_item(each) for each in found.new],
        "gone": [show_item(each) for each in found.gone],
        **{
            name: [{"before": show_item(before), "after": show_item(after)} for before, after in changed]
            for name, changed in pairs.items()
        },
    }


def profile_of(name: str, form: CatalogueProfileForm) -> CatalogueProfile:
    """Give the intake's profile. Refuses: ProfileUnfit."""
    return CatalogueProfile(name=name, **form.model_dump())


def show_read(found: CatalogueRead) -> Json:
    """Give what a file says."""
    read, guess = found.read, found.guess
    changes = None
    if found.changes and found.beside:
        changes = show_changes(found.beside.isoformat(), found.changes)
    return stated(
        {
            "profile": guess.profile and stated(guess.profile.as_json()),
            "columns": guess.columns,
            "doubts": [*guess.doubts],
            "sheet": found.table.sheet,
            "other_sheets": [*found.table.other_sheets],
            "header": [*found.table.header],
            "rows": [[*row.cells] for row in found.table.rows[:_SHOWN_ROWS]],
            "items": [show_item(each) for each in read.items] if read else [],
            "set_aside": [
                stated({"line": each.line, "column": each.column, "reason": each.reason, "cells": [*each.cells]})
                for each in (read.set_aside if read else ())
            ],
            "changes": changes,
        }
    )
