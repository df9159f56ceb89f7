"""What a credit cost, on the pages: on the worked example of the design, beside a ladder, in a table and drawn."""

import re
from dataclasses import replace
from decimal import Decimal
from typing import Any
from xml.etree import ElementTree as ET

import httpx
import pytest
from matplotlib import rc_context
from pool_client.models.buying import Tier
from pool_web.plots import MOST_KEPT, SCHEMES, WIDTHS, Costs, Line, Look, Plan, costs_svg, plan_svg

from pool_api.reports.plots import _LOOK
from tests.databases import SqliteTemplate
from tests.pages.browsing import Browser
from tests.pages.conftest import signed_in
from tests.pages.test_months import row
from tests.rest.test_worked_example import record_example
from tests.served import FIRST_DAY, POOL, Served

COST = f"/book/{POOL}/cost"


def plain(shown: str) -> Decimal:
    """Read an amount as a page shows it, with its thousands apart."""
    return Decimal(shown.replace(",", ""))


@pytest.fixture
def template(sqlite_template: SqliteTemplate) -> SqliteTemplate:
    """One database will do: pages know none."""
    return sqlite_template


@pytest.fixture
def example(service: Served) -> Served:
    """The worked example, with a ladder."""
    record_example(service)
    steps = ((1, "10.00"), (500, "6.90"))
    service.book().put_ladder(
        [Tier(from_credits=quantity, unit_price=Decimal(price)) for quantity, price in steps], valid_from=FIRST_DAY
    )
    return service


@pytest.mark.usefixtures("example")
def test_costs_stand_beside_the_ladder_and_open_their_reasons(keeper: Browser) -> None:
    keeper.go(COST)

    # DESIGN's worked example
    assert "7.4591" == row(keeper, "Blended unit cost", "DOGWOOD")[1]
    assert ["7.0667", "6.90", "10.00"] == [
        row(keeper, "Blended unit cost", name)[1]
        for name in ("Pool price", "Cheapest of the ladder", "Dearest of the ladder")
    ]
    why = next(each.attributes["href"] or "" for each in keeper.page.css("a.why"))
    assert 200 == keeper.go(why).answer.status_code


@pytest.mark.usefixtures("example")
def test_the_plot_has_words_for_who_can_t_see_it(keeper: Browser) -> None:
    words = keeper.go(COST).one("main img").attributes["alt"] or ""

    assert "to 7.4591 (DOGWOOD)" in words
    assert "The ladder goes from 6.90 to 10.00." in words


def test_margins_and_savings_are_told(example: Served, keeper: Browser) -> None:
    earned = example.book().earnings(from_month="2026-09", to_month="2026-11").total
    saved = example.book().savings(from_month="2026-09", to_month="2026-11").total
    keeper.go(COST)

    saving, margin = row(keeper, "Beside one order", "All")[4], row(keeper, "Uses by item", "All")[5]
    assert (saved.saving, earned.margin) == (plain(saving), plain(margin))
    assert "ALDER" == row(keeper.go(f"{COST}?by=member&from=2026-09&to=2026-09"), "Uses by member", "ALDER")[0]


@pytest.mark.usefixtures("example")
@pytest.mark.parametrize("query", ["from=x", "from=2026-12", "to=2026-13", "from=2026-11&to=2026-09"])
def test_months_that_are_none_are_told_on_the_page(keeper: Browser, query: str) -> None:
    answer = keeper.go(f"{COST}?{query}").answer

    assert 200 == answer.status_code
    assert keeper.page.css("main [role=alert]")


def test_a_clerk_sees_its_own_costs_and_a_reader_all(example: Served, pages: httpx.Client) -> None:
    for role, count in (("clerk", 1), ("reader", 4)):
        browser = signed_in(example, pages, role).go(COST)
        names = {each.text().strip() for each in browser.page.css("table")[0].css("tbody th")}
        assert count == len(names & {"ALDER", "BIRCH", "CEDAR", "DOGWOOD"}), role
        assert 200 == browser.http.get(f"{COST}/plot.svg?scheme=dark").status_code


