"""How far off forecasts are and how long needs take, beside plainer ways and hand-written SQL of the same run.

    python -m tests.bench.bench_needs [uses a month and member]

First made-up pools: a common season, negative binomial use, some shops that stop; the error of one month ahead over the
last twelve, ten pools of each kind, and how often what a month took was within what the cover says lasts for it. Then
300 members and 36 months in the service over HTTP: the needs and an order plan from them, the first time with the
reading of the journal that they rest on, beside SQL that adds up uses by member and month; worked is what
client and service took of the processor, without the server of a database."""

import sys
from datetime import date
from decimal import Decimal
from fractions import Fraction
from time import perf_counter, process_time

import httpx
import numpy as np
from pool_client.models.buying import Tier
from pool_client.models.directory import Role
from sqlalchemy import Engine, text

from pool_api.domain.needs import History, forecast, measured
from pool_api.domain.needs.cover import lasts
from pool_api.domain.needs.forecast import Forecast
from pool_api.domain.values import Month
from pool_api.store.engine import open_engine
from tests.bench.bench_month import databases
from tests.bench.filling_months import MEMBERS, MONTHS, fill_months
from tests.bench.timing import timed
from tests.served import POOL, Served, listening

LAST = Month(2026, 10)
POOLS = 10
DAYS = 30

BY_HAND = {
    "sqlite": "SELECT member, substr(effective_on, 1, 7), sum(json_extract(body, '$.quantity')) FROM entry "
    "WHERE pool_id = 'riverside' AND kind = 'use' GROUP BY 1, 2",
    "postgresql": "SELECT member, substr(effective_on, 1, 7), sum((body::json->>'quantity')::bigint) FROM entry "
    "WHERE pool_id = 'riverside' AND kind = 'use' GROUP BY 1, 2",
}


def made_up(seed: int, members: int, months: int, *, season: bool) -> History:
    """Give a pool's history: levels of 2 to 60 credits a month, variance three times the mean; every twelfth stops."""
    rng = np.random.default_rng(seed)
    indices = 1 + 0.3 * np.sin(2 * np.pi * (np.arange(months) + 3) / 12) if season else np.ones(months)
    series = []
    for at in range(members):
        means = rng.uniform(2, 60) * indices
        used = rng.negative_binomial(means / 2, 1 / 3)
        if at % 12 == 11:
            used[rng.integers(months // 2, months) :] = 0
        series.append(tuple(map(int, used)))
    named = tuple((f"M{at:03}", each) for at, each in enumerate(series))
    return History(last=LAST, totals=tuple(map(sum, zip(*series, strict=True))), members=named)


def without_season(history: History, ago: int) -> Forecast:
    """Give the forecast that knows of no season."""
    known = forecast(history.without_last(ago))
    plain = History(last=LAST, totals=(), members=history.without_last(ago).members)
    return Forecast(season=None, spread=known.spread, levels=forecast(plain).levels)


def errors(history: History) -> dict[str, float]:
    """Give mean absolute errors of a member's month, as parts of what it took; and of the pool's."""
    off = measured(history)
    each = off.members.values()
    used = sum(one.used * one.months for one in each)
    plain = 0
    for ago in range(12, 0, -1):
        known, month = without_season(history, ago), history.without_last(ago).last.next()
        plain += sum(abs((known.expected(code, month) or 0) - 1_000 * series[-ago]) for code, series in history.members)
    found = {
        "the forecast": sum(one.error * one.months for one in each) / used,
        "without season": plain / used,
        "mean of twelve": sum(one.error_of_mean * one.months for one in each) / used,
        "month before": sum(one.error_of_last * one.months for one in each) / used,
    }
    if off.pool:
        found["pool: the forecast"] = off.pool.error / off.pool.used
        found["pool: mean of twelve"] = off.pool.error_of_mean / off.pool.used
    return found


def kept(history: History, level: int) -> float:
    """Give how often a month took no more than what lasts through it at a level of certainty."""
    met = tried = 0
    for ago in range(12, 0, -1):
        earlier = history.without_last(ago)
        known, month = forecast(earlier), earlier.last.next()
        for code, series in history.members:
            mean, taken = Fraction(known.expected(code, month) or 0, 1_000), series[-ago]
            spread = known.spread or 1_000
            less = 0 if not taken else lasts(taken - 1, lambda _, of=mean: of, 1, spread=spread, level=level)  # type: ignore[misc]
            tried, met = tried + 1, met + (less == 0)
    return met / tried


def accuracy() -> None:
    """Print errors for pools of several kinds."""
    for members, months, season in ((40, 48, True), (40, 48, False), (5, 36, True), (5, 36, False), (40, 18, True)):
        pools = [made_up(seed, members, months, season=season) for seed in range(POOLS)]
        told = [errors(each) for each in pools]
        kind = f"{members} members, {months} months, {'a' if season else 'no'} season"
        sys.stdout.write(f"{kind}: error as part of what a month took\n")
        for name in told[0]:
            sys.stdout.write(f"  {name:<24} {sum(each[name] for each in told) / len(told):6.3f}\n")
        within = sum(kept(each, 950) for each in pools) / POOLS
        sys.stdout.write(f"  within the cover at 0.95 {within:6.3f}\n")


def by_hand(engine: Engine, backend: str) -> float:
    """Give the seconds that the hand-written sums take."""
    with engine.connect() as connection:
        if backend == "postgresql":
            connection.execute(text(f"SET app.pool = '{POOL}'"))
        return timed(lambda: connection.execute(text(BY_HAND[backend])).all())[0]


def asked(served: Served, floor: float) -> None:
    """Print how long needs and plans take."""
    made = served.client("operator").book(POOL).make_key(name="bench", role=Role.KEEPER)
    served.keys["keeper"] = made.secret or ""
    tiers = [Tier(from_credits=1, unit_price=Decimal(10)), Tier(from_credits=5_000, unit_price=Decimal(8))]
    served.book().put_ladder(tiers, valid_from=date(2023, 1, 1))
    plan = {"order_cost": "5.00", "holding_cost": "0.10", "months": 36}
    for name, method, path, body in (
        ("needs, with the first reading", "GET", "/needs?months=36", None),
        ("needs again", "GET", "/needs?months=36", None),
        ("a plan of 36 months from them", "POST", "/order-plans", plan),
        ("a plan again", "POST", "/order-plans", plan),
    ):
        began, worked = perf_counter(), process_time()
        answer = served.send(method, path, body)
        taken, worked = perf_counter() - began, process_time() - worked
        answer.raise_for_status()
        sys.stdout.write(f"  {name:<36} {taken:8.3f} s {taken / floor:7.2f} x, worked {worked:6.3f} s\n")


def main() -> None:
    """Measure both."""
    accuracy()
    of_each = int(sys.argv[1]) if len(sys.argv) > 1 else 10
    for backend in BY_HAND:
        with databases(backend) as database:
            engine = open_engine(database.url)
            entries = fill_months(engine, of_each)
            floor = by_hand(engine, backend)
            engine.dispose()
            sys.stdout.write(
                f"{backend}, {MEMBERS} members, {MONTHS} months, {entries:,} entries: by hand {floor:.3f} s\n"
            )
            with listening(database.url) as served:
                served.http.timeout = httpx.Timeout(None)
                asked(served, floor)


if __name__ == "__main__":
    main()
