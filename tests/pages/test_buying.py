"""Needs, ladders, the catalogue and order plans on the pages: read, entered, refused where they don't fit."""

from datetime import date
from decimal import Decimal

import httpx
import pytest
from pool_client.errors import Missing
from pool_client.models.buying import Tier
from pool_client.models.catalogue import Item
from pool_client.models.entries import Command, Purchase, Use
from pool_web.pages import plans

from tests.databases import SqliteTemplate
from tests.pages.browsing import Browser, filled_in
from tests.pages.conftest import signed_in
from tests.pages.test_months import row
from tests.served import FIRST_DAY, POOL, Served

BUYING = f"/book/{POOL}/buying"
NEED = f"{BUYING}/needs/ALDER/2026-12"
LADDERS, PLANS, CATALOGUE = f"{BUYING}/ladders", f"{BUYING}/plans", f"{BUYING}/catalogue"
TIERS = (Tier(from_credits=1, unit_price=Decimal("10.00")), Tier(from_credits=100, unit_price=Decimal("9.00")))


@pytest.fixture
def template(sqlite_template: SqliteTemplate) -> SqliteTemplate:
    """One database will do: pages know none."""
    return sqlite_template


@pytest.fixture
def used(service: Served) -> Served:
    """ALDER has used 20 in September, 30 in October, and holds 10."""
    service.book().record_all(
        [
            Command(
                body=Purchase(paid_by="ALDER", into="ALDER", quantity=60, amount=Decimal("420.00")),
                effective_on=FIRST_DAY,
            ),
            Command(body=Use(member="ALDER", item="CAL-M", job="A-1", quantity=20), effective_on=date(2026, 9, 10)),
            Command(body=Use(member="ALDER", item="CAL-M", job="A-1", quantity=30), effective_on=date(2026, 10, 10)),
        ]
    )
    return service


@pytest.fixture
def laddered(service: Served) -> Served:
    service.book().put_ladder(TIERS, valid_from=FIRST_DAY)
    return service


def test_days_of_cover_are_on_the_first_page_with_what_runs_short(used: Served, keeper: Browser) -> None:
    cover = next(each.cover for each in used.book().needs().members if each.member == "ALDER")
    assert cover
    keeper.go(f"/book/{POOL}")

    assert f"Lasts {cover.days} days short" in keeper.says


def test_a_need_is_stated_changed_and_left_to_the_forecast(used: Served, keeper: Browser) -> None:
    assert row(keeper.go(f"{BUYING}/needs"), "What each member has", "ALDER little history")[1] == "10"
    link = next(each for each in keeper.page.css("a.why") if "ALDER needs" in (each.attributes["aria-label"] or ""))
    assert (link.attributes["href"] or "").startswith(f"{BUYING}/needs/ALDER/")
    keeper.go(NEED).send({"quantity": "60", "reason": "a contract"}, button="state")

    assert "What you said counts now." in keeper.says
    assert 60 == used.book().need(member="ALDER", month="2026-12").value.quantity

    keeper.go(NEED).send({"quantity": "70"}, button="state")
    assert 70 == used.book().need(member="ALDER", month="2026-12").value.quantity

    keeper.go(NEED).send({}, button="withdraw")
    assert "The forecast counts again." in keeper.says
    with pytest.raises(Missing):
        used.book().need(member="ALDER", month="2026-12")


def test_a_need_that_somebody_changed_is_not_overwritten(used: Served, keeper: Browser) -> None:
    keeper.go(NEED)
    used.book().put_need(31, member="ALDER", month="2026-12", reason="a second bay")
    keeper.send({"quantity": "60", "reason": "a contract"}, button="state")

    assert 400 <= keeper.answer.status_code < 500
    assert 31 == used.book().need(member="ALDER", month="2026-12").value.quantity


@pytest.mark.parametrize("said", [{"quantity": "-1"}, {"quantity": "ten"}, {"reason": ""}])
def test_a_need_that_doesn_t_fit_is_told(used: Served, keeper: Browser, said: dict[str, str]) -> None:
    keeper.go(NEED).send({"quantity": "60", "reason": "a contract", **said}, button="state")

    assert 422 == keeper.answer.status_code
    with pytest.raises(Missing):
        used.book().need(member="ALDER", month="2026-12")


def test_a_month_that_is_over_is_refused(used: Served, keeper: Browser) -> None:
    keeper.go(f"{BUYING}/needs/ALDER/2026-09").send({"quantity": "60", "reason": "late"}, button="state")

    assert "Not recorded." in keeper.says
    with pytest.raises(Missing):
        used.book().need(member="ALDER", month="2026-09")


def test_a_clerk_states_its_own_needs_only(used: Served, pages: httpx.Client) -> None:
    clerk = signed_in(used, pages, "clerk")

    assert clerk.go(NEED).page.css("main form")
    assert not clerk.go(f"{BUYING}/needs/BIRCH/2026-12").page.css("main form")