@pytest.mark.parametrize("role", ["keeper", "clerk", "reader"])
def test_nothing_bought_yet_is_no_mistake(service: Served, pages: httpx.Client, role: str) -> None:
    browser = signed_in(service, pages, role)

    assert 200 == browser.go(COST).answer.status_code
    assert "No credits were used on jobs then." in browser.says
    assert 200 == browser.http.get(f"{COST}/plot.svg").status_code


def costs(price: str = "7.2") -> Costs:
    """Give costs of three members over a year, with a price of the pool."""
    months = tuple(f"2026-{number:02}" for number in range(1, 13))

    def line(name: str, value: str) -> Line:
        return Line(name=name, values=(Decimal(value),) * 12)

    return Costs(
        months=months,
        unit="EUR a credit",
        lines=(line("ALDER", "7.1"), line("BIRCH", "7.2"), line("CEDAR", "7.3")),
        pool=line("pool price", price),
        cheapest=line("cheapest", "6.9"),
        dearest=line("dearest", "10"),
    )


PLAN = Plan(months=("2026-11", "2026-12"), need=(20, 30), ordered=(60, 0), closing=(40, 10))


@pytest.mark.parametrize("scheme", SCHEMES)
@pytest.mark.parametrize("width", WIDTHS)
def test_lines_are_told_apart_by_strokes_too(scheme: str, width: str) -> None:
    drawn = costs_svg(costs(), Look(scheme=scheme, width=width))
    styles = [each.get("style") or "" for each in ET.fromstring(drawn).iter()]  # noqa: S314 - our own

    strokes = {each.partition("stroke-dasharray:")[2].split(";")[0] for each in styles} - {""}
    assert 2 <= len(strokes)  # and one line is solid
    assert b"<pattern" in drawn


def test_the_same_figures_are_drawn_once_and_others_anew() -> None:
    look = Look(scheme="light", width="wide")
    first = costs_svg(costs("8.1"), look)

    assert first is costs_svg(costs("8.1"), look)
    assert first != costs_svg(costs("8.2"), look)
    assert first != costs_svg(costs("8.1"), replace(look, scheme="dark"))
    assert first != costs_svg(costs("8.1"), replace(look, width="narrow"))


def test_so_many_drawings_are_kept_and_no_more() -> None:
    assert {MOST_KEPT} == {each.cache_info().maxsize for each in (costs_svg, plan_svg)}


@pytest.mark.parametrize("width", WIDTHS)
def test_a_drawing_is_the_same_while_the_report_has_settings_of_its_own(width: str) -> None:
    look, salt = Look(scheme="light", width=width), dict[Any, Any]({"svg.hashsalt": "the same names inside"})
    with rc_context(salt):
        usual = costs_svg.__wrapped__(costs(), look), plan_svg.__wrapped__(PLAN, look)
    with rc_context({**_LOOK, **salt}):
        beside = costs_svg.__wrapped__(costs(), look), plan_svg.__wrapped__(PLAN, look)

    assert usual == beside


@pytest.mark.parametrize("width", WIDTHS)
@pytest.mark.parametrize("most", [60, 60_000_000])
def test_words_stand_inside_the_drawing(width: str, most: int) -> None:
    plan, look = replace(PLAN, ordered=(most, 0)), Look(scheme="light", width=width)
    across, down = (72 * inches for inches in WIDTHS[width])
    for drawn in (plan_svg(plan, look), costs_svg(costs(), look)):
        found = [(float(x), float(y)) for x, y in re.findall(rb'<g [^>]*transform="translate\((\S+) (\S+)\)', drawn)]

        assert 10 < len(found)
        assert all(0 < x < across and 0 < y < down for x, y in found)
