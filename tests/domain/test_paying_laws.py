"""Laws of plans of payments, and independent programmes that find no fewer payments and no other way out."""

from collections.abc import Iterable, Mapping, Sequence
from itertools import combinations

import networkx as nx  # type: ignore[import-untyped]
import numpy as np
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.optimize import Bounds, LinearConstraint, milp

from pool_api.domain.paying import Plan, plan
from pool_api.domain.pool import Pairs, PaymentPlan, Policy, ordered_pairs
from tests.domain.settlements import TREES, balanced_nets

HUB = "ALDER"
few_nets = st.lists(st.integers(-6, 6).filter(bool), max_size=5).filter(lambda drawn: sum(drawn) != 0) | st.just([1])
nets_by_member = balanced_nets.map(lambda nets: {tree: net for tree, net in zip(TREES, nets, strict=False) if net})
few_by_member = few_nets.map(lambda drawn: dict(zip(TREES[1:], [*drawn, -sum(drawn)], strict=False)))
few_pairs = st.lists(st.sampled_from([*combinations(TREES[:8], 2)]), max_size=12).map(ordered_pairs)
policies = st.builds(Policy, payment_plan=st.sampled_from(PaymentPlan), no_payments_between=few_pairs)


def remaining(nets: Mapping[str, int], found: Plan) -> dict[str, int]:
    left = dict(nets)
    for payment in found.payments:
        left[payment.payer] = left.get(payment.payer, 0) + payment.amount
        left[payment.payee] = left.get(payment.payee, 0) - payment.amount
    return {member: amount for member, amount in left.items() if amount}


def links(found: Plan) -> nx.Graph:
    return nx.Graph((payment.payer, payment.payee) for payment in found.payments)


@given(nets_by_member, policies)
def test_payments_clear_the_nets_between_those_that_may_pay(nets: dict[str, int], policy: Policy) -> None:
    found = plan(nets, policy, HUB)

    assert found.unpayable or {} == remaining(nets, found)
    assert all(payment.amount > 0 for payment in found.payments)
    assert {*ordered_pairs((each.payer, each.payee) for each in found.payments)}.isdisjoint(policy.no_payments_between)
    assert found.unpayable or found.lower_bound <= len(found.payments)


@given(nets_by_member, policies)
def test_payments_form_trees_in_order(nets: dict[str, int], policy: Policy) -> None:
    found = plan(nets, policy, HUB)
    pairs = [(payment.payer, payment.payee) for payment in found.payments]

    assert sorted(set(pairs)) == pairs
    assert not pairs or nx.is_forest(links(found))
    assert len(pairs) <= len({*nets, HUB}) - 1


@given(nets_by_member)
def test_where_all_may_pay_nobody_passes_on_and_no_more_moves_than_is_owed(nets: dict[str, int]) -> None:
    found = plan(nets, Policy(), None)

    assert () == found.go_betweens
    assert sum(net for net in nets.values() if net > 0) == sum(payment.amount for payment in found.payments)


@given(nets_by_member)
def test_there_are_at_least_as_many_payments_as_debtors_or_creditors_and_fewer_than_members(
    nets: dict[str, int],
) -> None:
    found = plan(nets, Policy(), None)
    debtors = sum(net < 0 for net in nets.values())

    assert max(debtors, len(nets) - debtors) <= found.lower_bound == len(found.payments)
    assert len(found.payments) <= max(len(nets) - 1, 0)


@given(st.data(), nets_by_member, policies)
def test_the_order_in_which_members_are_named_changes_nothing(
    data: st.DataObject, nets: dict[str, int], policy: Policy
) -> None:
    assert plan(nets, policy, HUB) == plan(dict(data.draw(st.permutations([*nets.items()]))), policy, HUB)


@settings(max_examples=60, deadline=None)
@given(few_by_member, few_pairs)
def test_a_mixed_integer_programme_over_all_payments_finds_no_fewer(nets: dict[str, int], pairs: Pairs) -> None:
    """Without go-betweens where that is possible, else with them, with the hub as another where there is no way yet."""
    found = plan(nets, Policy(no_payments_between=pairs), HUB)
    fewest = (
        fewest_by_programme(nets, pairs, direct=True)
        or fewest_by_programme(nets, pairs, direct=False)
        or fewest_by_programme({**nets, HUB: 0}, pairs, direct=False)
    )

    assert fewest == (None if found.unpayable else len(found.payments))
    assert found.unpayable or found.proven


@given(few_by_member, few_pairs)
def test_somebody_passes_money_on_only_where_no_flow_from_debtors_to_creditors_clears_the_nets(
    nets: dict[str, int], pairs: Pairs
) -> None:
    found = plan(nets, Policy(no_payments_between=pairs), None)
    network = nx.DiGraph([("debts", "claims", {"capacity": 0})])
    for member, net in nets.items():
        network.add_edge("debts", member, capacity=max(-net, 0))
        network.add_edge(member, "claims", capacity=max(net, 0))
    for payer, payee in may_pay(nets, pairs, direct=True):
        network.add_edge(payer, payee)
    owed = sum(net for net in nets.values() if net > 0)
    cleared: int = nx.maximum_flow_value(network, "debts", "claims")

    assert (cleared == owed) == (not found.go_betweens and not found.unpayable)


@given(few_by_member, few_pairs)
def test_through_a_hub_nobody_that_reaches_it_is_left_out(nets: dict[str, int], pairs: Pairs) -> None:
    found = plan(nets, Policy(payment_plan=PaymentPlan.HUB, no_payments_between=pairs), HUB)
    allowed = nx.Graph(may_pay({*nets, HUB}, pairs))
    allowed.add_nodes_from([*nets, HUB])
    reached = nx.node_connected_component(allowed, HUB)

    assert tuple(sorted({*nets} - reached)) == found.unpayable


def may_pay(nets: Mapping[str, int] | Iterable[str], pairs: Pairs, *, direct: bool = False) -> list[tuple[str, str]]:
    """Who may pay whom; directly, only who owes whom that is owed."""
    amounts = dict.fromkeys(nets, 0) if not isinstance(nets, Mapping) else nets
    return [
        (payer, payee)
        for payer in amounts
        for payee in amounts
        if payer != payee
        and not {(payer, payee), (payee, payer)} & {*pairs}
        and (not direct or amounts[payer] < 0 < amounts[payee])
    ]


def fewest_by_programme(nets: Mapping[str, int], pairs: Pairs, *, direct: bool) -> int | None:
    """Fixed-charge flow: an amount, and whether there is a payment, for each pair; None where there is no such flow."""
    ways: Sequence[tuple[str, str]] = may_pay(nets, pairs, direct=direct)
    if not ways:
        return None
    most = sum(net for net in nets.values() if net > 0)
    none = np.zeros(len(ways))
    gives = np.array([[*((at == way[0]) - (at == way[1]) for way in ways), *none] for at in nets], dtype=int)
    owes = [-net for net in nets.values()]
    found = milp(
        [*none, *np.ones(len(ways))],
        integrality=np.ones(2 * len(ways)),
        bounds=Bounds(0, [*[most] * len(ways), *np.ones(len(ways))]),
        constraints=[
            LinearConstraint(gives, owes, owes),
            LinearConstraint(np.hstack([np.eye(len(ways)), -most * np.eye(len(ways))]), ub=0),
        ],
    )
    return round(found.fun) if found.success else None
