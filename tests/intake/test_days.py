"""Days in cells: every style beside dateutil, the vectors of RFC 3339, and the vendor's zone beside zoneinfo."""

from datetime import UTC, date, datetime, time, timedelta
from zoneinfo import ZoneInfo

import pytest
from dateutil.parser import parse
from hypothesis import given
from hypothesis import strategies as st

from pool_api.intake.cells import Unfit
from pool_api.intake.days import DayStyle, day_of, states_offset

EARLY, LATE = (datetime.combine(day, time()) for day in (date(2001, 1, 1), date(2049, 12, 31)))
WRITTEN = {
    "%Y-%m-%d": (DayStyle.ISO, {}),
    "%Y/%m/%d %H:%M": (DayStyle.ISO, {}),
    "%d.%m.%Y": (DayStyle.DAY_MONTH_DOTS, {"dayfirst": True}),
    "%d.%m.%y %H:%M:%S": (DayStyle.DAY_MONTH_DOTS, {"dayfirst": True}),
    "%m/%d/%Y %I:%M %p": (DayStyle.MONTH_DAY, {}),
    "%m/%d/%y": (DayStyle.MONTH_DAY, {}),
    "%d/%m/%Y": (DayStyle.DAY_MONTH, {"dayfirst": True}),
    "%d-%m-%y": (DayStyle.DAY_MONTH, {"dayfirst": True}),
    "%y-%m-%d": (DayStyle.SHORT_YEAR_FIRST, {"yearfirst": True}),
    "%Y%m%d": (DayStyle.COMPACT, {}),
    "%d %b %Y": (DayStyle.MONTH_NAMED, {}),
    "%d-%b-%y": (DayStyle.MONTH_NAMED, {"dayfirst": True}),
    "%B %d, %Y": (DayStyle.MONTH_NAMED, {}),
    "%A, %d %B %Y": (DayStyle.MONTH_NAMED, {}),
}


@given(st.datetimes(EARLY, LATE), st.sampled_from(sorted(WRITTEN)))
def test_each_style_says_what_a_general_reader_of_dates_reads(at: datetime, written: str) -> None:
    style, how = WRITTEN[written]
    text = at.strftime(written)

    assert parse(text, **how).date() == at.date() == day_of(text, style)


@pytest.mark.parametrize(
    "text",
    ["3. Oktober 2026", "3 octobre 2026", "3 de octubre de 2026", "3 ottobre 2026", "3 okt. 2026", "3. října 2026"],
)
def test_months_are_named_in_other_languages_too(text: str) -> None:
    # the names are those of the Common Locale Data Repository; these six are from memory
    assert date(2026, 10, 3) == day_of(text, DayStyle.MONTH_NAMED)


class TestRfc3339:
    """The vectors of the JSON Schema Test Suite (MIT, commit 44401e0c046704b476ec9d2e2fccdaee618f259d, draft2020-12,
    optional/format/date-time.json) and of RFC 3339, 5.8, that lie in the years that a record can have."""

    @pytest.mark.parametrize(
        ("text", "in_utc"),
        [
            ("1990-12-31T15:59:50.123-08:00", "1990-12-31"),
            ("1998-12-31T23:59:60Z", "1998-12-31"),
            ("1998-12-31T15:59:60.123-08:00", "1998-12-31"),
            ("1996-12-19T16:39:57-08:00", "1996-12-20"),
            ("1990-12-31T23:59:60Z", "1990-12-31"),
            ("1990-12-31t15:59:60-08:00", "1990-12-31"),
        ],
    )
    def test_valid_instants_are_read(self, text: str, in_utc: str) -> None:
        assert (text[:10], in_utc) == (
            day_of(text, DayStyle.ISO).isoformat(),
            day_of(text, DayStyle.ISO, "Etc/UTC").isoformat(),
        )

    @pytest.mark.parametrize(
        "text",
        [
            "1998-12-31T23:59:61Z",
            "1998-12-31T23:60:00Z",
            "1990-02-31T15:59:59.123-08:00",
            "1990-12-31T15:59:59-24:00",
            "2016-12-31T24:59:60+01:00",
            "1990-12-31T24:00:00Z",
            "1990-12-31T15:60:00Z",
            "1990-12-31T10:00:00+10:60",
            "2013-350T01:01:01",
            "06/19/1963 08:30:06 PST",
            "1998-12-31T23:59:60Z\n",
            "199\N{BENGALI DIGIT FOUR}-12-31T23:59:00Z",
        ],
    )
    def test_invalid_ones_are_not(self, text: str) -> None:
        with pytest.raises(Unfit):
            day_of(text, DayStyle.ISO)


@given(
    st.datetimes(EARLY, LATE),
    st.integers(-14 * 60, 14 * 60),
    st.sampled_from(["Europe/Vienna", "America/Los_Angeles", "Asia/Kolkata", "Pacific/Auckland"]),
)
def test_an_instant_counts_on_the_day_that_the_vendors_clocks_showed(at: datetime, offset: int, zone: str) -> None:
    instant = at.replace(tzinfo=UTC, second=0, microsecond=0)
    sign, (hours, minutes) = "-" if offset < 0 else "+", divmod(abs(offset), 60)
    text = f"{instant + timedelta(minutes=offset):%Y-%m-%d %H:%M}{sign}{hours:02d}:{minutes:02d}"

    assert states_offset(text)
    assert instant.astimezone(ZoneInfo(zone)).date() == day_of(text, DayStyle.ISO, zone)
    assert (instant + timedelta(minutes=offset)).date() == day_of(text, DayStyle.ISO)


def test_a_time_without_an_offset_is_of_the_vendors_clocks_already() -> None:
    assert date(2026, 10, 3) == day_of("2026-10-03 23:30", DayStyle.ISO, "Pacific/Auckland")


@pytest.mark.parametrize(
    ("text", "day"),
    [("46298", date(2026, 10, 3)), ("46298.98", date(2026, 10, 3)), ("2026-10-03", date(2026, 10, 3))],
)
def test_a_bare_count_of_days_is_one_since_1900(text: str, day: date) -> None:
    # 2026-10-03 is day 46298 by openpyxl.utils.datetime.to_excel
    assert day == day_of(text, DayStyle.SERIAL)
