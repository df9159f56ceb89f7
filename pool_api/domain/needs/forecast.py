"""How much members will use: the pool's season, each member's level, and what a month is expected to need.

Members use credits now and then, many of them nothing in some months. So a month's need is smoothed in two parts, the
chance that there is any and its size when there is (TSB: Teunter, Syntetos & Babai, "Intermittent demand: linking
forecasting to inventory obsolescence", European Journal of Operational Research 214, 2011): a shop that stops decays to
0, which methods that only learn in months of need don't give. One shop says too little of the season: that is found
from the total of the pool, and applied to each (Withycombe, International Journal of Forecasting 5, 1989; Boylan, Chen,
Mohammadipour & Syntetos, Journal of the Operational Research Society 65, 2014).

Credits are in thousandths, indices and the spread as well; each is rounded half up once, and smoothing is exact.
"""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from fractions import Fraction

from pool_api.domain.needs.history import History
from pool_api.domain.values import Month, half_up

SMOOTHING = Fraction(1, 5)
"""How much the latest month counts, in chance and size alike."""

WHOLE = 1_000
YEAR = 12
LEAST_FOR_SEASON = 2 * YEAR
"""From so many months on the moving average of a year has one month of every name beside it."""

LEAST_INDEX = 100
"""No month counts for less than a tenth of a usual one, as dividing by its index multiplies what happened in it."""


@dataclass(frozen=True, slots=True)
class Season:
    """For each month of the year, January first, what it needs in thousandths of a usual month."""

    indices: tuple[int, ...]

    def index(self, month: Month) -> int:
        """Give the index of a month."""
        return self.indices[month.number - 1]


@dataclass(frozen=True, slots=True, kw_only=True)
class Forecast:
    """season None while there are too few months; spread is the variance of a month's need in thousandths of its mean,
    None where nothing tells it; levels are each member's need in a usual month, None without any full month."""

    season: Season | None
    spread: int | None
    levels: dict[str, Fraction | None]

    def expected(self, code: str, month: Month) -> int | None:
        """Give what a member is expected to use in a month, in thousandths of a credit; None without any history."""
        level = self.levels.get(code)
        if level is None:
            return None
        return half_up(level if self.season is None else level * self.season.index(month) / WHOLE)


def forecast(history: History) -> Forecast:
    """Give what a history lets expect of any later month. Refuses: nothing."""
    by_year = spread_of((series for _, series in history.members), apart=YEAR)
    season = season_of(history.totals, history.last, by_year)
    usual = {code: _without_season(series, history.last, season) for code, series in history.members}
    return Forecast(
        season=season,
        spread=spread_of(usual.values(), unit=WHOLE),
        levels={code: smoothed(series, SMOOTHING) if series else None for code, series in usual.items()},
    )


def smoothed(series: Sequence[int], smoothing: Fraction) -> Fraction:
    """Give the chance that there is any need times its size, both smoothed; in the unit of the series.

    Takes:   series — not empty, no value below 0; chance begins with the first month, size with the first need.
    Source:  TSB, see above. Whole numbers over growing powers of one denominator: exact, and quick."""
    new, whole = smoothing.numerator, smoothing.denominator
    chance, chance_of, size, size_of = int(series[0] > 0), 1, series[0], 1
    for each in series[1:]:
        chance = (whole - new) * chance + (new * chance_of if each else 0)
        chance_of *= whole
        if each and size:
            size = (whole - new) * size + new * size_of * each
            size_of *= whole
        elif each:
            size = each
    return Fraction(chance * size, chance_of * size_of)


def spread_of(members: Iterable[Sequence[int]], *, apart: int = 1, unit: int = 1) -> int | None:
    """Give the variance of a month's need over its mean, one ratio for all members, in thousandths, at least 1,000;
    None where no two months so far apart are known in which anything was used.

    Takes:  apart — a year for series that may have a season; unit — how many of the series' numbers make a credit.
    Source: half the mean square of changes estimates a variance whatever the level (von Neumann, Annals of Mathematical
            Statistics 12, 1941, from memory); the ratio pooled over members, own rule, decision 54."""
    squares = sums = 0
    for series in members:
        for before, after in zip(series, series[apart:], strict=False):
            squares += (after - before) ** 2
            sums += after + before
    return max(WHOLE, half_up(Fraction(WHOLE * squares, unit * sums))) if sums else None


def season_of(totals: Sequence[int], last: Month, spread: int | None) -> Season | None:
    """Give what the months of a year need beside each other, None from fewer months than two years.

    Takes:   totals — of the pool, by month up to `last`; spread — of months a year apart, None: nobody's are known.
    Source:  the classical ratio to a centred moving average of a year, so that a pool that grows has no season for
             that; what chance alone would make of the ratios is taken off their distances from 1, all alike (shrinking
             as of Miller & Williams, International Journal of Forecasting 19, 2003, from memory)."""
    ratios = _ratios(totals, last) if len(totals) >= LEAST_FOR_SEASON else {}
    if len(ratios) < YEAR or spread is None:
        return None
    raw = [sum(ratios[number], Fraction()) / len(ratios[number]) for number in range(1, YEAR + 1)]
    mean = sum(raw, Fraction()) / YEAR
    distances = [each / mean - 1 for each in raw]
    variance = sum((each * each for each in distances), Fraction()) / (YEAR - 1)
    of_each = Fraction(sum(len(each) for each in ratios.values()), YEAR)
    by_chance = Fraction(spread, WHOLE) / (Fraction(sum(totals), len(totals)) * of_each)
    kept = Fraction() if variance <= by_chance else 1 - by_chance / variance
    return Season(tuple(max(half_up(WHOLE * (1 + kept * each)), LEAST_INDEX) for each in distances))


def _ratios(totals: Sequence[int], last: Month) -> dict[int, list[Fraction]]:
    """Give, by number of the month in the year, each month's total over the mean of the year around it, half a month at
    either end."""
    found: dict[int, list[Fraction]] = {}
    half = YEAR // 2
    for at in range(half, len(totals) - half):
        around = totals[at - half : at + half + 1]
        twice = 2 * sum(around) - around[0] - around[-1]
        number = (last.number - len(totals) + at) % YEAR + 1
        if twice:
            found.setdefault(number, []).append(Fraction(2 * YEAR * totals[at], twice))
    return found


def _without_season(series: Sequence[int], last: Month, season: Season | None) -> list[int]:
    """Give what was used, as it would have been in usual months, in thousandths."""
    if season is None:
        return [WHOLE * each for each in series]
    first = last.number - len(series)
    numbers = ((first + at) % YEAR for at in range(len(series)))
    return [
        half_up(Fraction(WHOLE * WHOLE * each, season.indices[number])) if each else 0
        for number, each in zip(numbers, series, strict=True)
    ]
