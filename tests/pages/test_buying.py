"""Buying on the pages: what an order costs, and a joint order from its opening to its purchase."""

from datetime import date
from decimal import Decimal

import pytest
from pool_client.models.buying import Tier

from tests.databases import SqliteTemplate
from tests.pages.browsing import Browser
from tests.served import POOL, Served

BUYING = f"/book/{POOL}/buying"


@pytest.fixture
def template(sqlite_template: SqliteTemplate) -> SqliteTemplate:
    """One database will do: pages know none."""
    return sqlite_template


@pytest.fixture
def priced(service: Served, keeper: Browser) -> Browser:
    tiers = [Tier(from_credits=1, unit_price=Decimal("9.80")), Tier(from_credits=50, unit_price=Decimal("9.10"))]
    service.book().put_ladder(tiers, valid_from=date(2026, 9, 1))
    return keeper


def test_what_an_order_costs_and_which_larger_one_costs_less(priced: Browser) -> None:
    priced.go(f"{BUYING}?quantity=49")

    # 49 at 9.80 are 480.20; 50 at 9.10 are 455.00
    assert "49 credits cost 480.20 , 9.80 each." in priced.says
    assert "1 more, 50 in all, cost 25.20 less : 455.00." in priced.says


def test_a_joint_order_is_opened_committed_to_and_bought(service: Served, priced: Browser) -> None:
    priced.go(BUYING).send({"deadline": "2026-11-20T12:00", "note": "before winter"}, form="#opening")
    priced.send({"member": "ALDER", "quantity": "30"}, form="#committing")
    priced.send({"member": "BIRCH", "quantity": "many"}, form="#committing")
    assert 422 == priced.answer.status_code
    priced.send({"member": "BIRCH", "quantity": "20"}, form="#committing")
    priced.send({"member": "BIRCH", "quantity": "30"}, form="#committing")

    assert "60 credits committed" in priced.says
    assert "They cost 546.00 , 9.10 each." in priced.says

    priced.send({"paid_by": "CEDAR", "quantity": ""}, form="#closing")
    assert "Not recorded." in priced.says
    priced.send({"paid_by": "CEDAR", "quantity": "", "accept_unanswered": "yes"}, form="#closing")

    assert "Bought by CEDAR: 60 for 546.00" in priced.says
    held = {each.member: each.held for each in service.book().positions().members}
    assert (30, 30) == (held["ALDER"], held["BIRCH"])
