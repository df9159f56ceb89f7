"""Needs of coming months through the client: what was used becomes a forecast, people's own word counts in its place,
plans take both, and everybody sees what is theirs to see. Own cases; the arithmetic is tests/domain/test_needs.py's."""

from datetime import UTC, date, datetime
from decimal import Decimal

import pytest
from pool_client.errors import Missing, NotAllowed, Refused, Stale
from pool_client.models.buying import Needs, Tier
from pool_client.models.directory import Member
from pool_client.models.entries import Command, Draw, Purchase, Recordable, Reversal, Use, WriteOff, WriteOffReason
from pool_client.models.needs import ComingNeeds, MemberNeeds

from tests.served import Served

DECEMBER = {"member": "ALDER", "month": "2026-12"}
WORD = {**DECEMBER, "reason": "fleet contract"}


def d(amount: str) -> Decimal:
    return Decimal(amount)


def use(member: str, quantity: int) -> Use:
    return Use(member=member, quantity=quantity, item="CAL-S", job="A-1")


def of(found: ComingNeeds, member: str) -> MemberNeeds:
    return next(each for each in found.members if each.member == member)


@pytest.fixture
def used(service: Served) -> Served:
    """September and October with uses of ALDER (20, 30) and BIRCH (0, 10), on the tenth of November; 100 in stock, 20
    with ALDER, a ladder of one tier. What CEDAR wrote off isn't needed again."""
    book = service.book()
    book.put_ladder((Tier(from_credits=1, unit_price=d("8.00")),), valid_from=date(2026, 9, 1))
    recorded: list[tuple[Recordable, date]] = [
        (Purchase(paid_by="ALDER", quantity=200, amount=d("1600.00")), date(2026, 9, 1)),
        (Draw(member="ALDER", quantity=75), date(2026, 9, 1)),
        (Draw(member="BIRCH", quantity=15), date(2026, 9, 1)),
        (Draw(member="CEDAR", quantity=10), date(2026, 9, 1)),
        (use("ALDER", 20), date(2026, 9, 10)),
        (use("ALDER", 30), date(2026, 10, 10)),
        (use("BIRCH", 12), date(2026, 10, 31)),
        (WriteOff(holder="CEDAR", quantity=10, reason=WriteOffReason.EXPIRED), date(2026, 10, 31)),
        (use("ALDER", 5), date(2026, 11, 3)),
    ]
    book.record_all([Command(body=body, effective_on=on) for body, on in recorded])
    book.record(Reversal(entry=7, quantity=2), effective_on=date(2026, 11, 2))
    return service


