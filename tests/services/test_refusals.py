"""Which refusals are kept: so many of one, so many of all, and the number of those left out."""

from collections import Counter
from datetime import UTC, datetime, timedelta

from hypothesis import given
from hypothesis import strategies as st

from pool_api.services.refusals import MOST_OF_KNOWN, MOST_OF_ONE, MOST_OF_STRANGERS, STRETCH, Refusals, Source

NOW = datetime(2026, 11, 10, 12, tzinfo=UTC)
INES, STRANGER = Source(name="p1", is_known=True), Source(name="192.0.2.1", is_known=False)


def test_so_many_of_one_source_are_kept_and_the_rest_is_counted() -> None:
    refusals = Refusals()
    kept = [refusals.admit("write_refused", INES, NOW) for _ in range(MOST_OF_ONE + 7)]
    other = refusals.admit("write_refused", STRANGER, NOW)

    assert [True] * MOST_OF_ONE + [False] * 7 == kept
    assert other
    assert [] == refusals.due(NOW + STRETCH - timedelta(microseconds=1))
    assert [("write_refused", INES, 7, NOW)] == [
        (each.kind, each.source, each.count, each.since) for each in refusals.due(NOW + STRETCH)
    ]
    assert [] == refusals.due(NOW + 2 * STRETCH)
    assert refusals.admit("write_refused", INES, NOW + STRETCH)


def test_strangers_from_many_addresses_hide_nothing_that_happens_to_people() -> None:
    refusals = Refusals()
    strangers = [Source(name=f"2001:db8::{number:x}", is_known=False) for number in range(2 * MOST_OF_STRANGERS)]
    kept = [refusals.admit("sign_in_refused", each, NOW) for each in strangers]

    assert MOST_OF_STRANGERS == sum(kept)
    assert refusals.admit("sign_in_refused", INES, NOW)
    assert [("sign_in_refused", None, MOST_OF_STRANGERS)] == [
        (each.kind, each.source, each.count) for each in refusals.due(None)
    ]


SOURCES = st.builds(Source, name=st.sampled_from("abcdefgh"), is_known=st.booleans())


@given(st.lists(st.tuples(st.sampled_from(["one", "two"]), SOURCES), max_size=400))
def test_every_refusal_is_kept_or_counted_once(asked: list[tuple[str, Source]]) -> None:
    refusals = Refusals()
    kept: Counter[tuple[str, Source]] = Counter()
    for kind, source in asked:
        kept[kind, source] += refusals.admit(kind, source, NOW)
    left_out = refusals.due(None)

    assert len(asked) == kept.total() + sum(each.count for each in left_out)
    by_source: Counter[Source] = Counter()
    for (_, source), count in kept.items():
        by_source[source] += count
    assert max(by_source.values(), default=0) <= MOST_OF_ONE
    assert sum(count for (_, source), count in kept.items() if source.is_known) <= MOST_OF_KNOWN
    assert all(each.count > 0 for each in left_out)
