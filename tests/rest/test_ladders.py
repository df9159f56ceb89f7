"""Price ladders through the client: entered, changed, withdrawn, imported; what orders cost; purchases beside them.

Own cases; amounts worked by hand."""

from datetime import date
from decimal import Decimal

import pytest
from pool_client.errors import Missing, NotAllowed, Refused, Stale
from pool_client.models.buying import Tier
from pool_client.models.entries import Purchase, Reversal

from tests.intake.made import ods, xlsx
from tests.served import Served

FIRST, SECOND = date(2026, 9, 1), date(2026, 10, 15)
TIERS = (("1", "9.80"), ("50", "9.10"), ("100", "8.40"), ("250", "7.60"), ("500", "6.90"))


def d(amount: str) -> Decimal:
    return Decimal(amount)


def tiers(*stated: tuple[str, str]) -> tuple[Tier, ...]:
    return tuple(Tier(from_credits=int(quantity), unit_price=d(price)) for quantity, price in stated)


@pytest.fixture
def laddered(service: Served) -> Served:
    """A pool with one ladder."""
    service.book().put_ladder(tiers(*TIERS), valid_from=FIRST)
    return service


class TestKeeping:
    def test_a_ladder_is_entered_and_read_by_everyone(self, service: Served) -> None:
        made = service.book().put_ladder(tiers(*TIERS), valid_from=FIRST)

        assert (FIRST, tiers(*TIERS), (), 1) == (
            made.value.valid_from, made.value.tiers, made.value.doubts, made.value.version,
        )  # fmt: skip
        for key in ("keeper", "clerk", "reader"):
            assert made == service.book(key).ladder(valid_from=FIRST)
            assert [made.value] == list(service.book(key).ladders())

    def test_prices_keep_the_digits_that_they_were_given_with(self, service: Served) -> None:
        service.book().put_ladder(tiers(("1", "7.050000"), ("10", "7")), valid_from=FIRST)

        told = service.send("GET", "/price-ladders/2026-09-01").json()

        assert ["7.050000", "7"] == [each["unit_price"] for each in told["tiers"]]

    def test_a_change_states_what_it_replaces_and_both_are_kept(self, laddered: Served) -> None:
        book = laddered.book()
        tag = book.ladder(valid_from=FIRST).tag
        with pytest.raises(Refused) as refused:
            book.put_ladder(tiers(("1", "9.00")), valid_from=FIRST)
        assert ("already-there", 428) == (refused.value.code, refused.value.status)

        changed = book.put_ladder(tiers(("1", "9.00")), valid_from=FIRST, tag=tag)

        assert ('"2"', 2) == (changed.tag, changed.value.version)
        with pytest.raises(Stale):
            book.put_ladder(tiers(*TIERS), valid_from=FIRST, tag=tag)
        assert [(2, tiers(("1", "9.00"))), (1, tiers(*TIERS))] == [
            (each.version, each.tiers) for each in book.ladder_versions(valid_from=FIRST)
        ]

    def test_a_copy_at_hand_is_current_until_it_changes(self, laddered: Served) -> None:
        tag = laddered.book().ladder(valid_from=FIRST).tag

        assert 304 == laddered.send("GET", "/price-ladders/2026-09-01", if_none_match=tag).status_code

    def test_what_is_withdrawn_counts_no_more_but_its_versions_stay(self, laddered: Served) -> None:
        book = laddered.book()
        tag = book.ladder(valid_from=FIRST).tag
        book.withdraw_ladder(valid_from=FIRST, tag=tag)

        with pytest.raises(Missing):
            book.ladder(valid_from=FIRST)
        with pytest.raises(Missing):
            book.withdraw_ladder(valid_from=FIRST, tag=tag)
        with pytest.raises(Refused) as refused:
            book.order_price(quantity=1)
        assert ("no-ladder", 409) == (refused.value.code, refused.value.status)
        assert [] == list(book.ladders())
        again = book.put_ladder(tiers(*TIERS), valid_from=FIRST)
        assert '"3"' == again.tag
        assert [3, 2, 1] == [each.version for each in book.ladder_versions(valid_from=FIRST, limit=2)]
        assert [True, False, True] == [bool(each.tiers) for each in book.ladder_versions(valid_from=FIRST)]

    def test_ladders_come_in_pages(self, laddered: Served) -> None:
        days = [FIRST, SECOND, date(2027, 1, 1)]
        for day in days[1:]:
            laddered.book().put_ladder(tiers(("1", "9.00")), valid_from=day)

        assert days == [each.valid_from for each in laddered.book().ladders(limit=1)]

    @pytest.mark.parametrize(
        ("stated", "reason"),
        [((("50", "9.10"), ("50", "8.40")), "stands after"), ((("50", "9.10"), ("1", "9.80")), "stands after")],
    )
    def test_what_is_no_ladder_is_refused(
        self, service: Served, stated: tuple[tuple[str, str], ...], reason: str
    ) -> None:
        with pytest.raises(Refused, match=reason) as refused:
            service.book().put_ladder(tiers(*stated), valid_from=FIRST)
        assert ("ladder-unlawful", 422) == (refused.value.code, refused.value.status)
        assert [] == list(service.book().ladders())

    @pytest.mark.parametrize("price", ["-1.00", "1.0000001", "9,80", 9.8, "1e1", ""])
    def test_a_price_of_another_form_is_refused(self, service: Served, price: object) -> None:
        told = service.send("PUT", "/price-ladders/2026-09-01", {"tiers": [{"from_credits": 1, "unit_price": price}]})

        assert (422, "invalid-request") == (told.status_code, told.json()["code"])

    def test_prices_that_do_not_fall_are_doubted(self, service: Served) -> None:
        made = service.book().put_ladder(tiers(("5", "9.00"), ("10", "9.50")), valid_from=FIRST)

        assert (
            "from 10 a credit costs 9.50, no less than 9.00 before",
            "orders of fewer than 5 credits have no price",
        ) == made.value.doubts

    @pytest.mark.parametrize("key", ["clerk", "reader"])
    def test_only_the_keeper_enters_or_withdraws_one(self, laddered: Served, key: str) -> None:
        book = laddered.book(key)
        with pytest.raises(NotAllowed):
            book.put_ladder(tiers(*TIERS), valid_from=SECOND)
        with pytest.raises(NotAllowed):
            book.withdraw_ladder(valid_from=FIRST, tag='"1"')


