"""Splits into the most groups that add up to zero: known ones, reductions, slow twins, and laws."""

from collections.abc import Iterator, Sequence
from itertools import combinations, islice

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from pool_api.domain import zero_sums
from pool_api.domain.zero_sums import ALWAYS_PROVEN, Fits, Split, split


def balanced(largest: int, *, numbers: int) -> st.SearchStrategy[list[int]]:
    """Lists of 1 to `numbers` whole numbers that add up to zero."""
    rest = st.integers(0, numbers - 1).flatmap(
        lambda size: st.lists(st.integers(-largest, largest), min_size=size, max_size=size)
    )
    return rest.map(lambda drawn: [*drawn, -sum(drawn)])


def chance(seed: int) -> Iterator[int]:
    """Fixed numbers without visible order: the multiplicative generator of Park and Miller, CACM 31 (1988) 1192-1201
    [from memory], with the factor 48271."""
    while True:
        seed = seed * 48_271 % 2_147_483_647
        yield seed


def scattered(count: int, *, seed: int, step: int, largest: int) -> list[int]:
    """Fixed numbers that add up to zero; multiples of step up to step * largest, except the last."""
    drawn = [step * (number % (2 * largest + 1) - largest) for number in islice(chance(seed), count - 1)]
    return [*drawn, -sum(drawn)]


def without_pairs(count: int, *, seed: int, step: int, largest: int) -> list[int]:
    """As scattered, but of the first seed from which no two numbers have the same size and none is 0."""
    numbers = scattered(count, seed=seed, step=step, largest=largest)
    while len({0, *map(abs, numbers)}) <= count:
        seed += 1
        numbers = scattered(count, seed=seed, step=step, largest=largest)
    return numbers


def planted(groups: int, *, each: int, seed: int) -> list[int]:
    """Numbers into which `groups` groups of `each` were put, dealt out like cards."""
    hands = [scattered(each, seed=seed + hand, step=1, largest=200_000) for hand in range(groups)]
    return [number for dealt in zip(*hands, strict=True) for number in dealt]


def is_split(numbers: Sequence[int], found: Split) -> bool:
    return sorted(at for group in found.groups for at in group) == list(range(len(numbers))) and all(
        sum(numbers[at] for at in group) == 0 for group in found.groups
    )


# --- slow twins ------------------------------------------------------------------------------------------------------


def every_partition(items: list[int]) -> Iterator[list[list[int]]]:
    if not items:
        yield []
        return
    first, *rest = items
    for partition in every_partition(rest):
        yield [[first], *partition]
        for at, block in enumerate(partition):
            yield [*partition[:at], [first, *block], *partition[at + 1 :]]


def most_by_partitions(numbers: list[int]) -> int:
    return max(len(blocks) for blocks in every_partition(numbers) if all(sum(block) == 0 for block in blocks))


def most_that_fit(numbers: list[int], fits: Fits) -> int:
    partitions = every_partition([*range(len(numbers))])
    return max(
        len(groups)
        for groups in partitions
        if all(sum(numbers[at] for at in group) == 0 and fits(tuple(group)) for group in groups)
    )


def most_by_subsets(numbers: Sequence[int]) -> int:
    """The textbook recursion: most groups within a subset is the best without one member, and one more at sum 0."""
    most, sums = [0] * (1 << len(numbers)), [0] * (1 << len(numbers))
    for mask in range(1, len(most)):
        members = [at for at in range(len(numbers)) if mask >> at & 1]
        sums[mask] = sums[mask & mask - 1] + numbers[members[0]]
        most[mask] = max(most[mask ^ 1 << at] for at in members) + (sums[mask] == 0)
    return most[-1]


def can_be_halved(numbers: Sequence[int]) -> bool:
    reachable = {0}
    for number in numbers:
        reachable |= {total + number for total in reachable}
    return sum(numbers) % 2 == 0 and sum(numbers) // 2 in reachable


# --- known ones ------------------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("groups", "numbers"),
    [
        (0, []),
        (1, [0]),
        (1, [7, -7]),
        (3, [7, 0, -7, 0]),
        # our own, computed by exhaustive search
        (3, [10, -10, 5, -3, -2, 7, -7]),
        (2, [-5, -3, -3, 1, 4, 6]),
        (2, [-9, -8, -7, -6, -5, 10, 12, 13]),
    ],
)
def test_known_numbers_split_into_the_known_most_groups(groups: int, numbers: list[int]) -> None:
    assert groups == len(split(numbers).groups)
    assert groups == split(numbers).most


def test_groups_are_named_by_position_in_order() -> None:
    """Own case."""
    assert ((0, 4, 6), (1, 3, 5), (2,), (7, 8)) == split([-10, -7, 0, 4, 2, 3, 8, 9, -9]).groups


