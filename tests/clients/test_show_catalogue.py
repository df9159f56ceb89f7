"""What people are shown of catalogues, earnings, checks of uses and quotes."""

from dataclasses import replace
from datetime import UTC, date, datetime
from decimal import Decimal

from pool_client import show_catalogue
from pool_client.models.catalogue import (
    By,
    Catalogue,
    CatalogueRead,
    Changes,
    CheckedUse,
    Chosen,
    Cover,
    Earned,
    EarnedRow,
    Earnings,
    Item,
    ItemChanged,
    Prospect,
    Quote,
)
from pool_client.models.months import Replacement, UnitCost
from pool_client.models.vendor import SetAside
from pool_client.table import Table, plain

from tests.clients.samples_catalogue import CATALOGUE_PROFILE, DAY, ITEMS


def lines(tables: list[Table]) -> list[str]:
    return [line for table in tables for line in plain(table)]


def said(words: str, tables: list[Table]) -> bool:
    return any(words in line for line in lines(tables))


CATALOGUE = Catalogue(
    valid_from=DAY,
    version=2,
    item_count=2,
    written_at=datetime(2026, 11, 3, tzinfo=UTC),
    written_by="keeper/-/000000000000",
    items=ITEMS,
    doubts=("CAL-ALL costs 40 credits, all that it covers 12",),
    cautions=("Beware.",),
)
NOTHING = Changes(since=DAY, new=(), gone=(), dearer=(), cheaper=(), altered=())
SUMS = Earned(
    uses=3,
    credits=36,
    cost=Decimal("254.40"),
    price=Decimal("400.00"),
    margin=Decimal("230.40"),
    unpriced_uses=1,
    unpriced_credits=12,
    unpriced_cost=Decimal("84.80"),
)
EARNINGS = Earnings(by=By.VEHICLE_CLASS, from_month="2026-10", to_month="2026-11", rows=(), total=SUMS)


def row(name: str | None) -> EarnedRow:
    return EarnedRow(name=name, **{each: getattr(SUMS, each) for each in Earned.__slots__})


def test_a_catalogue_says_what_bundles_cover_and_what_flags_mean() -> None:
    shown = show_catalogue.catalogue(CATALOGUE)

    assert said("CAL-S, all of K2, all of class car  trade only, not for all roads", shown)
    assert ["Doubt: CAL-ALL costs 40 credits, all that it covers 12.", "Beware."] == lines(shown)[-2:]
    assert "Catalogue from 2026-11-03 (version 2), items: 2" == lines(show_catalogue.entered(CATALOGUE))[0]


def test_changes_have_both_costs_where_there_are_both() -> None:
    before, after = ITEMS[0], replace(ITEMS[0], credits=14)
    shown = lines(
        show_catalogue.changes(replace(NOTHING, new=ITEMS[1:], dearer=(ItemChanged(before=before, after=after),)))
    )

    assert ["new", "CAL-ALL", "Every", "calibration", "–", "40"] == shown[2].split()
    assert ["12", "14"] == shown[3].split()[-2:]
    assert ["Nothing has changed since 2026-11-03."] == lines(show_catalogue.changes(NOTHING))


def test_a_file_shows_what_is_set_aside_and_what_it_doubts() -> None:
    aside = SetAside(line=4, column="Credits", reason='"some" is not a number', cells=("CAL-X", "some"))
    found = CatalogueRead(
        columns={"code": "Article", "credits": "Credits"},
        doubts=("No column names the items",),
        sheet="Prices",
        other_sheets=("Terms", "Contacts"),
        header=("Article", "Credits"),
        rows=(),
        items=ITEMS,
        set_aside=(aside,),
        profile=CATALOGUE_PROFILE,
        changes=NOTHING,
    )

    shown = show_catalogue.read(found)
    assert said("Doubt: No column names the items", shown)
    assert said("The sheet Prices is read; others are Terms, Contacts.", shown)
    assert said("1 rows set aside", shown)
    assert said('4  Credits  "some" is not a number', shown)
    assert said("Nothing has changed", shown)
    assert not said("set aside", show_catalogue.read(replace(found, set_aside=(), changes=None)))


def test_earnings_tell_what_is_not_in_the_margin() -> None:
    shown = lines(show_catalogue.earnings(replace(EARNINGS, rows=(row(None), row("van")))))

    assert "What jobs earned, 2026-10 to 2026-11" == shown[0]
    assert ["–", "van"] == [line.split()[0] for line in shown[2:4]]
    assert "Not in the margin: 1 uses of 12 credits without a price, that cost 84.80." == shown[-1]
    whole = replace(EARNINGS, by=By.TOTAL, to_month="2026-10", rows=(row(None),), total=replace(SUMS, unpriced_uses=0))
    assert ["all", "3"] == lines(show_catalogue.earnings(whole))[2].split()[:2]
    assert not said("Not in the margin", show_catalogue.earnings(whole))


def test_checks_say_their_findings_and_each_caution_once() -> None:
    use = CheckedUse(
        entry=11,
        on=date(2026, 10, 20),
        member="ALDER",
        item="CAL-M",
        job="J-1",
        quantity=13,
        undone=0,
        finding="otherwise",
        unmarked=True,
        cautions=("Beware.",),
        listed=12,
        difference=1,
    )

    shown = lines(show_catalogue.use_checks([use, replace(use, entry=12, finding="unlisted", unmarked=False)]))

    assert shown[2].endswith("other than listed, not marked off road only")
    assert shown[3].endswith("not in the catalogue")
    assert ["Beware."] == shown[4:]
    assert ["Every use is as the catalogue of its day says."] == lines(show_catalogue.use_checks([]))


def test_a_quote_says_how_sure_it_is_and_what_is_missing() -> None:
    first = ITEMS[0]
    chosen = Chosen(code=first.code, name=first.name, credits=first.credits, serves=("CAL-S",))
    cover = Cover(catalogue=DAY, chosen=(chosen,), credits=12, singly=14, proven=False, lower_bound=11)
    price = UnitCost(shown=Decimal("7.0667"), exact="2120/3")
    found = Quote(
        member="ALDER",
        on=DAY,
        credits=12,
        held=4,
        missing=8,
        cautions=("Beware.",),
        cover=cover,
        price=Decimal("120.00"),
        blended=Prospect(unit_price=price, cost=Decimal("84.80"), margin=Decimal("35.20")),
        replacement=Replacement(basis="planned", ladder=DAY, quantity=500, unit_price=Decimal("6.90")),
    )

    shown = show_catalogue.quote(found)
    assert said("12 credits, one by one 14; no choice costs less than 11.", shown)
    assert said("blended unit cost    7.0667  84.80   35.20", shown)
    assert said("ALDER holds 4; 8 are missing.", shown)
    assert said("Replacing a credit costs 6.90: the next order, as planned, is of 500.", shown)
    assert said("no choice costs less.", show_catalogue.quote(replace(found, cover=replace(cover, proven=True))))
    plain_ = show_catalogue.quote(replace(found, cover=None, replacement=None, missing=0, price=None))
    assert "12 credits of ALDER on 2026-11-03" == lines(plain_)[0]


def test_items_without_anything_beside_them() -> None:
    assert ["A", "Item", "3", "–", "–", "–", "–"] == lines(
        show_catalogue.items([Item(code="A", name="Item", credits=3)])
    )[2].split()
