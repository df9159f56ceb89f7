"""Settlements and plans for tests: of dues that are given, or of what members owe each other."""

from collections.abc import Iterable, Mapping

from hypothesis import strategies as st

from pool_api.domain.netting import Settlement, settle
from pool_api.domain.paying import Plan, PlannedPayment, plan
from pool_api.domain.pool import PaymentPlan, Policy, ordered_pairs

TREES = ("ALDER", "BIRCH", "CEDAR", "DOGWOOD", "ELM", "FIR", "GINKGO", "HAZEL", "IVY", "JUNIPER", "KAURI", "LARCH")
DEFAULT = Policy()

amounts = st.integers(-20, 20) | st.integers(-(10**12), 10**12)
balanced_nets = st.lists(amounts, max_size=len(TREES) - 1).map(lambda drawn: [*drawn, -sum(drawn)])


def apart(*pairs: str, plan: PaymentPlan = PaymentPlan.FEWEST) -> Policy:
    """A policy under which pairs such as ALDER+BIRCH don't pay each other."""
    return Policy(payment_plan=plan, no_payments_between=ordered_pairs(pair.split("+") for pair in pairs))


def settled(dues: Mapping[str, int], policy: Policy = DEFAULT) -> Settlement:
    return settle(dues, sum(dues.values()), policy, dict.fromkeys(dues, 1))


def nets_settled(*nets: int, policy: Policy = DEFAULT) -> Settlement:
    return settled(dict(zip(TREES, nets, strict=False)), policy)


def planned(dues: Mapping[str, int], policy: Policy = DEFAULT, *, hub: str | None = None) -> Plan:
    return plan(dict(settled(dues, policy).nets), policy, hub)


def nets_planned(*nets: int, policy: Policy = DEFAULT, hub: str | None = None) -> Plan:
    return planned(dict(zip(TREES, nets, strict=False)), policy, hub=hub)


def owed(debts: Iterable[tuple[str, str, int]]) -> dict[str, int]:
    """Dues from what is owed: (debtor, creditor, amount)."""
    dues: dict[str, int] = {}
    for debtor, creditor, amount in debts:
        dues[debtor] = dues.get(debtor, 0) - amount
        dues[creditor] = dues.get(creditor, 0) + amount
    return dues


def paid(*payments: tuple[str, str, int]) -> tuple[PlannedPayment, ...]:
    return tuple(PlannedPayment(payer=payer, payee=payee, amount=amount) for payer, payee, amount in payments)
