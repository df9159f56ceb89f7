"""The vendor's catalogue: what each item costs in credits from a day on, what bundles cover, and what has changed.

A catalogue is the vendor's whole list: an item that it doesn't name isn't sold by it. Items are known by their codes,
exactly as they are written. A bundle covers other items by their codes, or all of a family or a vehicle class; what it
covers is had with it, and so is what that covers. Which catalogue counts when, and what items are wanted for, is not
known here.
"""

from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from datetime import date
from enum import StrEnum
from functools import cached_property

from pool_api.domain.covering import Cover, Offer, cheapest_cover
from pool_api.domain.errors import CatalogueUnlawful, ItemsUnknown
from pool_api.domain.values import MOST_CREDITS

MOST_ITEMS = 5_000
MOST_BUNDLES = 500
MOST_COVERED = 500
"""Items of a catalogue; those among them that cover others; names in each list of what one covers."""

MOST_WANTED = 60
"""Items that can be wanted together: for so many the cheapest cover is searched."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Covered:
    """What a bundle covers beside itself: items by their codes, all items of families, all of vehicle classes."""

    items: tuple[str, ...] = ()
    families: tuple[str, ...] = ()
    classes: tuple[str, ...] = ()

    def __bool__(self) -> bool:
        return bool(self.items or self.families or self.classes)


@dataclass(frozen=True, slots=True, kw_only=True)
class Item:
    """Something that the vendor releases for so many credits. trade_only: sold to trade buyers only; road_restricted:
    what it does isn't lawful on public roads everywhere."""

    code: str
    name: str
    credits: int
    vehicle_class: str | None = None
    family: str | None = None
    covers: Covered = field(default_factory=Covered)
    trade_only: bool = False
    road_restricted: bool = False


@dataclass(frozen=True, kw_only=True)
class Catalogue:
    """The items that count from a day on, in order of their codes.

    Refuses: CatalogueUnlawful."""

    valid_from: date
    items: tuple[Item, ...]

    def __post_init__(self) -> None:
        if not 1 <= len(self.items) <= MOST_ITEMS:
            raise CatalogueUnlawful(reason=f"it has {len(self.items)} items, not 1 to {MOST_ITEMS}")
        bundles = sum(bool(each.covers) for each in self.items)
        if bundles > MOST_BUNDLES:
            raise CatalogueUnlawful(reason=f"{bundles} of its items cover others, more than {MOST_BUNDLES}")
        object.__setattr__(self, "items", tuple(sorted(self.items, key=lambda each: each.code)))
        for each in self.items:
            if self.by_code[each.code] is not each:
                raise CatalogueUnlawful(reason=f"the code {each.code} stands in it twice")
            if not 0 <= each.credits <= MOST_CREDITS:
                raise CatalogueUnlawful(reason=f"{each.code} can't cost {each.credits} credits")

    @cached_property
    def by_code(self) -> Mapping[str, Item]:
        """The items by their codes."""
        return {each.code: each for each in self.items}

    @cached_property
    def _groups(self) -> tuple[Mapping[str, list[str]], Mapping[str, list[str]]]:
        """The codes of each family, and of each vehicle class."""
        families: dict[str, list[str]] = {}
        classes: dict[str, list[str]] = {}
        for each in self.items:
            if each.family is not None:
                families.setdefault(each.family, []).append(each.code)
            if each.vehicle_class is not None:
                classes.setdefault(each.vehicle_class, []).append(each.code)
        return families, classes

    def had_with(self, code: str) -> frozenset[str]:
        """Give the codes of all that is had with an item: itself, what it covers, and what that covers."""
        found, waiting = {code}, [code]
        while waiting:
            fresh = [each for each in self._covered(waiting.pop()) if each not in found]
            found.update(fresh)
            waiting.extend(fresh)
        return frozenset(found)

    def _covered(self, code: str) -> Iterator[str]:
        covers = self.by_code[code].covers
        families, classes = self._groups
        yield from (each for each in covers.items if each in self.by_code)
        for name in covers.families:
            yield from families.get(name, ())
        for name in covers.classes:
            yield from classes.get(name, ())

    def cheapest(self, wanted: Iterable[str]) -> Cover:
        """Give the items that cost the fewest credits and with which all that is wanted is had; wanted codes, each
        counted once.

        Refuses: ItemsUnknown."""
        codes = [*dict.fromkeys(wanted)]
        unknown = [code for code in codes if code not in self.by_code]
        if unknown:
            raise ItemsUnknown(items=unknown, valid_from=self.valid_from.isoformat())
        offers = [
            Offer(name=each.code, cost=each.credits, covers=self.had_with(each.code))
            for each in self.items
            if each.covers or each.code in codes
        ]
        return cheapest_cover(codes, offers)

    def doubts(self) -> tuple[str, ...]:
        """Say what is lawful but unusual: bundles of what isn't there, and bundles that save nothing."""
        families, classes = self._groups
        found = []
        for each in self.items:
            known = (self.by_code, families, classes)
            named = (each.covers.items, each.covers.families, each.covers.classes)
            absent = [name for names, there in zip(named, known, strict=True) for name in names if name not in there]
            if absent:
                found.append(f"{each.code} covers what the catalogue doesn't have: {', '.join(absent)}")
            parts = sum(self.by_code[code].credits for code in self.had_with(each.code) if code != each.code)
            if each.covers and each.credits > parts:
                found.append(f"{each.code} costs {each.credits} credits, all that it covers {parts}")
        return tuple(found)


