"""How far forecasts were off: every month of the last year is held back once and forecast from those before it alone.

Beside the method's error stand those of two that need no method, so that whoever reads it sees what it is worth.
Errors are in thousandths of a credit, shares in thousandths, half up.
"""

from collections.abc import Sequence
from dataclasses import dataclass, field
from fractions import Fraction
from itertools import pairwise

from pool_api.domain.needs.forecast import WHOLE, YEAR, forecast
from pool_api.domain.needs.history import History
from pool_api.domain.values import half_up

HELD_BACK = YEAR
LEAST_BEFORE = 3
"""How many months are held back at the most, and how many must stand before one."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Accuracy:
    """Over `months` held back: what a month took on average; the mean absolute error of the forecast, of the month
    before and of the mean of up to twelve months before. scaled is the forecast's error over that of the month before
    in all months earlier than those (the mean absolute scaled error: Hyndman & Koehler, International Journal of
    Forecasting 22, 2006); None where nothing changed then."""

    months: int
    used: int
    error: int
    error_of_last: int
    error_of_mean: int
    scaled: int | None


@dataclass(frozen=True, slots=True, kw_only=True)
class Measured:
    """The accuracy for each member that has months enough, and for the total of those; None where none has."""

    members: dict[str, Accuracy]
    pool: Accuracy | None


@dataclass(slots=True)
class _Errors:
    """What was used in months held back, and how far off each way was, in thousandths."""

    used: list[int] = field(default_factory=list)
    errors: tuple[list[int], list[int], list[int]] = field(default_factory=lambda: ([], [], []))

    def add(self, used: int, *ways: int) -> None:
        self.used.append(used)
        for errors, each in zip(self.errors, ways, strict=True):
            errors.append(abs(each - used))

    def accuracy(self, series: Sequence[int]) -> Accuracy | None:
        """Give what it comes to; series is all that was used, the months held back at its end."""
        count = len(self.used)
        if not count:
            return None
        own, last, mean = (Fraction(sum(each), count) for each in self.errors)
        changes = [abs(after - before) for before, after in pairwise(series[:-count])]
        usual = Fraction(WHOLE * sum(changes), len(changes)) if changes else Fraction()
        return Accuracy(
            months=count,
            used=half_up(Fraction(sum(self.used), count)),
            error=half_up(own),
            error_of_last=half_up(last),
            error_of_mean=half_up(mean),
            scaled=half_up(WHOLE * own / usual) if usual else None,
        )


def measured(history: History) -> Measured:
    """Forecast the months held back, one month ahead, and give how far off that was. Refuses: nothing."""
    found = {code: _Errors() for code, _ in history.members}
    of_pool = _Errors()
    longest = max((len(series) for _, series in history.members), default=0)
    for ago in range(min(HELD_BACK, longest - LEAST_BEFORE), 0, -1):
        earlier = history.without_last(ago)
        known, month, total = forecast(earlier), earlier.last.next(), [0, 0, 0, 0]
        for (code, before), (_, series) in zip(earlier.members, history.members, strict=True):
            expected = known.expected(code, month)
            if expected is None or len(before) < LEAST_BEFORE:
                continue
            latest = before[-YEAR:]
            told = (
                WHOLE * series[-ago],
                expected,
                WHOLE * before[-1],
                half_up(Fraction(WHOLE * sum(latest), len(latest))),
            )
            found[code].add(*told)
            total = [one + other for one, other in zip(total, told, strict=True)]
        of_pool.add(*total)
    each = {code: found[code].accuracy(series) for code, series in history.members}
    return Measured(
        members={code: accuracy for code, accuracy in each.items() if accuracy},
        pool=of_pool.accuracy(history.totals),
    )