class TestImporting:
    def test_a_file_with_several_ladders(self, service: Served) -> None:
        content = b"valid_from;from_credits;unit_price\n2026-10-15;1;9.00\n2026-09-01;1;9.80\n2026-09-01;50;9.10\n"

        found = service.book().propose_ladders(content).ladders

        assert [(FIRST, tiers(("1", "9.80"), ("50", "9.10"))), (SECOND, tiers(("1", "9.00")))] == [
            (each.valid_from, each.tiers) for each in found
        ]
        assert [] == list(service.book().ladders())

    def test_a_file_without_a_day_is_of_the_day_stated(self, service: Served) -> None:
        found = service.book().propose_ladders(b"Unit price,From credits\n9.80,1\n", valid_from=FIRST).ladders

        assert [(FIRST, tiers(("1", "9.80")))] == [(each.valid_from, each.tiers) for each in found]

    def test_a_spreadsheet_in_columns_of_its_own(self, service: Served) -> None:
        prices = [("Size", "Price", "Since"), ("1-49", 9.8, FIRST), ("50+", 9.1, FIRST)]
        for content in (xlsx({"Terms": [("none",)], "Prices": prices}), ods({"Prices": prices})):
            found = service.book().propose_ladders(content, sheet="Prices")

            assert [(FIRST, tiers(("1", "9.8"), ("50", "9.1")))] == [(e.valid_from, e.tiers) for e in found.ladders]
            assert {"valid_from": "Since", "from_credits": "Size", "unit_price": "Price"} == found.columns
            assert ("Prices", ()) == (found.sheet, found.doubts)
        with pytest.raises(Refused, match="Rates"):
            service.book().propose_ladders(content, sheet="Rates")

    def test_columns_that_are_stated(self, service: Served) -> None:
        found = service.book().propose_ladders(
            b"A,B,C\n9,1,2026-09-01\n8,50,2026-09-01\n", day_column="C", credits_column="B", price_column="A"
        )

        assert [(FIRST, tiers(("1", "9"), ("50", "8")))] == [(each.valid_from, each.tiers) for each in found.ladders]
        with pytest.raises(Refused, match="D"):
            service.book().propose_ladders(b"A,B,C\n9,1,2026-09-01\n", day_column="D")

    @pytest.mark.parametrize(
        ("content", "code"),
        [
            (b"PK\x03\x04 no archive", "file-unreadable"),
            (b"from_credits,unit_price\n1,9.80\n", "column-missing"),
            (b"valid_from,from_credits,unit_price\n2026-09-01,one,9.80\n", "file-unreadable"),
            (b"valid_from,from_credits,unit_price\n2026-09-01,1,9;80\n", "file-unreadable"),
            (b"valid_from,from_credits,unit_price\n2026-09-31,1,9.80\n", "file-unreadable"),
            (b"valid_from,from_credits,unit_price\n2026-09-01,1\n2026-09-01,1,9.80\n", "file-unreadable"),
            (b"valid_from,from_credits,unit_price\n2026-09-01,50,9.10\n2026-09-01,1,9.80\n", "ladder-unlawful"),
            (b"valid_from,from_credits,unit_price\n2026-09-01,1,-9.10\n", "ladder-unlawful"),
            (b"\x00\x01", "file-unreadable"),
        ],
    )
    def test_a_file_that_says_no_ladder(self, service: Served, content: bytes, code: str) -> None:
        with pytest.raises(Refused) as refused:
            service.book().propose_ladders(content)
        assert (code, 422) == (refused.value.code, refused.value.status)