def test_numbers_that_do_not_add_up_to_zero_are_a_mistake() -> None:
    with pytest.raises(ValueError, match="add up to 1"):
        split([3, -2])


@pytest.mark.parametrize(
    ("groups", "debts", "bins"),
    [
        (2, [3, 1, 1, 2, 2, 1], [5, 5]),
        (1, [4, 4, 4], [6, 6]),
        (2, [7, 8, 9, 7, 8, 9], [24, 24]),
    ],
)
def test_partition_and_3_partition_reduce_to_it(groups: int, debts: list[int], bins: list[int]) -> None:
    # instances of the problems SP12 and SP15 in Garey & Johnson, Computers and Intractability (1979) [numbering from
    # memory]; groups computed by exhaustive search
    assert groups == len(split([-debt for debt in debts] + bins).groups)


@given(st.lists(st.integers(1, 40), min_size=1, max_size=12))
def test_two_equal_claims_can_be_parted_exactly_when_the_debts_can_be_halved(debts: list[int]) -> None:
    doubled = [2 * debt for debt in debts]
    numbers = [-debt for debt in doubled] + [sum(debts), sum(debts)]

    assert (2 if can_be_halved(doubled) else 1) == len(split(numbers).groups)


# --- against slow twins ----------------------------------------------------------------------------------------------


@settings(deadline=None)
@given(balanced(6, numbers=9) | balanced(300, numbers=9))
def test_no_partition_of_up_to_9_has_more_groups(numbers: list[int]) -> None:
    assert most_by_partitions(numbers) == len(split(numbers).groups)


@given(balanced(30, numbers=12))
def test_the_textbook_recursion_over_subsets_finds_no_more_groups(numbers: list[int]) -> None:
    assert most_by_subsets(numbers) == len(split(numbers).groups)


@given(balanced(30, numbers=12))
def test_the_search_proves_what_the_textbook_recursion_finds(numbers: list[int]) -> None:
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(zero_sums, "ALWAYS_PROVEN", 2)
        found = split(numbers)

    assert is_split(numbers, found)
    assert most_by_subsets(numbers) == len(found.groups) == found.most


def unless_forbidden(numbers: list[int], forbidden: set[int]) -> Fits:
    """By the sum of a group's positions and its size, without any order in it; all together fit."""
    return lambda group: len(group) == len(numbers) or (7 * sum(group) + len(group)) % 5 not in forbidden


@settings(deadline=None)
@given(balanced(4, numbers=8), st.sets(st.integers(0, 4)))
def test_no_partition_into_groups_that_fit_has_more_groups(numbers: list[int], forbidden: set[int]) -> None:
    fits = unless_forbidden(numbers, forbidden)
    found = split(numbers, fits)

    assert is_split(numbers, found)
    assert all(map(fits, found.groups))
    assert most_that_fit(numbers, fits) == len(found.groups) == found.most


@pytest.mark.parametrize(("sets", "work"), [(4, 3_000), (60, 50), (1_000, 200), (0, 0)])
def test_under_tight_limits_the_truth_lies_between_the_groups_that_fit_and_the_most(
    monkeypatch: pytest.MonkeyPatch, sets: int, work: int
) -> None:
    cases = [scattered(8, seed=seed, step=1, largest=6) for seed in range(1, 61)]
    rules = [unless_forbidden(numbers, {seed % 5, seed % 3}) for seed, numbers in enumerate(cases)]
    truths = [most_that_fit(numbers, fits) for numbers, fits in zip(cases, rules, strict=True)]
    monkeypatch.setattr(zero_sums, "_MOST_SETS", sets)
    monkeypatch.setattr(zero_sums, "_MOST_WORK", work)
    for numbers, fits, truth in zip(cases, rules, truths, strict=True):
        found = split(numbers, fits)

        assert is_split(numbers, found)
        assert all(map(fits, found.groups))
        assert len(found.groups) <= truth <= found.most


@pytest.mark.parametrize(
    ("halves", "sets", "work", "window"),
    [(500, 4, 3_000, 20), (500, 60, 50, 10), (500, 150, 60, 20), (200, 1_000, 3_000, 5), (0, 0, 0, 2)],
)
def test_under_tight_limits_the_truth_lies_between_the_groups_found_and_the_most(
    monkeypatch: pytest.MonkeyPatch, halves: int, sets: int, work: int, window: int
) -> None:
    cases = [scattered(14 + seed % 7, seed=seed, step=1, largest=30) for seed in range(1, 121)]
    truths = [len(split(numbers).groups) for numbers in cases]
    monkeypatch.setattr(zero_sums, "ALWAYS_PROVEN", 2)
    monkeypatch.setattr(zero_sums, "_MOST_HALVES", halves)
    monkeypatch.setattr(zero_sums, "_MOST_SETS", sets)
    monkeypatch.setattr(zero_sums, "_MOST_WORK", work)
    monkeypatch.setattr(zero_sums, "_WINDOW", window)
    for numbers, truth in zip(cases, truths, strict=True):
        found = split(numbers)

        assert is_split(numbers, found)
        assert len(found.groups) <= truth <= found.most