def valid_on(catalogues: Iterable[Catalogue], day: date) -> Catalogue | None:
    """Give the catalogue that counts on a day: the last one that is valid by then, None before the first."""
    begun = [each for each in catalogues if each.valid_from <= day]
    return max(begun, key=lambda each: each.valid_from, default=None)


@dataclass(frozen=True, slots=True, kw_only=True)
class Changes:
    """What one catalogue says otherwise than another, each in order of code: pairs are the item before and after.
    altered cost as much as before, but are called, sorted, bundled or flagged otherwise."""

    new: tuple[Item, ...]
    gone: tuple[Item, ...]
    dearer: tuple[tuple[Item, Item], ...]
    cheaper: tuple[tuple[Item, Item], ...]
    altered: tuple[tuple[Item, Item], ...]


def compare(older: Sequence[Item], newer: Sequence[Item]) -> Changes:
    """Compare the items of two catalogues, both in order of code."""
    before, after = ({each.code: each for each in items} for items in (older, newer))
    both = [(before[each.code], each) for each in newer if each.code in before]
    return Changes(
        new=tuple(each for each in newer if each.code not in before),
        gone=tuple(each for each in older if each.code not in after),
        dearer=tuple(pair for pair in both if pair[1].credits > pair[0].credits),
        cheaper=tuple(pair for pair in both if pair[1].credits < pair[0].credits),
        altered=tuple(pair for pair in both if pair[1].credits == pair[0].credits and pair[0] != pair[1]),
    )


class CatalogueFinding(StrEnum):
    """What a use is beside the catalogue of its day."""

    AS_LISTED = "as_listed"
    SEVERAL = "several"
    OTHERWISE = "otherwise"
    UNLISTED = "unlisted"
    NO_CATALOGUE = "no_catalogue"


def check_use(catalogue: Catalogue | None, code: str, quantity: int) -> CatalogueFinding:
    """Tell whether a use of so many credits is what the catalogue of its day says of its item; several is a whole
    number of times what one costs."""
    if catalogue is None:
        return CatalogueFinding.NO_CATALOGUE
    item = catalogue.by_code.get(code)
    if item is None:
        return CatalogueFinding.UNLISTED
    if quantity == item.credits:
        return CatalogueFinding.AS_LISTED
    return CatalogueFinding.SEVERAL if item.credits and quantity % item.credits == 0 else CatalogueFinding.OTHERWISE
