"""What months need: histories, the forecast against outside values and slow twins, its error, and covers."""

from datetime import date
from fractions import Fraction
from math import comb, exp, factorial

import pandas as pd  # type: ignore[import-untyped]
import pytest
from hypothesis import given
from hypothesis import strategies as st

from pool_api.domain.needs import (
    Accuracy,
    Doubt,
    Forecast,
    History,
    Measured,
    Notice,
    Now,
    Season,
    Shop,
    coming,
    forecast,
    history_of,
    measured,
)
from pool_api.domain.needs.cover import lasts
from pool_api.domain.needs.forecast import season_of, smoothed, spread_of
from pool_api.domain.pool import Member
from pool_api.domain.values import Month

OCTOBER = Month(2026, 10)
SEASON = (800, 900, 1000, 1100, 1200, 1000, 700, 600, 1000, 1200, 1300, 1200)
"""Own; the mean is 1,000."""


def member(code: str, joined_on: date = date(2024, 1, 1), left_on: date | None = None) -> Member:
    return Member(code=code, name=code.title(), joined_on=joined_on, left_on=left_on)


def history(*members: tuple[int, ...], last: Month = OCTOBER) -> History:
    """The history of members A, B and so on, all of one length."""
    named = tuple((chr(65 + at), series) for at, series in enumerate(members))
    return History(last=last, totals=tuple(map(sum, zip(*members, strict=True))), members=named)


class TestHistory:
    def test_a_month_before_a_member_joined_is_no_month_without_need(self) -> None:
        used = {
            Month(2026, 8): {"A": 4, "B": 1},
            Month(2026, 9): {"A": 6},
            OCTOBER: {"B": 9},
            Month(2026, 11): {"A": 7},
        }
        members = [
            member("B", date(2026, 8, 2)), member("A"), member("C", date(2026, 10, 1)), member("D", date(2026, 11, 1)),
        ]  # fmt: skip
        found = history_of(used, members, date(2026, 8, 1), Month(2026, 11))

        assert (("A", (4, 6, 0)), ("B", (0, 9)), ("C", (0,)), ("D", ())) == found.members
        assert ((5, 6, 9), OCTOBER) == (found.totals, found.last)

    def test_part_of_the_pools_first_month_is_left_out(self) -> None:
        found = history_of({Month(2026, 8): {"A": 4}}, [member("A")], date(2026, 8, 2), Month(2026, 10))

        assert (("A", (0,)),) == found.members

    def test_the_latest_sixty_months_count(self) -> None:
        found = history_of({}, [member("A", date(2015, 1, 1))], date(2015, 1, 1), Month(2026, 11))

        assert (60, 60) == (len(found.totals), len(found.members[0][1]))


class TestSmoothing:
    def test_it_gives_what_a_forecasting_library_gives(self) -> None:
        # the value of statsforecast's TSB for the same series and smoothing (0.849163), as noted by who ran it
        found = smoothed((0, 3, 0, 0, 5, 2, 0, 0, 0, 4), Fraction(1, 10))

        assert Fraction(849_163, 10**6) == round(found, 6)

    @given(
        series=st.lists(st.integers(0, 9), min_size=1, max_size=30),
        smoothing=st.fractions(0, 1, max_denominator=10),
    )
    def test_it_is_the_papers_recursion(self, series: list[int], smoothing: Fraction) -> None:
        # Teunter, Syntetos & Babai 2011, as in the module's text; begun with the first month and the first need
        chance, size = Fraction(int(series[0] > 0)), Fraction(next((each for each in series if each), 0))
        for each in series[1:]:
            chance += smoothing * (int(each > 0) - chance)
            size += smoothing * (each - size) if each else 0

        assert chance * size == smoothed(series, smoothing)

    def test_a_shop_that_stops_decays_and_one_that_never_changes_stays(self) -> None:
        assert Fraction(4, 5) ** 12 * 10 == smoothed((10,) + (0,) * 12, Fraction(1, 5))
        assert 7 == smoothed((7,) * 9, Fraction(1, 5))
        assert 0 == smoothed((0,) * 9, Fraction(1, 5))


class TestSpread:
    def test_it_is_the_ratio_of_variance_and_mean_pooled_over_members(self) -> None:
        # changes 6, -6, 6 and 2, -2: squares 116; sums of neighbours three times 14 and twice 10: 62
        assert round(116_000 / 62) == spread_of([(4, 10, 4, 10), (4, 6, 4)])
        assert round(116_000 / 62) == spread_of([(40, 100, 40, 100), (40, 60, 40)], unit=10)
        assert round(36_000 / 14) == spread_of([(4, 9, 10), (5,)], apart=2)

    def test_it_is_no_less_than_by_chance_alone_and_needs_two_months_with_use(self) -> None:
        assert 1_000 == spread_of([(5, 5, 5), (6, 6)])
        assert spread_of([(5,), (0, 0), ()]) is None


