"""Price ladders and catalogues from the vendor's files on the pages: looked at, put right, entered once as shown."""

from datetime import date
from decimal import Decimal

import httpx
import pytest
from pool_client.errors import Missing
from pool_client.models.buying import Tier
from pool_client.models.catalogue import Item
from pool_web import carried

from tests.databases import SqliteTemplate
from tests.intake.made import xlsx
from tests.pages.browsing import Browser, filled_in
from tests.pages.conftest import signed_in
from tests.pages.test_months import row
from tests.served import FIRST_DAY, POOL, Served

BUYING = f"/book/{POOL}/buying"
LADDERS, CATALOGUE = f"{BUYING}/ladders", f"{BUYING}/catalogue"
LIST = b"Valid from;Credits from;Unit price\n01.12.2026;1;9,80\n01.12.2026;50;9,10\n01.12.2026;500;6,90\n"
DECEMBER = date(2026, 12, 1)
TIERS = tuple(
    Tier(from_credits=quantity, unit_price=Decimal(price))
    for quantity, price in ((1, "9.80"), (50, "9.10"), (500, "6.90"))
)
ITEMS = b"Item no;Description;Credits;Class;Sold per\nCAL-S;Calibration;12;car;job\nUNL;Unlock;5;van;job\n"


@pytest.fixture
def template(sqlite_template: SqliteTemplate) -> SqliteTemplate:
    """One database will do: pages know none."""
    return sqlite_template


def look(browser: Browser, path: str, content: bytes | None, **fields: str) -> Browser:
    return browser.go(f"{path}/file").send_file(content, fields, button="look")


def enter(browser: Browser, **fields: str) -> Browser:
    return browser.send_file(None, fields, button="enter")


def meant(browser: Browser) -> list[str]:
    """Give what each column is said to say."""
    filled = filled_in(browser.one("main form"))
    return [filled[f"means_{at}"] for at in range(len(filled)) if f"means_{at}" in filled]


def ladders_of(service: Served) -> list[tuple[date, int]]:
    return [(each.valid_from, each.version) for each in service.book().ladders()]


# --- ladders ---------------------------------------------------------------------------------------------------------


def test_a_ladder_is_looked_at_beside_the_one_before_and_entered(service: Served, keeper: Browser) -> None:
    before = (Tier(from_credits=1, unit_price=Decimal("9.80")), Tier(from_credits=100, unit_price=Decimal("8.50")))
    service.book().put_ladder(before, valid_from=FIRST_DAY)
    look(keeper, LADDERS, LIST)

    assert 200 == keeper.answer.status_code, keeper.says
    assert ["valid_from", "from_credits", "unit_price"] == meant(keeper)
    # an order of 50 cost 9.80 each until then, one of 100 costs what one of 50 does
    assert ["50", "9.10", "9.80"] == row(keeper, "From 1 Dec 2026", "50")
    assert ["100", "9.10", "8.50"] == row(keeper, "From 1 Dec 2026", "100")
    assert ["500", "6.90", "8.50"] == row(keeper, "From 1 Dec 2026", "500")
    assert ["From 1 Dec 2026", "First rows"] == [each.attributes["aria-label"] for each in keeper.page.css(".wide")]
    assert "Until then the ladder from 1 Sep 2026 counts." in keeper.says
    assert [(FIRST_DAY, 1)] == ladders_of(service)

    enter(keeper)

    assert "The ladder is on file." in keeper.says
    assert TIERS == service.book().ladder(valid_from=DECEMBER).value.tiers


def test_sent_twice_a_ladder_is_entered_once(service: Served, keeper: Browser) -> None:
    look(keeper, LADDERS, LIST)
    shown = keeper.answer
    enter(keeper)
    keeper.answer = shown
    enter(keeper)

    assert "The ladder is on file." in keeper.says
    assert [(DECEMBER, 1)] == ladders_of(service)

    look(keeper, LADDERS, LIST)
    assert "The ladder from 1 Dec 2026 is on file, just so." in keeper.says
    assert not keeper.page.css('button[value="enter"]')


