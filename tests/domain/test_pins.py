"""Keeping all that was matched, as a sign-off does, changes no finding: so a signed month doesn't seem to change."""

import pytest

from pool_api.domain.matching import Pin, Report, match
from tests.bench.planted import planted


def told(report: Report) -> tuple[set[object], set[object]]:
    matches = {(each.key, each.entries, frozenset(each.rows)) for each in report.matches}
    return set(matches), {(each.key, each.kind, each.sentence) for each in report.differences}


@pytest.mark.parametrize(("seed", "shops", "days"), [(41, 40, 90), (42, 12, 30), (43, 4, 20)])
def test_with_every_match_kept_the_findings_are_the_same(seed: int, shops: int, days: int) -> None:
    world = planted(seed, 600, shops=shops, days=days)
    found = match(world.movements, world.rows, world.coverage)
    pins = [Pin(entries=each.entries, rows=each.rows) for each in found.matches]

    again = match(world.movements, world.rows, world.coverage, pins=pins)

    assert told(found) == told(again)
    assert () == again.broken_pins
    assert {"matched"} == {each.status.value for each in again.matches}