@pytest.mark.parametrize("step", [1, 500])
@pytest.mark.parametrize("count", [25, 26])
def test_the_search_proves_what_the_programme_over_all_subsets_finds(count: int, step: int) -> None:
    numbers = without_pairs(count, seed=count, step=step, largest=200_000 // step)
    found = split(numbers)

    assert is_split(numbers, found)
    assert len(zero_sums._split_exactly(numbers)) == len(found.groups) == found.most


def test_a_search_that_gives_up_says_so(monkeypatch: pytest.MonkeyPatch) -> None:
    numbers = scattered(60, seed=1, step=1, largest=200_000)
    monkeypatch.setattr(zero_sums, "_MOST_WORK", 1_000)
    found = split(numbers)

    assert is_split(numbers, found)
    assert len(found.groups) < found.most


# --- sizes -----------------------------------------------------------------------------------------------------------


@pytest.mark.parametrize("step", [1, 500])
def test_as_many_as_promised_are_always_proven(step: int) -> None:
    numbers = without_pairs(ALWAYS_PROVEN, seed=3, step=step, largest=200_000 // step)
    found = split(numbers)

    assert is_split(numbers, found)
    assert len(found.groups) == found.most


@pytest.mark.parametrize(("groups", "each"), [(6, 4), (10, 4), (12, 5), (25, 4)])
def test_groups_that_were_put_in_are_found_and_proven_to_be_the_most(groups: int, each: int) -> None:
    found = split(planted(groups, each=each, seed=7))

    assert groups == len(found.groups) == found.most


@pytest.mark.parametrize("shape", [(2, -1, -1), (7, -3, -2, -2), (4, -1, -1, -1, -1)])
def test_hundreds_of_equal_numbers_are_split_and_proven(shape: tuple[int, ...]) -> None:
    numbers = sorted(shape * 30)

    assert 30 == len(split(numbers).groups) == split(numbers).most


def test_one_claim_on_all_others_is_one_group() -> None:
    assert 1 == len(split([199, *[-1] * 199]).groups) == split([199, *[-1] * 199]).most


def test_hundreds_of_numbers_without_any_small_group_stay_one_group_under_a_stated_bound() -> None:
    # (3^120 - 1) / 4 is 0202...02 in base 3: no set of distinct powers of three adds up to it
    found = split([*(3**power for power in range(120)), -(3**120 - 1) // 4, -(3**120 - 1) // 4])

    assert 1 == len(found.groups) <= found.most


def test_more_than_can_be_searched_are_split_all_the_same() -> None:
    numbers = scattered(600, seed=5, step=1, largest=200_000)
    found = split(numbers)

    assert is_split(numbers, found)
    assert 100 < len(found.groups) < found.most <= 200


# --- laws ------------------------------------------------------------------------------------------------------------


@given(balanced(10**15, numbers=20) | balanced(9, numbers=20))
def test_every_position_is_in_one_group_and_every_group_adds_up_to_zero(numbers: list[int]) -> None:
    assert is_split(numbers, split(numbers))


@given(balanced(20, numbers=16))
def test_no_group_could_be_split_again(numbers: list[int]) -> None:
    for group in split(numbers).groups:
        for size in range(1, len(group)):
            assert all(sum(numbers[at] for at in part) for part in combinations(group, size))


@given(balanced(20, numbers=16), st.integers(-5, 5).filter(bool))
def test_another_unit_or_sign_changes_no_count(numbers: list[int], factor: int) -> None:
    assert len(split(numbers).groups) == len(split([factor * number for number in numbers]).groups)


@given(st.data(), balanced(20, numbers=16))
def test_the_order_of_the_numbers_changes_no_count(data: st.DataObject, numbers: list[int]) -> None:
    assert len(split(numbers).groups) == len(split(data.draw(st.permutations(numbers))).groups)


@given(balanced(20, numbers=10), balanced(20, numbers=10))
def test_numbers_put_together_split_into_at_least_as_many_groups(one: list[int], two: list[int]) -> None:
    assert len(split(one).groups) + len(split(two).groups) <= len(split(one + two).groups)
