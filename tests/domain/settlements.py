"""Settlements for the tests of netting: of dues that are given, or of what members owe each other."""

from collections.abc import Iterable, Mapping

from pool_api.domain.netting import PlannedPayment, Settlement, settle
from pool_api.domain.pool import Policy

TREES = ("ALDER", "BIRCH", "CEDAR", "DOGWOOD", "ELM", "FIR", "GINKGO", "HAZEL", "IVY", "JUNIPER", "KAURI", "LARCH")
DEFAULT = Policy()


def settled(dues: Mapping[str, int], policy: Policy = DEFAULT, *, hub: str | None = None) -> Settlement:
    return settle(dues, sum(dues.values()), policy, dict.fromkeys(dues, 1), hub)


def nets_settled(*nets: int, policy: Policy = DEFAULT) -> Settlement:
    return settled(dict(zip(TREES, nets, strict=False)), policy)


def owed(debts: Iterable[tuple[str, str, int]]) -> dict[str, int]:
    """Dues from what is owed: (debtor, creditor, amount)."""
    dues: dict[str, int] = {}
    for debtor, creditor, amount in debts:
        dues[debtor] = dues.get(debtor, 0) - amount
        dues[creditor] = dues.get(creditor, 0) + amount
    return dues


def paid(*payments: tuple[str, str, int]) -> tuple[PlannedPayment, ...]:
    return tuple(PlannedPayment(payer=payer, payee=payee, amount=amount) for payer, payee, amount in payments)
