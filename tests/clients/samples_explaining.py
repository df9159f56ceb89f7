"""The calls about why and what if, once each, with all that can be said in them: for samples.py, which has all the
others."""

from decimal import Decimal
from typing import Any

from pool_client.models.directory import (
    LoanPrice,
    LoansAtClose,
    PaymentPlan,
    SavingRule,
    StockCosting,
    StockFunding,
)

EXPLAINING: dict[str, list[tuple[tuple[Any, ...], dict[str, Any]]]] = {
    "figures": [((), {"month": "2026-11", "under": "members.BIRCH", "limit": 5})],
    "explanation": [((), {"month": "2026-11", "figure": "members.BIRCH.due.draws", "depth": 2, "limit": 5})],
    "operands": [((), {"month": "2026-11", "figure": "members.BIRCH.due.draws", "limit": 5})],
    "comparison": [
        (
            (),
            {
                "month": "2026-11",
                "stock_costing": StockCosting.FIFO,
                "loan_price": LoanPrice.LENDER,
                "loans_at_close": LoansAtClose.CARRY,
                "stock_funding": StockFunding.SHARES,
                "payment_plan": PaymentPlan.HUB,
                "smallest_payment": Decimal("5.00"),
                "no_payments_between": (("ALDER", "BIRCH"), ("ALDER", "CEDAR")),
                "saving_rule": SavingRule.SHAPLEY,
            },
        ),
    ],
}
