"""What a catalogue says: what is had with an item, what has changed, and what a use is beside it (all own rules)."""

from datetime import date

import pytest

from pool_api.domain.catalogue import (
    MOST_BUNDLES,
    Catalogue,
    CatalogueFinding,
    Covered,
    Item,
    check_use,
    compare,
    valid_on,
)
from pool_api.domain.errors import CatalogueUnlawful, ItemsUnknown

DAY = date(2026, 11, 1)


def item(code: str, credits: int, **said: object) -> Item:
    return Item(code=code, name=f"Item {code}", credits=credits, **said)  # type: ignore[arg-type]


def catalogue(*items: Item, valid_from: date = DAY) -> Catalogue:
    return Catalogue(valid_from=valid_from, items=items)


LISTED = catalogue(
    item("UNLOCK", 30, family="K2", vehicle_class="van"),
    item("CAL-S", 12, family="K2", vehicle_class="car"),
    item("CAL-M", 24, family="K2", vehicle_class="van"),
    item("CAL-L", 40, family="K9", vehicle_class="truck"),
    item("K2-ALL", 50, covers=Covered(families=("K2",))),
    item("VANS", 45, covers=Covered(classes=("van",))),
    item("PAIR", 30, covers=Covered(items=("CAL-S", "CAL-M"))),
    item("BOTH", 60, covers=Covered(items=("K2-ALL", "CAL-L"))),
)


def test_items_stand_in_order_of_their_codes() -> None:
    codes = [each.code for each in LISTED.items]

    assert sorted(codes) == codes


@pytest.mark.parametrize(
    ("items", "reason"),
    [
        ((), "0 items"),
        ((item("A", 1), item("A", 2)), "the code A stands in it twice"),
        ((item("A", -1),), "A can't cost -1 credits"),
        ((item("A", 1_000_000_001),), "A can't cost 1000000001 credits"),
        (
            tuple(item(f"B{at}", 1, covers=Covered(items=("A",))) for at in range(MOST_BUNDLES + 1)),
            "501 of its items cover others",
        ),
    ],
)
def test_what_is_no_catalogue_is_refused(items: tuple[Item, ...], reason: str) -> None:
    with pytest.raises(CatalogueUnlawful, match=reason):
        catalogue(*items)


@pytest.mark.parametrize(
    ("code", "had"),
    [
        ("CAL-S", "CAL-S"),
        ("PAIR", "CAL-M CAL-S PAIR"),
        ("K2-ALL", "CAL-M CAL-S K2-ALL UNLOCK"),
        ("VANS", "CAL-M UNLOCK VANS"),
        ("BOTH", "BOTH CAL-L CAL-M CAL-S K2-ALL UNLOCK"),
    ],
)
def test_what_a_bundle_covers_is_had_with_it_and_what_that_covers(code: str, had: str) -> None:
    assert set(had.split()) == LISTED.had_with(code)


def test_bundles_may_cover_each_other() -> None:
    round_ = catalogue(item("A", 1, covers=Covered(items=("B",))), item("B", 2, covers=Covered(items=("A",))))

    assert {"A", "B"} == round_.had_with("A") == round_.had_with("B")
    assert ("A",) == round_.cheapest(["A", "B"]).chosen


@pytest.mark.parametrize(
    ("wanted", "chosen", "credits"),
    [
        ("CAL-S", "CAL-S", 12),
        ("CAL-S CAL-M", "PAIR", 30),
        ("CAL-S CAL-M UNLOCK", "K2-ALL", 50),
        ("UNLOCK CAL-M", "VANS", 45),
        ("CAL-L CAL-S", "CAL-L CAL-S", 52),
        ("CAL-L CAL-S UNLOCK", "BOTH", 60),
        ("CAL-S CAL-S", "CAL-S", 12),
    ],
)
def test_the_cheapest_items_for_what_is_wanted(wanted: str, chosen: str, credits: int) -> None:
    found = LISTED.cheapest(wanted.split())

    assert (set(chosen.split()), credits) == (set(found.chosen), found.cost)
    assert found.proven


def test_what_the_catalogue_does_not_have_is_named() -> None:
    with pytest.raises(ItemsUnknown, match="from 2026-11-01 has no CAL-X, cal-s"):
        LISTED.cheapest(["CAL-X", "CAL-S", "cal-s"])


def test_the_last_catalogue_that_is_valid_by_a_day_counts_on_it() -> None:
    first, second = catalogue(item("A", 1)), catalogue(item("A", 2), valid_from=date(2026, 12, 1))

    assert valid_on([second, first], date(2026, 10, 31)) is None
    assert first is valid_on([second, first], date(2026, 11, 30))
    assert second is valid_on([second, first], date(2026, 12, 1))


def test_what_has_changed() -> None:
    older = catalogue(item("A", 1), item("B", 2), item("C", 3), item("D", 4), item("E", 5))
    newer = catalogue(item("B", 1), item("C", 4), item("D", 4, family="K2"), item("E", 5), item("F", 6))

    found = compare(older.items, newer.items)

    assert ["F"] == [each.code for each in found.new]
    assert ["A"] == [each.code for each in found.gone]
    assert [(3, 4)] == [(before.credits, after.credits) for before, after in found.dearer]
    assert [(2, 1)] == [(before.credits, after.credits) for before, after in found.cheaper]
    assert ["D"] == [after.code for _, after in found.altered]


def test_what_is_unusual_is_said() -> None:
    odd = catalogue(
        item("A", 10, family="K2"),
        item("DEAR", 11, covers=Covered(items=("A",))),
        item("GONE", 5, covers=Covered(items=("B",), families=("K3",))),
    )

    assert (
        "DEAR costs 11 credits, all that it covers 10",
        "GONE covers what the catalogue doesn't have: B, K3",
        "GONE costs 5 credits, all that it covers 0",
    ) == odd.doubts()
    assert () == LISTED.doubts()


@pytest.mark.parametrize(
    ("code", "quantity", "finding"),
    [
        ("CAL-S", 12, CatalogueFinding.AS_LISTED),
        ("CAL-S", 36, CatalogueFinding.SEVERAL),
        ("CAL-S", 13, CatalogueFinding.OTHERWISE),
        ("CAL-S", 6, CatalogueFinding.OTHERWISE),
        ("cal-s", 12, CatalogueFinding.UNLISTED),
    ],
)
def test_what_a_use_is_beside_the_catalogue(code: str, quantity: int, finding: CatalogueFinding) -> None:
    assert finding is check_use(LISTED, code, quantity)


def test_a_use_without_a_catalogue_or_of_an_item_that_costs_nothing() -> None:
    assert CatalogueFinding.NO_CATALOGUE is check_use(None, "CAL-S", 12)
    assert CatalogueFinding.OTHERWISE is check_use(catalogue(item("FREE", 0)), "FREE", 1)