def test_a_spreadsheet_without_days_takes_the_day_that_is_said(service: Served, keeper: Browser) -> None:
    sheet = xlsx({"Notes": [("nothing",)], "Prices": [("Qty", "Price"), (1, 9.8), (50, 9.1), (500, 6.9)]})
    look(keeper, LADDERS, sheet, valid_from="2026-12-01", sheet="Prices")
    assert "A spreadsheet (xlsx), sheet Prices. It has other sheets: Notes." in keeper.says

    enter(keeper)

    assert TIERS == service.book().ladder(valid_from=DECEMBER).value.tiers


def test_columns_that_were_taken_wrongly_are_put_right(service: Served, keeper: Browser) -> None:
    # the list's gross price is the more telling word
    text = b"Valid from,Order size,Price,Pool price\n2026-12-01,1,11.76,9.80\n2026-12-01,50,10.92,9.10\n"
    look(keeper, LADDERS, text)
    assert ["valid_from", "from_credits", "unit_price", ""] == meant(keeper)

    keeper.send_file(None, {"means_2": "", "means_3": "unit_price"}, button="look")
    assert ["valid_from", "from_credits", "", "unit_price"] == meant(keeper)
    assert ["1", "9.80", "–"] == row(keeper, "From 1 Dec 2026", "1")

    enter(keeper)
    assert TIERS[:2] == service.book().ladder(valid_from=DECEMBER).value.tiers


def test_what_was_not_looked_at_is_not_entered(service: Served, keeper: Browser) -> None:
    text = LIST.replace(b"price\n", b"price;List\n").replace(b"0\n", b"0;20,00\n")
    look(keeper, LADDERS, text)
    enter(keeper, means_2="", means_3="unit_price")

    assert 409 == keeper.answer.status_code
    assert "This is not what you saw before, so nothing was entered." in keeper.says
    assert [] == ladders_of(service)
    # now it has been looked at
    enter(keeper)
    assert Decimal("20.00") == service.book().ladder(valid_from=DECEMBER).value.tiers[0].unit_price


def test_a_ladder_that_somebody_changed_meanwhile_is_looked_at_again(service: Served, keeper: Browser) -> None:
    service.book().put_ladder(TIERS[:2], valid_from=DECEMBER)
    look(keeper, LADDERS, LIST)
    assert "It replaces the ladder that is on file from that day" in keeper.says
    there = service.book().ladder(valid_from=DECEMBER)
    service.book().put_ladder(TIERS[:1], valid_from=DECEMBER, tag=there.tag)
    enter(keeper)

    assert 409 == keeper.answer.status_code
    assert [(DECEMBER, 2)] == ladders_of(service)
    enter(keeper)
    assert [(DECEMBER, 3)] == ladders_of(service)


def test_doubts_are_told_and_need_a_word(service: Served, keeper: Browser) -> None:
    text = b"Valid from,Size,Price\n2026-12-01,1-49,9.80\n2026-12-01,51-99,9.10\n"
    look(keeper, LADDERS, text)
    assert "Line 2 ends at 49, and the next tier begins at 51." in keeper.says

    enter(keeper)
    assert 422 == keeper.answer.status_code
    assert "Tick this, or put right what is doubtful." in keeper.says
    assert [] == ladders_of(service)

    enter(keeper, despite_doubts="yes")
    assert [(DECEMBER, 1)] == ladders_of(service)


@pytest.mark.parametrize(
    ("content", "words"),
    [
        (b"When,Size,Price\nsoon,1,9.80\n", "When"),
        (b"Valid from,Size,Price\n2026-12-01,1,9.80\n2026-12-01,many,9.10\n", "line 3"),
        (b"Size,Price\n1,9.80\n", "valid_from"),
        (b"Valid from,Size,Price\n2026-12-01,9,9.80\n2026-12-01,3,9.10\n", "Not recorded."),
    ],
)
def test_a_price_list_that_is_none_is_told_with_its_columns(
    service: Served, keeper: Browser, content: bytes, words: str
) -> None:
    look(keeper, LADDERS, content)

    assert keeper.answer.status_code in {409, 422}
    assert words in keeper.says
    assert "What each column says" in keeper.says
    assert not keeper.page.css('button[value="enter"]')
    assert [] == ladders_of(service)


