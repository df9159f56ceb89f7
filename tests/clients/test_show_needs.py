"""What people are shown of coming needs, and what the commands about them ask."""

import json
from dataclasses import replace
from datetime import date

import httpx
import pytest
from pool_client import show_needs
from pool_client.calls import needs

from tests.clients.document import answered
from tests.clients.scripted import problem
from tests.clients.shop import SET, Shop
from tests.clients.test_show_buying import given, lines

FOUND = given(needs.needs("riverside"))
MEMBER = FOUND.members[0]
SHORT = replace(FOUND.pool, short=True, runs_dry_on=date(2026, 11, 14), at_hand=1_234)
LONG = replace(FOUND.pool, short=False, runs_dry_on=None, days=418)


def test_a_need_that_was_stated_has_a_mark_and_its_reason() -> None:
    month = MEMBER.months[0]
    stated = replace(month, need=60, stated=replace(month.stated, reason="fleet contract"))
    one = replace(FOUND, members=(replace(MEMBER, months=(stated,)),))
    other = replace(FOUND, members=(replace(MEMBER, months=(replace(month, stated=None),)),))

    assert "60*" in lines(show_needs.needs(one))
    assert f"{MEMBER.member} {month.month}: fleet contract" in lines(show_needs.needs(one))
    assert "stated by hand" not in lines(show_needs.needs(other))
    assert "all" not in lines(show_needs.needs(other)[:1]).split()


def test_sums_stand_below_several_members() -> None:
    assert "all" in lines(show_needs.needs(replace(FOUND, members=(MEMBER, MEMBER)))[:1]).split()


def test_who_runs_short_is_warned() -> None:
    warned = replace(FOUND, members=(replace(MEMBER, cover=SHORT),), pool=SHORT, stock=LONG)

    assert [
        f"{MEMBER.member} may run dry on 2026-11-14: 1,234 credits at hand",
        "the pool as a whole may run dry on 2026-11-14: 1,234 credits at hand",
    ] == list(show_needs.warnings(warned))
    assert "runs short" in lines(show_needs.needs(warned))
    assert "over 418" in lines(show_needs.needs(warned))
    calm = replace(FOUND, members=(replace(MEMBER, cover=None), replace(MEMBER, cover=LONG)), pool=LONG, stock=LONG)
    assert [] == list(show_needs.warnings(calm))
    assert "runs short" not in lines(show_needs.needs(calm))


@pytest.mark.parametrize(
    ("doubt", "word"),
    [("no_history", "nothing is forecast"), ("mean_did_better", "the mean"), ("a_new_one", "a_new_one")],
)
def test_doubts_are_told_in_words(doubt: str, word: str) -> None:
    told = lines(show_needs.needs(replace(FOUND, members=(replace(MEMBER, doubts=(doubt,), accuracy=None),))))

    assert f"{MEMBER.member}: " in told
    assert word in told


def test_a_version_that_withdrew_has_no_credits() -> None:
    (version,) = given(needs.need_versions("riverside", member="ALDER", month="2026-12")).items

    assert "–" in lines(show_needs.versions([replace(version, quantity=None, reason="")]))


class TestCommands:
    def test_a_need_that_is_there_is_replaced_by_its_tag(self, shop: Shop) -> None:
        shop.serve = answered

        assert 0 == shop.run("need", "ALDER", "2026-12", "60", "--reason", "fleet contract", **SET)
        assert ["GET", "PUT"] == [request.method for request in shop.requests]
        assert "If-Match" in shop.requests[-1].headers
        assert {"quantity": 60, "reason": "fleet contract"} == json.loads(shop.requests[-1].content)

    def test_one_that_is_not_there_is_made(self, shop: Shop) -> None:
        def without(request: httpx.Request) -> httpx.Response:
            return problem(404, "not-found") if request.method == "GET" else answered(request)

        shop.serve = without

        assert 0 == shop.run("need", "ALDER", "2026-12", "0", "--reason", "closed", **SET)
        assert "If-Match" not in shop.requests[-1].headers

    def test_positions_of_now_warn_and_others_do_not_ask(self, shop: Shop) -> None:
        shop.serve = answered

        assert 0 == shop.run("positions", **SET)
        assert ["/v1/pools/riverside/positions", "/v1/pools/riverside/needs"] == [
            request.url.path for request in shop.requests
        ]
        for more in (["--json"], ["--as-of", "2026-10-31"]):
            shop.requests.clear()
            assert 0 == shop.run("positions", *more, **SET)
            assert 1 == len(shop.requests)