class TestSeason:
    def test_a_season_is_found_again(self) -> None:
        totals = tuple(SEASON[(at + 10) % 12] * 1_000 for at in range(48))

        found = season_of(totals, OCTOBER, 1_000)

        assert found
        assert all(abs(index - each) <= 1 for index, each in zip(found.indices, SEASON, strict=True))
        assert (700, 1300) == tuple(round(found.index(Month(2027, number)), -1) for number in (7, 11))

    def test_ratios_are_those_of_a_data_frame(self) -> None:
        totals = [(at * 37) % 101 * 8 + 5 * at + 900 for at in range(41)]
        averages = pd.Series(totals).rolling(12).mean().rolling(2).mean().shift(-6)
        by_number: dict[int, list[object]] = {}
        for at, ratio in enumerate(pd.Series(totals) / averages):
            if ratio == ratio:  # noqa: PLR0124 - not a number where the year around is not whole
                by_number.setdefault((OCTOBER.number - 41 + at) % 12 + 1, []).append(ratio)
        raw = pd.Series({number: pd.Series(each).mean() for number, each in by_number.items()}).sort_index()
        distances = raw / raw.mean() - 1
        variance, ratios = (distances**2).sum() / 11, sum(map(len, by_number.values()))
        by_chance = 1.5 / (sum(totals) / 41 * ratios / 12)
        assert 0 < by_chance < variance / 2

        found = season_of(totals, OCTOBER, 1_500)

        assert found
        assert [round(each) for each in 1_000 * (1 + (1 - by_chance / variance) * distances)] == [*found.indices]

    def test_growth_alone_is_no_season(self) -> None:
        assert Season((1_000,) * 12) == season_of([1_000 + 20 * at for at in range(36)], OCTOBER, 1_000)

    def test_what_chance_makes_is_taken_off(self) -> None:
        totals = [SEASON[(at + 10) % 12] // 100 for at in range(36)]
        spreads = [max(season_of(totals, OCTOBER, spread).indices) for spread in (1_000, 5_000, 50_000)]  # type: ignore[union-attr]

        assert sorted(spreads, reverse=True) == spreads
        assert 1_000 == spreads[-1]

    def test_a_month_of_rest_counts_for_a_tenth(self) -> None:
        found = season_of([0 if (at + 10) % 12 == 7 else 9_000 for at in range(48)], OCTOBER, 1_000)

        assert found
        assert (100, 1_091) == (found.index(Month(2027, 8)), found.index(Month(2027, 1)))

    def test_two_years_are_needed_and_use_in_each(self) -> None:
        totals = [SEASON[at % 12] for at in range(24)]

        assert season_of(totals[:23], OCTOBER, 1_000) is None
        assert season_of(totals, OCTOBER, 1_000)
        assert season_of([0] * 36, OCTOBER, 1_000) is None
        assert season_of(totals, OCTOBER, None) is None


class TestForecast:
    def test_the_season_of_the_pool_is_applied_to_each_member(self) -> None:
        series = tuple(SEASON[(at + 10) % 12] for at in range(36))
        found = forecast(history(series, tuple(2 * each for each in series)))

        assert found.season
        for number in range(1, 13):
            month = Month(2027, number)
            assert all(
                abs((found.expected(code, month) or 0) - times * 1_000 * SEASON[number - 1]) < 5_000 * times
                for code, times in (("A", 1), ("B", 2))
            )

    def test_without_any_month_nothing_is_expected(self) -> None:
        found = forecast(History(last=OCTOBER, totals=(), members=(("A", ()),)))

        assert found.expected("A", OCTOBER) is None
        assert (None, None) == (found.season, found.spread)


class TestMeasuring:
    def test_each_month_is_forecast_from_those_before_it(self) -> None:
        # held back: 8, 0, 4; before them 4, 4, 4 (+ 8, + 0), levels 4, 4.8, 4.8 x 4/5 by hand
        found = measured(history((4, 4, 4, 8, 0, 4))).members["A"]

        assert 3 == found.months
        assert round(1_000 * (8 + 0 + 4) / 3) == found.used
        assert round(1_000 * (4 + 4.8 + abs(3.84 - 4)) / 3) == found.error
        assert round(1_000 * (4 + 8 + 4) / 3) == found.error_of_last
        assert round(1_000 * (4 + 5 + 0) / 3) == found.error_of_mean
        assert found.scaled is None

    def test_errors_are_scaled_by_the_changes_in_months_before(self) -> None:
        found = measured(history((4, 6, 2, 9))).members["A"]

        # level 4 + 0.4 - 0.48 = 3.92; the changes before are 2 and 4
        assert (5_080, round(1_000 * 5.08 / 3)) == (found.error, found.scaled)

    def test_of_the_pool_it_is_the_error_of_the_sum(self) -> None:
        found = measured(history((4, 4, 4, 6), (4, 4, 4, 2)))

        assert 2_000 == found.members["A"].error == found.members["B"].error
        assert found.pool
        assert (0, 8_000) == (found.pool.error, found.pool.used)

    def test_the_mean_is_of_the_latest_twelve_months(self) -> None:
        found = measured(history((24, *[12] * 13))).members["A"]

        # 3 to 12 months before with the 24 among them, 13 without
        assert abs(sum(12_000 / count for count in range(3, 13)) / 11 - found.error_of_mean) <= 1

    def test_too_little_history_says_nothing_and_a_year_is_held_back_at_most(self) -> None:
        assert Measured(members={}, pool=None) == measured(history((4, 4, 4)))
        assert 12 == measured(history((4,) * 30)).members["A"].months
        later = History(last=OCTOBER, totals=(4,) * 30, members=(("A", (4,) * 30), ("B", (4, 4, 4))))
        assert {"A"} == measured(later).members.keys()


def negative_binomial(most: int, size: int, chance: Fraction) -> Fraction:
    """Give the chance of at most so many failures before `size` successes, term by term: exact for whole sizes."""
    return sum((comb(size + k - 1, k) * chance**size * (1 - chance) ** k for k in range(most + 1)), Fraction())


class TestCover:
    def test_a_months_need_of_sixty_leaves_forty_for_twelve_days(self) -> None:
        # mean 60 and variance 180 a month: size 30, chance 1/3; 0.9606 on day 12, 0.9372 on day 13, by scipy.stats
        assert 12 == lasts(40, lambda days: Fraction(60 * days, 30), 400, spread=3_000, level=950)
        assert 19 <= lasts(40, lambda days: Fraction(60 * days, 30), 400, spread=3_000, level=500) <= 20

    @given(at_hand=st.integers(0, 40), ratio=st.integers(2, 6), level=st.integers(500, 999))
    def test_it_is_the_last_day_of_which_the_exact_sum_of_terms_is_enough(
        self, at_hand: int, ratio: int, level: int
    ) -> None:
        # a mean of ratio - 1 a day makes sizes whole: as many as days
        enough = [negative_binomial(at_hand, days, Fraction(1, ratio)) for days in range(1, 30)]
        days = next((at for at, each in enumerate(enough) if each * 1_000 < level), 29)

        assert days == lasts(at_hand, lambda day: Fraction(day * (ratio - 1)), 29, spread=1_000 * ratio, level=level)

    def test_without_more_than_chance_it_is_poissons(self) -> None:
        chances = [sum(exp(-day / 2) * (day / 2) ** k / factorial(k) for k in range(6)) for day in range(1, 30)]

        assert sum(each >= 0.9 for each in chances) == lasts(
            5, lambda day: Fraction(day, 2), 29, spread=1_000, level=900
        )

    def test_nothing_at_hand_lasts_while_nothing_is_needed(self) -> None:
        assert 5 == lasts(0, lambda day: Fraction(max(day - 5, 0)), 9, spread=2_000, level=950)
        assert 9 == lasts(0, lambda _: Fraction(), 9, spread=2_000, level=950)


NOTICE = Notice(level=950, days=14)
NOTHING = Measured(members={}, pool=None)


def known(**levels: int | None) -> Forecast:
    """Members' levels in thousandths, without a season, twice as spread as by chance."""
    return Forecast(
        season=None,
        spread=2_000,
        levels={code: None if each is None else Fraction(each) for code, each in levels.items()},
    )


def now(*shops: Shop, stock: int = 0, today: date = date(2026, 11, 21), **stated: int) -> Now:
    return Now(
        today=today,
        stock=stock,
        shops=shops,
        stated={(name[0], Month(2026, int(name[1:]))): each for name, each in stated.items()},
    )


def shop(code: str, held: int = 0, used: int = 0, left_on: date | None = None) -> Shop:
    return Shop(member=member(code, left_on=left_on), held=held, used=used, history=12)


class TestComing:
    def test_the_present_month_counts_from_today_on(self) -> None:
        (found,) = coming(known(A=30_000), NOTHING, now(shop("A", used=25)), 2, NOTICE).members

        assert [(30_000, 10_000, 10), (30_000, 30_000, 30)] == [
            (each.forecast, each.expected, each.need) for each in found.months
        ]

    def test_what_is_stated_is_of_the_whole_month_and_what_was_used_is_taken_off(self) -> None:
        found = coming(
            known(A=30_000, B=30_000),
            NOTHING,
            now(shop("A", used=25), shop("B", used=50), A11=40, B11=40, A12=7),
            2,
            NOTICE,
        )

        assert [[15, 7], [0, 30]] == [[each.need for each in member.months] for member in found.members]
        assert [30_000, 30_000] == [each.forecast for each in found.members[0].months]
        assert (15, 37) == found.needs

    def test_needs_add_up_where_each_alone_would_round_to_none(self) -> None:
        codes = "ABCDEFGHIJ"
        found = coming(known(**dict.fromkeys(codes, 400)), NOTHING, now(*map(shop, codes)), 2, NOTICE)

        assert 4 == found.needs[1]
        assert {0, 1} == {each.months[1].need for each in found.members}

    def test_a_member_that_leaves_needs_nothing_after_it(self) -> None:
        leaving = shop("A", left_on=date(2026, 12, 10))
        (found,) = coming(known(A=31_000), NOTHING, now(leaving), 3, NOTICE).members

        assert [10, 10, 0] == [each.need for each in found.months]
        assert found.months[2].forecast is None

    def test_covers_follow_the_months_and_warn_in_time(self) -> None:
        found = coming(
            known(A=30_000, B=30_000), NOTHING, now(shop("A", held=60), shop("B"), stock=200, B12=0), 1, NOTICE
        )
        one, other = (each.cover for each in found.members)

        assert one
        assert other
        assert (False, True) == (one.short, other.short)
        assert 14 <= one.days < 60
        assert date(2026, 11, 21).toordinal() + one.days == (one.runs_dry_on or date.min).toordinal()
        assert (0, date(2026, 11, 21)) == (other.days, other.runs_dry_on)
        assert found.stock.days <= found.pool.days
        assert (200, 260) == (found.stock.at_hand, found.pool.at_hand)

    def test_a_month_without_need_is_lasted_through(self) -> None:
        (found,) = coming(known(A=30_000), NOTHING, now(shop("A"), A11=0, A12=0), 1, NOTICE).members

        assert found.cover
        assert (41, date(2027, 1, 1), False) == (found.cover.days, found.cover.runs_dry_on, found.cover.short)

    def test_what_lasts_beyond_all_that_is_looked_at_doesnt_run_dry(self) -> None:
        (found,) = coming(known(A=1_000), NOTHING, now(shop("A", held=500)), 1, NOTICE).members

        assert found.cover
        assert (None, False) == (found.cover.runs_dry_on, found.cover.short)
        assert 365 < found.cover.days

    def test_nothing_is_said_where_nothing_is_known_until_somebody_states_it(self) -> None:
        fresh = Shop(member=member("A"), held=5, used=0, history=0)
        (silent,) = coming(known(A=None), NOTHING, now(fresh), 1, NOTICE).members
        (stated,) = coming(known(A=None), NOTHING, now(fresh, A12=31), 1, NOTICE).members

        assert (None, (Doubt.NO_HISTORY,), 0) == (silent.cover, silent.doubts, silent.months[0].need)
        assert stated.cover
        assert 10 < stated.cover.days < 16

    def test_how_much_needs_vary_is_three_times_their_mean_until_it_is_known(self) -> None:
        spreads = (None, 3_000, 1_000)
        there = now(shop("A", held=200), A12=310)
        knowing = [Forecast(season=None, spread=each, levels={"A": None}) for each in spreads]
        guessed, told, steady = (coming(each, NOTHING, there, 1, NOTICE).members[0].cover for each in knowing)

        assert guessed
        assert steady
        assert guessed == told
        assert guessed.days < steady.days

    @pytest.mark.parametrize(
        ("error", "doubts"), [(5, ()), (6, ()), (7, (Doubt.MEAN_DID_BETTER,)), (None, (Doubt.LITTLE_HISTORY,))]
    )
    def test_a_forecast_that_the_mean_beats_is_doubted(self, error: int | None, doubts: tuple[Doubt, ...]) -> None:
        off = {}
        if error is not None:
            off["A"] = Accuracy(months=3, used=9, error=error, error_of_last=9, error_of_mean=6, scaled=None)
        (found,) = coming(known(A=1_000), Measured(members=off, pool=None), now(shop("A")), 1, NOTICE).members

        assert doubts == found.doubts

    @given(
        levels=st.lists(st.integers(0, 90_000), min_size=1, max_size=6),
        day=st.integers(1, 30),
        stated=st.integers(0, 99),
    )
    def test_whole_needs_are_what_all_are_expected_to_take(self, levels: list[int], day: int, stated: int) -> None:
        codes = [chr(65 + at) for at in range(len(levels))]
        there = now(*map(shop, codes), today=date(2026, 11, day), A12=stated)
        found = coming(known(**dict(zip(codes, levels, strict=True))), NOTHING, there, 2, NOTICE)

        for at, need in enumerate(found.needs):
            expected = sum(each.months[at].expected for each in found.members)
            assert abs(1_000 * need - expected) <= 500
            assert all(abs(1_000 * each.months[at].need - each.months[at].expected) < 1_500 for each in found.members)
        assert stated == found.members[0].months[1].need