def test_two_columns_can_t_say_the_same(keeper: Browser) -> None:
    look(keeper, LADDERS, LIST).send_file(None, {"means_0": "unit_price"}, button="look")

    assert 422 == keeper.answer.status_code
    assert "Valid from says that already." in keeper.says


# --- catalogues ------------------------------------------------------------------------------------------------------


def test_a_catalogue_is_looked_at_with_what_changes_and_entered(service: Served, keeper: Browser) -> None:
    service.book().put_catalogue(
        (Item(code="CAL-S", name="Calibration", credits=10), Item(code="OLD", name="Old", credits=2)),
        valid_from=FIRST_DAY,
    )
    look(keeper, CATALOGUE, ITEMS, valid_from="2026-12-01")

    assert 200 == keeper.answer.status_code, keeper.says
    assert ["code", "title", "credits", "vehicle_class", ""] == meant(keeper)
    assert "2 items from 1 Dec 2026 on." in keeper.says
    assert ["CAL-S", "Calibration", "10", "12"] == row(keeper, "Dearer", "CAL-S")
    assert ["UNL", "Unlock", "5"] == row(keeper, "New", "UNL")
    assert ["OLD", "Old", "2"] == row(keeper, "No longer sold", "OLD")
    assert [FIRST_DAY] == [each.valid_from for each in service.book().catalogues()]

    enter(keeper)

    assert "The catalogue is on file." in keeper.says
    found = service.book().catalogue(valid_from=DECEMBER).value
    assert [("CAL-S", 12, "car"), ("UNL", 5, "van")] == [
        (each.code, each.credits, each.vehicle_class) for each in found.items
    ]


def test_sent_twice_a_catalogue_is_entered_once(service: Served, keeper: Browser) -> None:
    look(keeper, CATALOGUE, ITEMS, valid_from="2026-12-01")
    shown = keeper.answer
    enter(keeper)
    keeper.answer = shown
    enter(keeper)

    assert "The catalogue is on file." in keeper.says
    assert 1 == service.book().catalogue(valid_from=DECEMBER).value.version
    assert ["catalogue"] == [each.name for each in service.book().catalogue_profiles()]

    look(keeper, CATALOGUE, ITEMS, valid_from="2026-12-01")
    assert "All of it is on file already" in keeper.says


def test_a_layout_that_was_put_right_is_kept_for_later_files(service: Served, keeper: Browser) -> None:
    look(keeper, CATALOGUE, ITEMS, valid_from="2026-12-01")
    keeper.send_file(None, {"means_3": "family", "name": "norvane"}, button="look")
    assert ["code", "title", "credits", "family", ""] == meant(keeper)

    enter(keeper)
    assert ["car", "van"] == [each.family for each in service.book().catalogue(valid_from=DECEMBER).value.items]

    look(keeper, CATALOGUE, ITEMS + b"NEW;Newer;7;bus;job\n", valid_from="2027-01-01")
    assert ["code", "title", "credits", "family", ""] == meant(keeper)
    assert ["NEW", "Newer", "7"] == row(keeper, "New", "NEW")

    look(keeper, CATALOGUE, ITEMS.replace(b"Class", b"Kind"), valid_from="2027-01-01")
    assert "So its columns are guessed anew." in keeper.says


def test_rows_that_are_not_read_need_a_word(service: Served, keeper: Browser) -> None:
    look(keeper, CATALOGUE, ITEMS + b"ODD;Odd;many;car;job\n", valid_from="2026-12-01")
    assert "1 row can't be read." in keeper.says
    assert "4" == row(keeper, "Not read", "4")[0]

    enter(keeper)
    assert 422 == keeper.answer.status_code
    assert [] == list(service.book().catalogues())

    enter(keeper, leave_out="yes")
    assert 2 == len(service.book().catalogue(valid_from=DECEMBER).value.items)