def test_a_ladder_is_entered_and_changed(service: Served, keeper: Browser) -> None:
    keeper.go(f"{LADDERS}/new").send(
        {"valid_from": "2026-09-01", "from_1": "1", "price_1": "10.00", "from_2": "100", "price_2": "9.00"}
    )
    assert "The ladder is on file." in keeper.says
    assert TIERS == service.book().ladder(valid_from=FIRST_DAY).value.tiers

    keeper.go(f"{LADDERS}/{FIRST_DAY}/change")
    behind = keeper.answer
    keeper.send({"price_2": "8.50"})
    assert Decimal("8.50") == service.book().ladder(valid_from=FIRST_DAY).value.tiers[1].unit_price

    keeper.answer = behind
    keeper.send({"price_2": "1.00"})
    assert 412 == keeper.answer.status_code
    assert "Somebody has changed this ladder" in keeper.says


@pytest.mark.parametrize(
    ("said", "told"),
    [
        ({}, "At least one tier is needed."),
        ({"from_1": "1"}, "An amount such as"),
        ({"price_1": "1"}, "A whole number of credits"),
        ({"from_1": "1", "price_1": "9", "valid_from": ""}, "This is needed."),
        ({"from_1": "9", "price_1": "9", "from_2": "3", "price_2": "8"}, "Not recorded."),
    ],
)
def test_a_ladder_that_is_none_is_told(service: Served, keeper: Browser, said: dict[str, str], told: str) -> None:
    keeper.go(f"{LADDERS}/new").send(said)

    assert 400 <= keeper.answer.status_code < 500
    assert told in keeper.says
    assert [] == list(service.book().ladders())


def test_what_an_order_costs_and_which_larger_one_costs_less(laddered: Served, keeper: Browser) -> None:
    assert laddered.book().order_price(quantity=95).cheaper
    # 95 at 10.00 are 950.00, 100 at 9.00 are 900.00
    says = keeper.go(f"{LADDERS}?quantity=95").says

    assert "95 credits cost 950.00 EUR , 10.00 each." in says
    assert "5 more , 100 in all, cost 900.00: 50.00 less in total." in says


def test_the_catalogue_is_searched_and_compared(service: Served, keeper: Browser) -> None:
    assert "No catalogue is on file yet." in keeper.go(CATALOGUE).says
    for since, credits in ((FIRST_DAY, 12), (date(2026, 11, 1), 14)):
        items = (Item(code="CAL-S", name="Calibration", credits=credits), Item(code="UNL", name="Unlock", credits=5))
        service.book().put_catalogue(items, valid_from=since)

    assert ["CAL-S", "Calibration", "14"] == row(keeper.go(f"{CATALOGUE}?text=cal"), "What an item", "CAL-S")[:3]
    assert "Unlock" not in keeper.says
    assert ["CAL-S", "Calibration", "12", "14"] == row(keeper.go(f"{CATALOGUE}/2026-11-01/changes"), "Dearer", "CAL-S")
    assert 404 == keeper.go(f"{CATALOGUE}/soon/changes").answer.status_code


def test_a_plan_is_made_read_and_drawn(used: Served, laddered: Served, keeper: Browser) -> None:
    keeper.go(PLANS).send({"months": "6"}, form="#making")
    found = used.book().order_plan(plan_id=next(iter(laddered.book().order_plans())).plan_id)
    assert found.next_order
    assert f"{found.next_order.order.quantity} for" in keeper.says
    picture = keeper.one("main img")
    assert f"{found.next_order.order.quantity:,} in {found.next_order.month}" in (picture.attributes["alt"] or "")

    for source in (picture.attributes["src"], *(each.attributes["srcset"] for each in keeper.page.css("main source"))):
        drawn = keeper.http.get(source or "")
        assert "image/svg+xml" == drawn.headers["content-type"]
        assert "script" not in drawn.headers["content-security-policy"]
        assert b"<svg" in drawn.content


@pytest.mark.parametrize(
    ("said", "status"),
    [({"months": "37"}, 422), ({"months": ""}, 422), ({"holding_cost": "x"}, 422), ({"stock_cap": "1"}, 409)],
)
def test_a_plan_that_can_t_be_made_is_told(
    used: Served, laddered: Served, keeper: Browser, said: dict[str, str], status: int
) -> None:
    assert used is laddered
    keeper.go(PLANS).send({"months": "6", "opening": "0", **said}, form="#making")

    assert status == keeper.answer.status_code
    assert [] == list(used.book().order_plans())


def test_what_no_month_of_a_plan_needs_is_said_to_be_left_out(used: Served, laddered: Served, keeper: Browser) -> None:
    keeper.go(PLANS).send({"months": "2", "opening": "100,000"}, form="#making")
    found = used.book().order_plan(plan_id=next(iter(laddered.book().order_plans())).plan_id)

    assert 100_000 == found.unused + found.months[0].opening
    assert f"The book has {found.unused:,} credits more at hand" in keeper.says


