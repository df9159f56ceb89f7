"""The calls about buying, once each, with all that can be said in them: for samples.py, which has all the others."""

from datetime import date
from decimal import Decimal
from typing import Any

from pool_client.models.buying import Needs, Tier

from tests.clients.samples_needs import NEEDS

DAY = date(2026, 11, 3)

BUYING: dict[str, list[tuple[tuple[Any, ...], dict[str, Any]]]] = {
    **NEEDS,
    "ladders": [((), {"limit": 5})],
    "ladder": [((), {"valid_from": DAY})],
    "put_ladder": [(((Tier(from_credits=1, unit_price=Decimal("9.80")),),), {"valid_from": DAY, "tag": '"3"'})],
    "withdraw_ladder": [((), {"valid_from": DAY, "tag": '"3"'})],
    "ladder_versions": [((), {"valid_from": DAY, "limit": 5})],
    "propose_ladders": [
        (
            (b"a;b\n",),
            {
                "valid_from": DAY,
                "day_column": "Since",
                "credits_column": "Size",
                "price_column": "Price",
                "sheet": "Prices",
            },
        )
    ],
    "order_price": [((), {"quantity": 48, "on": DAY})],
    "purchase_checks": [((), {"month": "2026-11", "limit": 5})],
    "plan_orders": [
        (
            ((Needs(member="ALDER", credits=(30, 40)),),),
            {
                "first_month": "2026-12",
                "opening": 20,
                "order_cost": Decimal("5.00"),
                "holding_cost": Decimal("0.105"),
                "expiry": 12,
                "cash_limit": Decimal(4000),
                "stock_cap": 600,
                "idempotency_key": "4f1c2a9e-loan-1",
            },
        ),
    ],
    "order_plans": [((), {"limit": 5})],
    "order_plan": [((), {"plan_id": "00000003"})],
    "plan_savings": [((), {"plan_id": "00000003", "limit": 5})],
    "savings": [((), {"from_month": "2026-10", "to_month": "2026-11"})],
    "savings_csv": [((), {"from_month": "2026-10", "to_month": "2026-11"})],
}