def test_a_catalogue_that_was_not_looked_at_is_not_entered(service: Served, keeper: Browser) -> None:
    look(keeper, CATALOGUE, ITEMS, valid_from="2026-12-01")
    shown = keeper.answer
    enter(keeper, means_3="family")
    assert 409 == keeper.answer.status_code
    assert [] == list(service.book().catalogues())

    keeper.answer = shown
    service.book().put_catalogue((Item(code="X", name="X", credits=1),), valid_from=DECEMBER)
    enter(keeper)
    assert "This is not what you saw before" in keeper.says
    assert 1 == service.book().catalogue(valid_from=DECEMBER).value.version


@pytest.mark.parametrize(
    ("changes", "words"),
    [
        ({"means_0": ""}, "One of the columns has to say the item's code"),
        ({"means_1": "credits"}, "Description says that already."),
        ({"name": "Norvane!"}, "Up to 40 small letters"),
        ({"means_0": "colour"}, "colour is not one of the choices."),
        ({"thousands": "."}, "Not recorded."),
        ({"means_2": "", "means_3": "credits"}, "No item can be read like this."),
    ],
)
def test_a_catalogue_s_columns_are_checked(
    service: Served, keeper: Browser, changes: dict[str, str], words: str
) -> None:
    look(keeper, CATALOGUE, ITEMS, valid_from="2026-12-01").send_file(None, changes, button="enter")

    assert keeper.answer.status_code in {409, 422}
    assert words in keeper.says
    assert ITEMS.splitlines()[0].decode().split(";")[0] in keeper.says
    assert [] == list(service.book().catalogues())


# --- both ------------------------------------------------------------------------------------------------------------


@pytest.mark.parametrize("path", [LADDERS, CATALOGUE])
@pytest.mark.parametrize(
    ("content", "changes", "words"),
    [
        (b"", {}, "it is empty"),
        (b"\x89PNG\r\n\x1a\n" + bytes(40), {}, "line 1"),
        (None, {}, "Choose a file."),
        (LIST, {"valid_from": "soon"}, "A day, written as"),
        (LIST, {"sheet": "none"}, "Not recorded."),
    ],
)
def test_what_is_no_file_is_refused(
    keeper: Browser, path: str, content: bytes | None, changes: dict[str, str], words: str
) -> None:
    look(keeper, path, content, **{"valid_from": "2026-12-01", **changes})

    assert keeper.answer.status_code in {409, 413, 422}
    assert words in keeper.says


@pytest.mark.parametrize(("path", "content"), [(LADDERS, LIST), (CATALOGUE, ITEMS)])
def test_a_file_too_large_to_be_carried_is_chosen_again(
    service: Served, keeper: Browser, monkeypatch: pytest.MonkeyPatch, path: str, content: bytes
) -> None:
    monkeypatch.setattr(carried, "MOST_CARRIED", 10)
    look(keeper, path, content, valid_from="2026-12-01")
    shown = keeper.answer
    assert "The same file again" in keeper.says

    assert "Choose the file again" in enter(keeper).says
    keeper.answer = shown
    keeper.send_file(content.replace(b";5", b";6"), {}, button="enter")
    assert "This is another file than the one that you looked at" in keeper.says
    with pytest.raises(Missing):
        service.book().ladder(valid_from=DECEMBER)
    assert [] == list(service.book().catalogues())

    keeper.answer = shown
    keeper.send_file(content, {}, button="enter")
    assert "is on file." in keeper.says


@pytest.mark.parametrize("role", ["clerk", "reader"])
@pytest.mark.parametrize(("path", "content"), [(LADDERS, LIST), (CATALOGUE, ITEMS)])
def test_others_than_keepers_bring_in_nothing(
    service: Served, pages: httpx.Client, role: str, path: str, content: bytes
) -> None:
    browser = signed_in(service, pages, role)
    assert "Bring in a file" not in browser.go(path).says
    look(browser, path, content, valid_from="2026-12-01")

    assert 403 == browser.answer.status_code
