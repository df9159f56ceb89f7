"""Laws of settling, and an independent programme that finds no fewer payments."""

from collections.abc import Sequence
from dataclasses import replace

import numpy as np
from hypothesis import given
from hypothesis import strategies as st
from scipy.optimize import Bounds, LinearConstraint, milp
from scipy.sparse.csgraph import connected_components

from pool_api.domain.netting import settle
from pool_api.domain.pool import PaymentPlan, Policy, StockFunding
from tests.domain.settlements import TREES, nets_settled, settled

amounts = st.integers(-20, 20) | st.integers(-(10**12), 10**12)
dues = st.dictionaries(st.sampled_from(TREES), amounts)
balanced_nets = st.lists(amounts, max_size=len(TREES) - 1).map(lambda drawn: [*drawn, -sum(drawn)])
policies = st.builds(
    Policy,
    stock_funding=st.sampled_from(StockFunding),
    payment_plan=st.sampled_from(PaymentPlan),
    smallest_payment=st.integers(0, 30),
)
shares = st.dictionaries(st.sampled_from(TREES), st.integers(0, 3))


@given(dues, policies, shares)
def test_every_due_is_what_is_carried_and_small_and_net(
    dues: dict[str, int], policy: Policy, shares: dict[str, int]
) -> None:
    settlement = settle(dues, sum(dues.values()), policy, shares, "ALDER")
    carried, small, nets = dict(settlement.carried), dict(settlement.small), dict(settlement.nets)

    assert sum(dues.values()) == sum(carried.values())
    assert 0 == sum(small.values()) == sum(nets.values())
    for member in {*dues, *carried, *small, *nets}:
        assert dues.get(member, 0) == carried.get(member, 0) + small.get(member, 0) + nets.get(member, 0)


@given(dues, policies, shares)
def test_payments_clear_the_nets(dues: dict[str, int], policy: Policy, shares: dict[str, int]) -> None:
    settlement = settle(dues, sum(dues.values()), policy, shares, "ALDER")
    remaining = dict(settlement.nets)
    for payment in settlement.payments:
        remaining[payment.payer] = remaining.get(payment.payer, 0) + payment.amount
        remaining[payment.payee] = remaining.get(payment.payee, 0) - payment.amount

    assert not any(remaining.values())
    assert all(payment.amount > 0 for payment in settlement.payments)
    assert settlement.lower_bound <= len(settlement.payments)


@given(balanced_nets)
def test_nobody_both_pays_and_receives_and_no_more_money_moves_than_is_owed(nets: list[int]) -> None:
    payments = nets_settled(*nets).payments

    assert {payment.payer for payment in payments}.isdisjoint(payment.payee for payment in payments)
    assert sum(net for net in nets if net > 0) == sum(payment.amount for payment in payments)


@given(balanced_nets)
def test_there_are_at_least_as_many_payments_as_debtors_or_creditors_and_fewer_than_members(nets: list[int]) -> None:
    settlement = nets_settled(*nets)
    debtors, creditors = sum(net < 0 for net in nets), sum(net > 0 for net in nets)

    assert max(debtors, creditors) <= settlement.lower_bound == len(settlement.payments)
    assert len(settlement.payments) <= max(debtors + creditors - 1, 0)


@given(balanced_nets)
def test_payments_form_trees_each_of_which_adds_up_to_zero(nets: list[int]) -> None:
    settlement = nets_settled(*nets)
    members = [member for member, _ in settlement.nets]
    pays = np.zeros((len(members), len(members)))
    for payment in settlement.payments:
        pays[members.index(payment.payer), members.index(payment.payee)] = 1
    trees, tree_of = connected_components(pays) if members else (0, [])
    totals = [0] * trees
    for tree, (_, net) in zip(tree_of, settlement.nets, strict=True):
        totals[tree] += net

    assert len(members) - trees == len(settlement.payments)
    assert not any(totals)


@given(st.data(), dues, policies, shares)
def test_the_order_in_which_members_are_named_changes_nothing(
    data: st.DataObject, dues: dict[str, int], policy: Policy, shares: dict[str, int]
) -> None:
    cost = sum(dues.values())
    shuffled = dict(data.draw(st.permutations([*dues.items()])))

    assert settle(dues, cost, policy, shares, "ALDER") == settle(
        shuffled, cost, policy, dict(reversed(shares.items())), "ALDER"
    )


@given(dues, policies, shares)
def test_everything_is_in_order_of_member_code(dues: dict[str, int], policy: Policy, shares: dict[str, int]) -> None:
    settlement = settle(dues, sum(dues.values()), policy, shares, "ALDER")
    pairs = [(payment.payer, payment.payee) for payment in settlement.payments]

    assert sorted(set(pairs)) == pairs
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
    all_paid = dict(settle(dues, cost, replace(policy, smallest_payment=0), shares, "ALDER").nets)

    for member, net in settle(dues, cost, policy, shares, "ALDER").nets:
        assert policy.smallest_payment <= abs(net) <= abs(all_paid[member])
        assert (net > 0) == (all_paid[member] > 0)


@given(st.lists(st.integers(-9, 9), max_size=7).map(lambda drawn: [*drawn, -sum(drawn)]))
def test_a_mixed_integer_programme_over_all_payments_finds_no_fewer(nets: list[int]) -> None:
    assert fewest_by_programme(nets) == len(nets_settled(*nets).payments)


def fewest_by_programme(nets: Sequence[int]) -> int:
    """Fixed-charge flow from debtors to creditors: an amount, and whether there is a payment, for each pair."""
    debtors = [at for at, net in enumerate(nets) if net < 0]
    creditors = [at for at, net in enumerate(nets) if net > 0]
    pairs = [(debtor, creditor) for debtor in debtors for creditor in creditors]
    if not pairs:
        return 0
    most = [min(-nets[debtor], nets[creditor]) for debtor, creditor in pairs]
    none = np.zeros(len(pairs))
    sides = np.array([[*(at in pair for pair in pairs), *none] for at in (*debtors, *creditors)], dtype=int)
    sizes = [abs(nets[at]) for at in (*debtors, *creditors)]
    found = milp(
        [*none, *np.ones(len(pairs))],
        integrality=np.ones(2 * len(pairs)),
        bounds=Bounds(0, [*most, *np.ones(len(pairs))]),
        constraints=[
            LinearConstraint(sides, sizes, sizes),
            LinearConstraint(np.hstack([np.eye(len(pairs)), -np.diag(most)]), ub=0),
        ],
    )
    fewest: int = round(found.fun)
    return fewest
