"""Laws of what becomes of the dues."""

from dataclasses import replace

from hypothesis import given
from hypothesis import strategies as st

from pool_api.domain.netting import settle
from pool_api.domain.pool import Policy, StockFunding
from tests.domain.settlements import TREES, amounts, balanced_nets, nets_settled, settled

dues = st.dictionaries(st.sampled_from(TREES), amounts)
policies = st.builds(
    Policy,
    stock_funding=st.sampled_from(StockFunding),
    smallest_payment=st.integers(0, 30),
)
shares = st.dictionaries(st.sampled_from(TREES), st.integers(0, 3))


@given(dues, policies, shares)
def test_every_due_is_what_is_carried_and_small_and_net(
    dues: dict[str, int], policy: Policy, shares: dict[str, int]
) -> None:
    settlement = settle(dues, sum(dues.values()), policy, shares)
    carried, small, nets = dict(settlement.carried), dict(settlement.small), dict(settlement.nets)

    assert sum(dues.values()) == sum(carried.values())
    assert 0 == sum(small.values()) == sum(nets.values())
    for member in {*dues, *carried, *small, *nets}:
        assert dues.get(member, 0) == carried.get(member, 0) + small.get(member, 0) + nets.get(member, 0)


@given(st.data(), dues, policies, shares)
def test_the_order_in_which_members_are_named_changes_nothing(
    data: st.DataObject, dues: dict[str, int], policy: Policy, shares: dict[str, int]
) -> None:
    cost = sum(dues.values())
    shuffled = dict(data.draw(st.permutations([*dues.items()])))

    assert settle(dues, cost, policy, shares) == settle(shuffled, cost, policy, dict(reversed(shares.items())))


@given(dues, policies, shares)
def test_everything_is_in_order_of_member_code(dues: dict[str, int], policy: Policy, shares: dict[str, int]) -> None:
    settlement = settle(dues, sum(dues.values()), policy, shares)

    for named in (settlement.carried, settlement.small, settlement.nets):
        assert sorted(named) == [*named]
        assert all(amount for _, amount in named)


@given(dues)
def test_payers_carry_no_more_than_they_are_owed(dues: dict[str, int]) -> None:
    owed_more = {**dues, "ZELKOVA": max(-sum(dues.values()), 0)}
    settlement = settled(owed_more)

    assert all(0 < amount <= owed_more[member] for member, amount in settlement.carried)


@given(dues, policies, shares)
def test_no_net_is_small_and_none_grows_or_turns(dues: dict[str, int], policy: Policy, shares: dict[str, int]) -> None:
    cost = sum(dues.values())
    all_paid = dict(settle(dues, cost, replace(policy, smallest_payment=0), shares).nets)

    for member, net in settle(dues, cost, policy, shares).nets:
        assert policy.smallest_payment <= abs(net) <= abs(all_paid[member])
        assert (net > 0) == (all_paid[member] > 0)


@given(dues, policies, shares)
def test_every_net_below_the_smallest_payment_is_carried_whole(
    dues: dict[str, int], policy: Policy, shares: dict[str, int]
) -> None:
    cost = sum(dues.values())
    all_paid = dict(settle(dues, cost, replace(policy, smallest_payment=0), shares).nets)
    small = dict(settle(dues, cost, policy, shares).small)

    for member, net in all_paid.items():
        if abs(net) < policy.smallest_payment:
            assert net == small[member]


@given(dues, policies, shares)
def test_at_most_one_member_is_carried_in_part(dues: dict[str, int], policy: Policy, shares: dict[str, int]) -> None:
    settlement = settle(dues, sum(dues.values()), policy, shares)

    assert len({member for member, _ in settlement.small} & {member for member, _ in settlement.nets}) <= 1


@given(balanced_nets, st.integers(0, 30))
def test_nets_that_are_settled_leave_nothing_small(nets: list[int], smallest: int) -> None:
    policy = Policy(smallest_payment=smallest)
    once = dict(nets_settled(*nets, policy=policy).nets)

    assert ((), tuple(once.items())) == (settled(once, policy).small, settled(once, policy).nets)


@given(dues)
def test_nothing_is_small_where_everything_is_paid(dues: dict[str, int]) -> None:
    assert () == settled(dues).small