class TestReading:
    def test_what_was_used_in_full_months_is_forecast(self, used: Served) -> None:
        found = used.book().needs(months=2)
        alder, birch, cedar = (of(found, each) for each in ("ALDER", "BIRCH", "CEDAR"))

        # chance 1, size 20 + (30 - 20) / 5; chance 1/5, size 10 as the reversal of November left it
        assert [d("22.000")] * 2 == [each.forecast for each in alder.months]
        assert [d("2.000")] * 2 == [each.forecast for each in birch.months]
        assert [d("0.000")] * 2 == [each.forecast for each in cedar.months]
        # from the tenth on, 21 of 30 days; 15.4 and 1.4 are 16.8 together
        assert [("2026-11", 17), ("2026-12", 24)] == [(each.month, each.need) for each in found.months]
        assert 5 == alder.used_this_month
        assert ("little_history",) == alder.doubts
        assert (2, None) == (alder.history_months, alder.accuracy)
        assert (date(2026, 11, 10), 10, ()) == (found.today, found.number, found.season)

    def test_how_long_credits_last_and_who_runs_dry(self, used: Served) -> None:
        found = used.book().needs(lead_days=9, review_days=12)
        alder, birch = of(found, "ALDER").cover, of(found, "BIRCH").cover

        assert alder
        assert birch
        assert (20, 5) == (alder.at_hand, birch.at_hand)
        assert alder.short
        assert alder.runs_dry_on == date.fromordinal(date(2026, 11, 10).toordinal() + alder.days)
        assert found.stock.days < found.pool.days
        assert (100, 125, False) == (found.stock.at_hand, found.pool.at_hand, found.pool.short)
        sure = used.book().needs(level=d("0.999")).pool
        assert sure.days < used.book().needs(level=d("0.5")).pool.days
        assert not used.book().needs(lead_days=0, review_days=0).members[0].cover.short  # type: ignore[union-attr]

    def test_a_year_later_forecasts_are_measured_on_months_held_back(self, used: Served) -> None:
        used.clock.at = datetime(2027, 2, 3, 12, tzinfo=UTC)
        found = used.book().needs()
        alder = of(found, "ALDER").accuracy

        # 20, 30, 5, 0, 0: December and January are held back; levels 22 + (5 - 22) / 5, and that times 4/5
        assert alder
        assert (2, d("0.000"), d("16.740")) == (alder.months, alder.used, alder.error)
        assert d("2.500") == alder.error_of_last_month
        assert round((d("55") / 3 + d("55") / 4) / 2, 3) == alder.error_of_mean
        assert round(d("16.74") / d("17.5"), 3) == alder.scaled
        assert ("mean_did_better",) == of(found, "ALDER").doubts

    def test_one_that_has_just_joined_has_no_forecast_until_somebody_knows(self, used: Served) -> None:
        book = used.book()
        book.put_member(Member(code="ELM", name="Elm", joined_on=date(2026, 10, 2)))

        fresh = of(book.needs(months=2), "ELM")
        assert 2 == len(book.needs().cautions)
        assert (None, ("no_history",), 0) == (fresh.cover, fresh.doubts, fresh.history_months)
        assert [(None, 0), (None, 0)] == [(each.forecast, each.need) for each in fresh.months]
        book.put_need(31, member="ELM", month="2026-12", reason="opens a second bay")
        assert [0, 31] == [each.need for each in of(book.needs(months=2), "ELM").months]

    def test_a_clerk_sees_its_own_member_and_a_reader_all(self, used: Served) -> None:
        assert ["ALDER"] == [each.member for each in used.book("clerk").needs().members]
        assert used.book().needs() == used.book("reader").needs()
        assert ["BIRCH"] == [each.member for each in used.book("reader").needs(member="BIRCH").members]
        with pytest.raises(NotAllowed):
            used.book("clerk").needs(member="BIRCH")
        with pytest.raises(Missing):
            used.book().needs(member="NOBODY")

    def test_while_nobody_knows_how_much_needs_vary_that_is_said(self, service: Served) -> None:
        service.clock.at = datetime(2026, 10, 2, 12, tzinfo=UTC)

        found = service.book().needs()
        assert (None, 3) == (found.spread, len(found.cautions))
        assert "three times their mean" in found.cautions[2]

    @pytest.mark.parametrize(
        "wrong", ["months=0", "months=61", "level=1", "level=0.4", "level=0.9999", "lead_days=181", "member=alder"]
    )
    def test_what_is_asked_has_bounds(self, service: Served, wrong: str) -> None:
        answer = service.send("GET", f"/needs?{wrong}")

        assert (422, "invalid-request") == (answer.status_code, answer.json()["code"])


