"""Token buckets, beside a slow twin that counts tokens in fractions."""

from fractions import Fraction
from math import ceil

from hypothesis import given
from hypothesis import strategies as st

from pool_api.rest import rates
from pool_api.rest.rates import Buckets, Rate

SECOND = 1_000_000_000


class Clock:
    def __init__(self) -> None:
        self.now = 5 * SECOND

    def __call__(self) -> int:
        return self.now


def test_a_burst_passes_and_then_one_request_for_each_token_gained() -> None:
    clock = Clock()
    buckets = Buckets(Rate(burst=3, per_second=2), clock)

    assert [buckets.take("ALDER") for _ in range(4)] == [0, 0, 0, 1]
    clock.now += SECOND // 2
    assert [buckets.take("ALDER") for _ in range(2)] == [0, 1]


def test_what_was_refused_takes_no_token() -> None:
    clock = Clock()
    buckets = Buckets(Rate(burst=1, per_second=1), clock)
    buckets.take("ALDER")
    for _ in range(100):
        assert buckets.take("ALDER") == 1
    clock.now += SECOND

    assert buckets.take("ALDER") == 0


def test_after_the_seconds_that_were_told_a_request_passes() -> None:
    clock = Clock()
    buckets = Buckets(Rate(burst=1, per_second=1), clock)
    buckets.take("ALDER")
    clock.now += SECOND // 3

    clock.now += buckets.take("ALDER") * SECOND

    assert buckets.take("ALDER") == 0


def test_one_name_does_not_slow_another() -> None:
    buckets = Buckets(Rate(burst=1, per_second=1), Clock())
    buckets.take("ALDER")

    assert buckets.take("BIRCH") == 0


def test_asking_for_the_wait_takes_nothing() -> None:
    buckets = Buckets(Rate(burst=1, per_second=1), Clock())

    assert [buckets.wait("ALDER") for _ in range(3)] == [0, 0, 0]
    assert buckets.take("ALDER") == 0
    assert buckets.wait("ALDER") == 1


@given(
    st.integers(1, 5),
    st.sampled_from([1, 2, 4, 5, 10]),
    st.lists(st.integers(0, 2 * SECOND), max_size=30),
)
def test_a_bucket_counts_as_its_slow_twin_does(burst: int, per_second: int, pauses: list[int]) -> None:
    clock = Clock()
    buckets = Buckets(Rate(burst=burst, per_second=per_second), clock)
    tokens = Fraction(burst)
    for pause in pauses:
        clock.now += pause
        tokens = min(Fraction(burst), tokens + Fraction(pause * per_second, SECOND))
        passes = tokens >= 1

        wait = buckets.take("ALDER")

        assert wait == (0 if passes else ceil((1 - tokens) / per_second))
        tokens -= passes


def test_memory_is_bounded_and_full_buckets_are_forgotten_first() -> None:
    clock = Clock()
    buckets = Buckets(Rate(burst=2, per_second=1), clock)
    for number in range(rates._MOST_BUCKETS):
        buckets.take(f"peer {number}")
    clock.now += 10 * SECOND
    buckets.take("ALDER")
    buckets.take("ALDER")

    assert len(buckets._full_at) == 1
    assert buckets.take("ALDER") == 1


def test_where_no_bucket_is_full_the_oldest_half_goes() -> None:
    buckets = Buckets(Rate(burst=2, per_second=1), Clock())
    for number in range(rates._MOST_BUCKETS + 1):
        buckets.take(f"peer {number}")

    assert len(buckets._full_at) == rates._MOST_BUCKETS // 2 + 1
    assert f"peer {rates._MOST_BUCKETS - 1}" in buckets._full_at
    assert "peer 0" not in buckets._full_at
