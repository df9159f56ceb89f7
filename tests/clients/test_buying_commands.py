"""Commands of buying: what they read of options and files before they ask, and the versions that they state."""

import json
from pathlib import Path
from typing import Any

import click
import httpx
import pytest
from pool_client.command import run
from pool_client.commands.files import read_needs
from pool_client.models.buying import Needs

from tests.clients.document import answered
from tests.clients.scripted import problem
from tests.clients.shop import SET, Shop
from tests.served import POOL, Served


def sent(shop: Shop) -> Any:
    return json.loads(shop.requests[-1].content)


class TestLadders:
    def test_one_that_is_there_is_replaced_by_its_tag(self, shop: Shop) -> None:
        shop.serve = answered

        assert 0 == shop.run("set-ladder", "2026-10-01", "--tier", "1=9.80", "--tier", "50=9.10", **SET)
        assert ["GET", "PUT"] == [request.method for request in shop.requests]
        assert "If-Match" in shop.requests[-1].headers
        assert {
            "tiers": [{"from_credits": 1, "unit_price": "9.80"}, {"from_credits": 50, "unit_price": "9.10"}]
        } == sent(shop)

    def test_one_that_is_not_there_is_made(self, shop: Shop) -> None:
        def without(request: httpx.Request) -> httpx.Response:
            return problem(404, "not-found") if request.method == "GET" else answered(request)

        shop.serve = without

        assert 0 == shop.run("set-ladder", "2026-10-01", "--tier", "1=9.80", **SET)
        assert "If-Match" not in shop.requests[-1].headers

    @pytest.mark.parametrize("tier", ["50", "50=", "=9.10", "50=9,10", "5x=9.10", "50=-1", "50=9.1234567"])
    def test_a_tier_is_credits_and_a_price(self, shop: Shop, tier: str) -> None:
        assert 2 == shop.run("set-ladder", "2026-10-01", "--tier", tier, **SET)
        assert f"{tier}: write CREDITS=PRICE" in shop.err
        assert [] == shop.requests


class TestLadderFiles:
    """Against the real service."""

    def test_one_whose_reading_is_doubted_is_entered_only_expressly(
        self, service: Served, tmp_path: Path, capsys: pytest.CaptureFixture[str]
    ) -> None:
        file = tmp_path / "prices.csv"
        file.write_text("Alpha,Beta\n1-49,9.80\n50+,9.10\n")
        environ = {
            "CREDIT_POOL_ADDRESS": service.address,
            "CREDIT_POOL_POOL": POOL,
            "CREDIT_POOL_KEY": service.keys["keeper"],
        }
        line = ("import-ladder", str(file), "--from", "2026-10-01")

        assert 1 == run(line, environ, service.http)
        told = capsys.readouterr()
        assert "Doubt: Alpha is taken for from_credits by its values alone." in told.out
        assert "Nothing is entered." in told.err
        assert [] == list(service.book().ladders())
        assert 0 == run((*line, "--despite-doubts"), environ, service.http)
        assert 0 == run((*line, "--credits-column", "Alpha", "--price-column", "Beta"), environ, service.http)
        (found,) = service.book().ladders()
        assert ([1, 50], 2) == ([each.from_credits for each in found.tiers], found.version)


class TestPlanning:
    def test_needs_are_given_one_by_one(self, shop: Shop) -> None:
        shop.serve = answered

        assert 0 == shop.run("plan-orders", "--need", "ALDER=30,40", "--need", "BIRCH=5,0", "--stock-cap", "90", **SET)
        assert [{"member": "ALDER", "credits": [30, 40]}, {"member": "BIRCH", "credits": [5, 0]}] == sent(shop)["needs"]
        assert 90 == sent(shop)["stock_cap"]
        assert not {"first_month", "opening", "expiry", "cash_limit"} & sent(shop).keys()

    def test_or_in_a_file_that_names_the_months(self, shop: Shop, tmp_path: Path) -> None:
        shop.serve = answered
        file = tmp_path / "needs.csv"
        file.write_text("member;2026-12;2027-01\nALDER;30;40\n")

        assert 0 == shop.run("plan-orders", "--needs", str(file), **SET)
        assert ("2026-12", [{"member": "ALDER", "credits": [30, 40]}]) == (
            sent(shop)["first_month"],
            sent(shop)["needs"],
        )

    @pytest.mark.parametrize("need", ["ALDER", "ALDER=", "ALDER=1,,2", "ALDER=1.5", "ALDER=-1"])
    def test_a_need_is_credits_by_month(self, shop: Shop, need: str) -> None:
        assert 2 == shop.run("plan-orders", "--need", need, **SET)
        assert f"{need}: write MEMBER=CREDITS" in shop.err
        assert [] == shop.requests

    def test_either_one_by_one_or_a_file(self, shop: Shop) -> None:
        assert 2 == shop.run("plan-orders", "--need", "ALDER=1", "--needs", __file__, **SET)
        assert "give either --need for each member, or a file with --needs" in shop.err

    def test_without_any_they_are_forecast(self, shop: Shop) -> None:
        shop.serve = answered

        assert 0 == shop.run("plan-orders", "--months", "6", **SET)
        assert (6, True) == (sent(shop)["months"], "needs" not in sent(shop))
        assert 2 == shop.run("plan-orders", "--months", "6", "--need", "ALDER=1", **SET)
        assert "--months is for forecast needs" in shop.err


class TestNeedsInFiles:
    @staticmethod
    def read(tmp_path: Path, content: bytes) -> tuple[str, list[Needs]]:
        file = tmp_path / "needs.csv"
        file.write_bytes(content)
        return read_needs(file)

    def test_months_may_go_into_the_next_year(self, tmp_path: Path) -> None:
        content = b"\xef\xbb\xbfmember,2026-11,2026-12,2027-01\r\nALDER,1,2,3\r\nBIRCH,4, 5,6\r\n"

        assert (
            "2026-11",
            [Needs(member="ALDER", credits=(1, 2, 3)), Needs(member="BIRCH", credits=(4, 5, 6))],
        ) == self.read(tmp_path, content)

    @pytest.mark.parametrize(
        ("content", "said"),
        [
            (b"", "has no needs"),
            (b"member,2026-12\n", "has no needs"),
            (b"shop,2026-12\nALDER,1\n", "line 2: the head must be member and months in order"),
            (b"member\nALDER\n", "line 2: the head must be"),
            (b"member,2026-12,2027-02\nALDER,1,2\n", "line 2: the head must be"),
            (b"member,December\nALDER,1\n", "line 2: the head must be"),
            (b"member,2026-12\nALDER,1,2\n", "line 2: the head must be"),
            (b"member,2026-12\nALDER,1\nBIRCH\n", "line 3: a need is no number of credits"),
            (b"member,2026-12\nALDER,1.5\n", "line 2: a need is no number of credits"),
            (b"member,2026-12\nALDER,\xff\n", "isn't text in UTF-8"),
            (b'member,2026-12\n"ALDER"x,1\n', "line 2: "),
        ],
    )
    def test_what_is_wrong_is_said_with_its_line(self, tmp_path: Path, content: bytes, said: str) -> None:
        with pytest.raises(click.UsageError, match=said):
            self.read(tmp_path, content)
