"""Catalogues over HTTP: entered, changed, withdrawn, searched, compared, and read from files. The lists are made up."""

import csv
from datetime import date
from typing import Any

import httpx
import pytest
from pool_client.errors import Missing, NotAllowed, Refused, Stale
from pool_client.models.catalogue import CatalogueProfile, Covered, Item

from tests.intake.made import Rows, ods, xlsx
from tests.served import Served

SEPTEMBER, NOVEMBER = date(2026, 9, 1), date(2026, 11, 1)
ITEMS = (
    Item(code="CAL-S", name="Calibration, small", credits=12, vehicle_class="car", family="K2"),
    Item(code="CAL-M", name="Calibration, medium", credits=24, vehicle_class="van", family="K2", road_restricted=True),
    Item(code="K2-ALL", name="All of K2", credits=30, covers=Covered(families=("K2",)), trade_only=True),
    Item(code="ÖL/3 =x", name="=odd & free", credits=0),
)
LIST = """Article,Description,Class,Credits
CAL-S,"Calibration, small",car,14
CAL-L,"Calibration, large",truck,40
CAL-X,Broken,car,some
"""


@pytest.fixture
def listed(service: Served) -> Served:
    service.book().put_catalogue(ITEMS, valid_from=SEPTEMBER)
    return service


def test_a_catalogue_is_read_as_it_was_entered(listed: Served) -> None:
    found = listed.book("clerk").catalogue(valid_from=SEPTEMBER).value

    assert sorted(ITEMS, key=lambda each: each.code) == [*found.items]
    assert (1, 4) == (found.version, found.item_count)
    assert 2 == len(found.cautions)


def test_a_change_states_what_it_replaces_and_nothing_is_lost(listed: Served) -> None:
    book = listed.book()
    first = book.catalogue(valid_from=SEPTEMBER)
    changed = book.put_catalogue(ITEMS[:2], valid_from=SEPTEMBER, tag=first.tag)

    with pytest.raises(Stale):
        book.put_catalogue(ITEMS[:1], valid_from=SEPTEMBER, tag=first.tag)
    with pytest.raises(Refused):
        book.put_catalogue(ITEMS[:1], valid_from=SEPTEMBER)
    book.withdraw_catalogue(valid_from=SEPTEMBER, tag=changed.tag)
    with pytest.raises(Missing):
        book.catalogue(valid_from=SEPTEMBER)
    again = book.put_catalogue(ITEMS[:3], valid_from=SEPTEMBER)

    assert '"4"' == again.tag
    versions = [(each.version, each.item_count) for each in book.catalogue_versions(valid_from=SEPTEMBER, limit=2)]
    assert [(4, 3), (3, None), (2, 2), (1, 4)] == versions
    assert 4 == len(book.catalogue_version(valid_from=SEPTEMBER, version=1).items)
    with pytest.raises(Missing):
        book.catalogue_version(valid_from=SEPTEMBER, version=3)
    with pytest.raises(Missing):
        book.catalogue_version(valid_from=SEPTEMBER, version=5)


def test_catalogues_are_listed_by_the_day_they_are_valid_from(listed: Served) -> None:
    book = listed.book()
    book.put_catalogue(ITEMS[:1], valid_from=NOVEMBER)

    assert [(SEPTEMBER, 4), (NOVEMBER, 1)] == [(each.valid_from, each.item_count) for each in book.catalogues(limit=1)]


def test_items_are_searched_in_the_catalogue_that_counts(listed: Served) -> None:
    book = listed.book("reader")
    listed.book().put_catalogue(ITEMS[:1], valid_from=NOVEMBER)

    def codes(**asked: Any) -> list[str]:
        return [each.code for each in book.catalogue_items(limit=1, **asked)]

    october = date(2026, 10, 31)
    assert ["CAL-S"] == codes()
    assert ["CAL-M", "CAL-S", "K2-ALL", "ÖL/3 =x"] == codes(on=october)
    assert ["CAL-M", "CAL-S"] == codes(on=october, text="CALIBRATION")
    assert ["ÖL/3 =x"] == codes(on=october, text="öl")
    assert ["CAL-M"] == codes(on=october, vehicle_class="van")
    assert ["CAL-M", "CAL-S"] == codes(on=october, family="K2")
    with pytest.raises(Refused, match="no catalogue that counts on 2026-08-31"):
        codes(on=date(2026, 8, 31))


def test_what_has_changed_between_two(listed: Served) -> None:
    book = listed.book()
    dearer = Item(code="CAL-S", name="Calibration, small", credits=14, vehicle_class="car", family="K2")
    book.put_catalogue((dearer, Item(code="CAL-L", name="Large", credits=40)), valid_from=NOVEMBER)

    found = book.catalogue_changes(valid_from=NOVEMBER)

    assert SEPTEMBER == found.since
    assert (["CAL-L"], ["CAL-M", "K2-ALL", "ÖL/3 =x"]) == (
        [each.code for each in found.new], [each.code for each in found.gone],
    )  # fmt: skip
    assert [(12, 14)] == [(each.before.credits, each.after.credits) for each in found.dearer]
    assert () == found.cheaper == found.altered
    back = book.catalogue_changes(valid_from=SEPTEMBER, since=NOVEMBER)
    assert [(14, 12)] == [(each.before.credits, each.after.credits) for each in back.cheaper]
    with pytest.raises(Refused, match="a day before 2026-09-01"):
        book.catalogue_changes(valid_from=SEPTEMBER)