class TestPrices:
    def test_two_more_credits_would_cost_less(self, laddered: Served) -> None:
        found = laddered.book("clerk").order_price(quantity=48)

        assert found.order
        assert (d("470.40"), d("9.80"), 1) == (found.order.amount, found.order.unit_price, found.order.from_credits)
        assert [(50, 2, d("455.00"), d("15.40"))] == [
            (each.quantity, each.more, each.amount, each.saves) for each in found.cheaper
        ]
        assert (50, d("455.00")) == (found.cheapest.quantity, found.cheapest.amount)
        assert (date(2026, 11, 10), FIRST) == (found.on, found.ladder)

    def test_the_ladder_of_the_day_counts(self, laddered: Served) -> None:
        book = laddered.book()
        book.put_ladder(tiers(("10", "5.005")), valid_from=SECOND)
        before, after = book.order_price(quantity=11, on=date(2026, 10, 14)), book.order_price(quantity=11, on=SECOND)

        assert [d("107.80"), d("55.06")] == [each.order.amount for each in (before, after) if each.order]

    def test_below_the_smallest_order_the_smallest_is_told(self, service: Served) -> None:
        service.book().put_ladder(tiers(("25", "5.00")), valid_from=FIRST)
        found = service.book().order_price(quantity=3)

        assert (None, (), 25) == (found.order, found.cheaper, found.cheapest.quantity)

    def test_before_the_first_ladder_there_is_no_price(self, laddered: Served) -> None:
        with pytest.raises(Refused) as refused:
            laddered.book().order_price(quantity=1, on=date(2026, 8, 31))
        assert "no-ladder" == refused.value.code

    @pytest.mark.parametrize("quantity", ["0", "-1", "1.5", "1000000001", "x", ""])
    def test_a_quantity_of_another_form_is_refused(self, laddered: Served, quantity: str) -> None:
        assert 422 == laddered.send("GET", f"/order-prices?quantity={quantity}").status_code


class TestChecking:
    def test_purchases_stand_beside_the_ladder_of_their_day(self, laddered: Served) -> None:
        book = laddered.book()
        book.put_ladder(tiers(("100", "5.00")), valid_from=SECOND)
        book.record(
            Purchase(paid_by="ALDER", quantity=500, amount=d("3453.50"), order_number="N-1"), effective_on=FIRST
        )
        book.record(Purchase(paid_by="BIRCH", quantity=99, amount=d("900.00")), effective_on=SECOND)
        book.record(Purchase(paid_by="BIRCH", quantity=100, amount=d("499.99")), effective_on=SECOND)
        book.record(Reversal(entry=3, quantity=40), effective_on=SECOND)

        (one,) = book.purchase_checks(month="2026-09")
        few, many = book.purchase_checks(month="2026-10", limit=1)

        assert (1, FIRST, "N-1", d("3453.50"), d("3.50"), FIRST) == (
            one.entry, one.on, one.order_number, one.amount, one.difference, one.ladder,
        )  # fmt: skip
        assert (SECOND, None, None) == (few.ladder, few.order, few.difference)
        assert (d("-0.01"), 40) == (many.difference, many.undone)

    def test_without_a_ladder_there_is_nothing_to_compare_with(self, service: Served) -> None:
        service.book().record(Purchase(paid_by="ALDER", quantity=5, amount=d("49.00")), effective_on=FIRST)
        (one,) = service.book().purchase_checks(month="2026-09")

        assert (None, None, None) == (one.ladder, one.order, one.difference)

    def test_a_clerk_sees_its_member_s_own(self, laddered: Served) -> None:
        for shop in ("ALDER", "BIRCH"):
            laddered.book().record(Purchase(paid_by=shop, quantity=5, amount=d("49.00")), effective_on=FIRST)

        assert [1, 2] == [each.entry for each in laddered.book("reader").purchase_checks(month="2026-09")]
        assert [1] == [each.entry for each in laddered.book("clerk").purchase_checks(month="2026-09")]
