"""What people are shown of catalogues, of what jobs cost and earned, and of quotes. Pure, as show.py."""

from collections.abc import Iterable

from pool_client.cells import replacement, tabulated
from pool_client.models.catalogue import (
    By,
    Catalogue,
    CatalogueListed,
    CatalogueProfile,
    CatalogueRead,
    Changes,
    CheckedUse,
    Earned,
    Earnings,
    Item,
    Prospect,
    Quote,
)
from pool_client.table import Table
from pool_client.wire import write

_ITEM = "code|name|>credits|class|family|covers|flags"


def catalogues(found: Iterable[CatalogueListed]) -> list[Table]:
    """Show catalogues without their items."""
    rows = ((each.valid_from, each.item_count, each.version, each.written_by) for each in found)
    return [tabulated("Catalogues", "valid from|>items|>version|entered by", rows)]


def catalogue(found: Catalogue) -> list[Table]:
    """Show a catalogue."""
    return [tabulated(f"Catalogue from {found.valid_from}", _ITEM, map(_item, found.items), *_words(found))]


def entered(found: Catalogue) -> list[Table]:
    """Show the receipt of a catalogue, in a line."""
    title = f"Catalogue from {found.valid_from} (version {found.version}), items: {found.item_count:,}"
    return [tabulated(title, "", [], *_words(found))]


def _words(found: Catalogue) -> list[str]:
    return [*(f"Doubt: {each}." for each in found.doubts), *found.cautions]


def items(found: Iterable[Item]) -> list[Table]:
    """Show items."""
    return [tabulated("Items", _ITEM, map(_item, found))]


def _item(each: Item) -> tuple[object, ...]:
    covers = [
        *each.covers.items,
        *(f"all of {name}" for name in each.covers.families),
        *(f"all of class {name}" for name in each.covers.classes),
    ]
    flags = (["trade only"] if each.trade_only else []) + (["not for all roads"] if each.road_restricted else [])
    return (
        each.code,
        each.name,
        each.credits,
        each.vehicle_class,
        each.family,
        ", ".join(covers),
        ", ".join(flags),
    )


def changes(found: Changes) -> list[Table]:
    """Show what has changed."""
    words = {"new": found.new, "gone": found.gone}
    rows: list[tuple[object, ...]] = [
        (word, each.code, each.name, each.credits if word == "gone" else None, each.credits if word == "new" else None)
        for word, items_ in words.items()
        for each in items_
    ]
    pairs = {"dearer": found.dearer, "cheaper": found.cheaper, "altered": found.altered}
    rows += [
        (word, each.after.code, each.after.name, each.before.credits, each.after.credits)
        for word, changed in pairs.items()
        for each in changed
    ]
    if not rows:
        return [tabulated(f"Nothing has changed since {found.since}.", "", [])]
    return [tabulated(f"Changes since {found.since}", "what|code|name|>before|>now", rows)]


def read(found: CatalogueRead) -> list[Table]:
    """Show what a file says, before it is entered."""
    columns = [(role.replace("_", " "), word) for role, word in found.columns.items()]
    aside = [(str(each.line), each.column, each.reason) for each in found.set_aside]
    words = [f"Doubt: {each}" for each in found.doubts]
    if found.other_sheets:
        words.append(f"The sheet {found.sheet} is read; others are {', '.join(found.other_sheets)}.")
    return [
        tabulated("Columns", "says|column", columns, *words),
        tabulated(f"{len(found.items):,} items", _ITEM, map(_item, found.items)),
        *([tabulated(f"{len(aside):,} rows set aside", ">line|column|because", aside)] if aside else []),
        *(changes(found.changes) if found.changes else []),
    ]


def profiles(found: Iterable[CatalogueProfile]) -> list[Table]:
    """Show column profiles of catalogues."""
    rows = ((each.name, ", ".join(f"{role} {word}" for role, word in _columns(each))) for each in found)
    return [tabulated("Catalogue profiles", "name|columns", rows)]


def _columns(profile: CatalogueProfile) -> list[tuple[str, object]]:
    told = {name: word for name, word in write(profile).items() if word}
    return [(role, word) for role, word in told.items() if role not in {"name", "decimal", "thousands"}]


def earnings(found: Earnings) -> list[Table]:
    """Show what jobs cost and earned."""
    nameless = "all" if found.by is By.TOTAL else None
    rows = [
        (
            each.name or nameless,
            each.uses,
            each.credits,
            each.cost,
            each.price,
            each.margin,
            each.unpriced_uses or None,
        )
        for each in found.rows
    ]
    months = found.from_month if found.from_month == found.to_month else f"{found.from_month} to {found.to_month}"
    columns = f"{found.by.replace('_', ' ')}|>uses|>credits|>cost|>price|>margin|>no price"
    return [tabulated(f"What jobs earned, {months}", columns, rows, *_totals(found.total))]


def _totals(total: Earned) -> list[str]:
    cost = f"Together {total.credits:,} credits that cost {total.cost:,}"
    said = [f"{cost}; charged {total.price:,}; margin {total.margin:,}."]
    if total.unpriced_uses:
        what = f"{total.unpriced_uses:,} uses of {total.unpriced_credits:,} credits without a price"
        said.append(f"Not in the margin: {what}, that cost {total.unpriced_cost:,}.")
    return said


_FINDINGS = {
    "as_listed": "as listed",
    "several": "several times what is listed",
    "otherwise": "other than listed",
    "unlisted": "not in the catalogue",
    "no_catalogue": "no catalogue of that day",
}


def use_checks(found: Iterable[CheckedUse]) -> list[Table]:
    """Show uses beside the catalogue of their day."""
    rows = []
    said: dict[str, None] = {}
    for each in found:
        finding = _FINDINGS.get(each.finding, each.finding) + (", not marked off road only" if each.unmarked else "")
        rows.append((str(each.entry), each.on, each.member, each.item, each.quantity, each.listed, finding))
        said.update(dict.fromkeys(each.cautions))
    if not rows:
        return [tabulated("Every use is as the catalogue of its day says.", "", [])]
    return [tabulated("Uses and the catalogue", ">entry|day|member|item|>used|>listed|finding", rows, *said)]


def quote(found: Quote) -> list[Table]:
    """Show what a job would take and cost."""
    tables = []
    if found.cover is not None:
        cover = found.cover
        rows = [(each.code, each.name, each.credits, ", ".join(each.serves)) for each in cover.chosen]
        proof = "no choice costs less" if cover.proven else f"no choice costs less than {cover.lower_bound:,}"
        words = f"{cover.credits:,} credits, one by one {cover.singly:,}; {proof}."
        title = f"Cheapest items of the catalogue from {cover.catalogue}"
        tables = [tabulated(title, "code|name|>credits|serves", rows, words)]
    prospects = {"blended unit cost": found.blended, "next order": found.replaced}
    rows_ = [_prospect(name, each) for name, each in prospects.items() if each]
    words_ = [f"{found.member} holds {found.held:,}; {found.missing:,} are missing."] if found.missing else []
    words_ += [replacement(found.replacement)] if found.replacement else []
    title = f"{found.credits:,} credits of {found.member} on {found.on}"
    title += "" if found.price is None else f", for {found.price:,}"
    return [*tables, tabulated(title, "at|>a credit|>cost|>margin", rows_, *words_, *found.cautions)]


def _prospect(name: str, found: Prospect) -> tuple[object, ...]:
    return (name, found.unit_price, found.cost, found.margin)