class TestStating:
    def test_what_is_stated_counts_and_the_forecast_stays_beside_it(self, used: Served) -> None:
        book = used.book("clerk")
        book.put_need(60, **WORD)

        (now, then) = of(book.needs(months=2), "ALDER").months
        assert then.stated
        assert (60, 60, "fleet contract", d("22.000")) == (
            then.need, then.stated.quantity, then.stated.reason, then.forecast,
        )  # fmt: skip
        assert now.stated is None
        book.put_need(23, member="ALDER", month="2026-11", reason="booked")
        assert 18 == of(book.needs(), "ALDER").months[0].need

    def test_a_change_states_what_it_replaces_and_versions_stay(self, used: Served) -> None:
        book = used.book()
        first = book.put_need(60, **WORD)
        with pytest.raises(Refused):
            book.put_need(50, **WORD)
        book.put_need(50, **WORD, tag=first.tag)
        with pytest.raises(Stale):
            book.put_need(40, **WORD, tag=first.tag)
        book.withdraw_need(**DECEMBER, tag=book.need(**DECEMBER).tag)

        with pytest.raises(Missing):
            book.need(**DECEMBER)
        assert of(book.needs(), "ALDER").months[1].stated is None
        book.put_need(0, **WORD)
        versions = list(book.need_versions(member="ALDER", month="2026-12"))
        assert [(4, 0), (3, None), (2, 50), (1, 60)] == [(each.version, each.quantity) for each in versions]
        assert 0 == of(book.needs(), "ALDER").months[1].need

    def test_a_clerk_states_its_own_members_and_a_reader_nothing(self, used: Served) -> None:
        with pytest.raises(NotAllowed):
            used.book("clerk").put_need(60, member="BIRCH", month="2026-12", reason="x")
        with pytest.raises(NotAllowed):
            used.book("reader").put_need(60, **WORD)
        used.book().put_need(60, member="BIRCH", month="2026-12", reason="x")
        with pytest.raises(NotAllowed):
            used.book("clerk").need(member="BIRCH", month="2026-12")

    @pytest.mark.parametrize(
        ("member", "month", "reason"),
        [
            ("ALDER", "2026-10", "2026-10 is over"),
            ("ALDER", "2031-11", "60 months ahead"),
            ("ELM", "2026-12", "ELM is not in the pool in 2026-12"),
        ],
    )
    def test_only_months_to_come_in_which_it_is_there(
        self, service: Served, member: str, month: str, reason: str
    ) -> None:
        book = service.book()
        book.put_member(Member(code="ELM", name="Elm", joined_on=date(2027, 1, 1)))

        with pytest.raises(Refused) as refused:
            book.put_need(9, member=member, month=month, reason="x")

        assert "need-unfit" == refused.value.code
        assert reason in str(refused.value)
        with pytest.raises(Missing):
            list(book.need_versions(member=member, month=month))

    def test_one_that_was_stated_can_be_withdrawn_when_its_month_is_over(self, used: Served) -> None:
        tag = used.book().put_need(60, **WORD).tag
        used.clock.pass_days(60)

        used.book().withdraw_need(**DECEMBER, tag=tag)
        with pytest.raises(Missing):
            used.book().put_need(9, member="NOBODY", month="2027-02", reason="x")


class TestPlanning:
    def test_a_plan_takes_its_needs_from_the_forecast_and_from_people(self, used: Served) -> None:
        book = used.book()
        book.put_need(160, **WORD)
        plan = book.plan_orders(2)

        needs = book.needs(months=2)
        assert {each.member: each.credits for each in plan.needs} == {
            each.member: tuple(month.need for month in each.months) for each in needs.members
        }
        assert [17, 162] == [each.need for each in plan.months]
        assert 10 == plan.forecast_at
        assert plan == book.order_plan(plan_id=plan.plan_id)
        assert 17 + 162 - 125 == (plan.next_order and plan.next_order.order.quantity)
        assert [80, 120] == [each.percent for each in plan.other_needs]
        assert 12 == len(book.plan_orders().months)

    def test_needs_that_are_stated_with_the_request_count_alone(self, used: Served) -> None:
        plan = used.book().plan_orders([Needs(member="ALDER", credits=(9, 9))])

        assert (None, 18) == (plan.forecast_at, plan.need)

    def test_a_request_that_is_repeated_makes_one_plan(self, used: Served) -> None:
        stated = {"needs": [{"member": "ALDER", "credits": [9, 9]}]}
        answers = [
            used.send("POST", "/order-plans", body, idempotency_key=key)
            for key, body in (
                ("forecast-plan", {"months": 2}),
                ("forecast-plan", {"months": 2}),
                ("forecast-plan", {"months": 3}),
                ("stated-plan", stated),
                ("stated-plan", {**stated, "months": 2}),
            )
        ]

        assert [201, 201, 422, 201, 201] == [each.status_code for each in answers]
        assert 2 == len(list(used.book().order_plans()))

    def test_a_forecast_plan_begins_now_and_months_agree(self, used: Served) -> None:
        with pytest.raises(Refused, match="needs are forecast from 2026-11 on"):
            used.book().plan_orders(2, first_month="2026-12")
        answer = used.send("POST", "/order-plans", {"needs": [{"member": "ALDER", "credits": [9]}], "months": 2})
        assert (422, "plan-unfit") == (answer.status_code, answer.json()["code"])
        assert [] == list(used.book().order_plans())