def stated(browser: Browser) -> dict[str, str]:
    """Give the needs that a plan's form asks for."""
    return {name: text for name, text in filled_in(browser.one("#making")).items() if name.startswith("need_")}


def test_a_plan_is_made_for_needs_of_its_own(used: Served, laddered: Served, keeper: Browser) -> None:
    assert used is laddered
    used.book().put_need(80, member="BIRCH", month="2026-12", reason="a contract")
    keeper.go(PLANS).send({"months": "3", "order_cost": "7", "expiry": "6"}, form="#making", button="needs")
    known = {
        f"need_{of.member}_{each.month}": str(each.need)
        for of in used.book().needs(months=3).members
        for each in of.months
    }
    assert known == stated(keeper)
    assert "80" == known["need_BIRCH_2026-12"]

    keeper.send({"need_ALDER_2026-12": "90", "need_CEDAR_2027-01": "1,200"}, form="#making")
    found = used.book().order_plan(plan_id=next(iter(used.book().order_plans())).plan_id)
    wanted = {**known, "need_ALDER_2026-12": "90", "need_CEDAR_2027-01": "1200"}
    told = {
        f"need_{of.member}_{month}": str(credits)
        for of in found.needs
        for month, credits in zip(("2026-11", "2026-12", "2027-01"), of.credits, strict=True)
    }
    assert (wanted, None, Decimal(7), 6) == (told, found.forecast_at, found.order_cost, found.expiry)
    assert row(keeper, "Needs of this plan", "CEDAR")[3] == "1,200"
    # the pool's own needs stay as they are
    assert "80" == next(
        str(each.need)
        for of in used.book().needs(months=3).members
        for each in of.months
        if (of.member, each.month) == ("BIRCH", "2026-12")
    )


def test_months_that_come_in_addition_are_looked_at_first(used: Served, laddered: Served, keeper: Browser) -> None:
    assert used is laddered
    keeper.go(PLANS).send({"months": "2"}, form="#making", button="needs")
    keeper.send({"months": "3", "need_ALDER_2026-12": "90"}, form="#making")

    assert "Look at the needs of the months that came in addition." in keeper.says
    assert [] == list(used.book().order_plans())
    assert ("90", True) == (stated(keeper)["need_ALDER_2026-12"], "need_ALDER_2027-01" in stated(keeper))

    keeper.send({}, form="#making", button="forecast")
    assert {} == stated(keeper)
    keeper.send({}, form="#making")
    assert used.book().positions().number == next(iter(used.book().order_plans())).forecast_at


def test_needs_that_were_stated_stay_where_the_months_don_t_fit(
    used: Served, laddered: Served, keeper: Browser
) -> None:
    assert used is laddered
    keeper.go(PLANS).send({"months": "2"}, form="#making", button="needs")
    before = stated(keeper)
    keeper.send({"months": "37", "need_ALDER_2026-12": "90"}, form="#making")

    assert "At most 36." in keeper.says
    assert {**before, "need_ALDER_2026-12": "90"} == stated(keeper)


@pytest.mark.parametrize("said", ["", "-1", "some"])
def test_a_need_of_a_plan_that_is_none_is_told(used: Served, laddered: Served, keeper: Browser, said: str) -> None:
    assert used is laddered
    keeper.go(PLANS).send({"months": "2"}, form="#making", button="needs")
    keeper.send({"need_ALDER_2026-12": said}, form="#making")

    assert 422 == keeper.answer.status_code
    assert "A whole number of credits, from 0." == keeper.one("#need_ALDER_2026-12-wrong").text()
    assert [] == list(used.book().order_plans())


def test_more_needs_than_a_page_has_room_for_are_not_asked(
    used: Served, laddered: Served, keeper: Browser, monkeypatch: pytest.MonkeyPatch
) -> None:
    assert used is laddered
    monkeypatch.setattr(plans, "_MOST_FIGURES", 11)
    keeper.go(PLANS).send({"months": "3"}, form="#making", button="needs")

    assert 422 == keeper.answer.status_code
    assert "needs are stated for at most 2 months on a page" in keeper.says
    assert {} == stated(keeper)


@pytest.mark.parametrize("role", ["clerk", "reader"])
def test_others_than_keepers_read_all_of_buying(used: Served, laddered: Served, pages: httpx.Client, role: str) -> None:
    plan = used.book().plan_orders(3).plan_id
    browser = signed_in(laddered, pages, role)
    for path in (BUYING, f"{BUYING}/needs", LADDERS, CATALOGUE, PLANS, f"{PLANS}/{plan}"):
        assert 200 == browser.go(path).answer.status_code, path
        assert not browser.page.css("main form[method=post]"), path