def test_a_file_is_looked_at_and_nothing_is_kept(listed: Served) -> None:
    book = listed.book()

    found = book.propose_catalogue(LIST.encode())

    assert found.profile is not None
    assert {"code": "Article", "title": "Description", "credits": "Credits", "vehicle_class": "Class"} == found.columns
    assert ["CAL-S", "CAL-L"] == [each.code for each in found.items]
    assert [(4, "Credits", '"some" is not a number')] == [(a.line, a.column, a.reason) for a in found.set_aside]
    assert found.changes is not None
    assert [(12, 14)] == [(each.before.credits, each.after.credits) for each in found.changes.dearer]
    assert 1 == len(list(book.catalogues()))


def test_a_file_is_read_by_a_saved_profile(service: Served) -> None:
    book = service.book()
    profile = CatalogueProfile(name="norvane", code="Nr", credits="Kosten", decimal=",", thousands=".")
    made = book.put_catalogue_profile(profile)

    found = book.propose_catalogue(b"Kosten;Nr\n1.012;1001\n", profile="norvane")

    assert [Item(code="1001", name="1001", credits=1_012)] == [*found.items]
    assert found.changes is None
    assert profile == book.catalogue_profile(name="norvane").value == found.profile
    assert '"2"' == book.put_catalogue_profile(profile, tag=made.tag).tag
    assert ["norvane"] == [each.name for each in book.catalogue_profiles()]
    with pytest.raises(Refused, match="Nr"):
        book.propose_catalogue(LIST.encode(), profile="norvane")
    with pytest.raises(Missing):
        book.propose_catalogue(LIST.encode(), profile="other")


def test_a_file_may_be_a_spreadsheet(listed: Served) -> None:
    rows = [[int(cell) if cell.isdigit() else cell for cell in line] for line in csv.reader(LIST.splitlines())]
    sheets: dict[str, Rows] = {"Terms": [("none",)], "Items": rows}

    text = listed.book().propose_catalogue(LIST.encode())
    for content in (xlsx(sheets), ods(sheets)):
        found = listed.book().propose_catalogue(content, sheet="Items")

        assert (text.items, text.columns, text.changes) == (found.items, found.columns, found.changes)
        assert ("Items", ("Terms",)) == (found.sheet, found.other_sheets)
    with pytest.raises(Refused, match="Extras"):
        listed.book().propose_catalogue(content, sheet="Extras")
    with pytest.raises(Refused, match="no spreadsheet"):
        listed.book().propose_catalogue(LIST.encode(), sheet="Items")


def put(served: Served, items: Any) -> httpx.Response:
    return served.send("PUT", "/catalogues/2026-11-01", {"items": items})


@pytest.mark.parametrize(
    ("items", "code"),
    [
        ([], "invalid-request"),
        ([{"code": "A", "name": "A", "credits": -1}], "invalid-request"),
        ([{"code": "A", "name": "A", "credits": "12"}], "invalid-request"),
        ([{"code": "A", "name": "A", "credits": 12.5}], "invalid-request"),
        ([{"code": "A\n", "name": "A", "credits": 12}], "invalid-request"),
        ([{"code": "A", "name": "A", "credits": 1, "price": "3.00"}], "invalid-request"),
        ([{"code": "A", "name": "A", "credits": 1}] * 2, "catalogue-unlawful"),
    ],
)
def test_what_is_no_catalogue_is_refused_whole(service: Served, items: Any, code: str) -> None:
    answer = put(service, items)

    assert (422, code) == (answer.status_code, answer.json()["code"])
    assert [] == list(service.book().catalogues())


def test_a_large_catalogue_comes_back_whole(service: Served) -> None:
    many = [Item(code=f"I-{at:04d}", name=f"Item {at}", credits=at) for at in range(5_000)]

    found = service.book().put_catalogue(many, valid_from=NOVEMBER).value

    assert many == [*found.items]
    assert 422 == put(service, [{"code": f"I-{at}", "name": "I", "credits": 1} for at in range(5_001)]).status_code


def test_only_a_keeper_changes_catalogues(listed: Served) -> None:
    for key in ("clerk", "reader"):
        with pytest.raises(NotAllowed):
            listed.book(key).put_catalogue(ITEMS, valid_from=NOVEMBER)
        with pytest.raises(NotAllowed):
            listed.book(key).propose_catalogue(LIST.encode())
    assert 1 == len(list(listed.book().catalogues()))
