"""Samples of the calls about joint orders and requests for credits, as samples.py has those of all others."""

from datetime import UTC, date, datetime
from decimal import Decimal
from typing import Any

from pool_client.models.rounds import RoundOrder

KEY = "4f1c2a9e-loan-1"
ROUND = "00000003"
UNTIL = datetime(2026, 11, 20, 11, tzinfo=UTC)

ROUNDS: dict[str, list[tuple[tuple[Any, ...], dict[str, Any]]]] = {
    "open_round": [((), {"deadline": UNTIL, "note": "for December", "idempotency_key": KEY})],
    "rounds": [((), {"limit": 5})],
    "round_": [((), {"round_id": ROUND})],
    "commitment": [((), {"round_id": ROUND, "member": "ALDER"})],
    "put_commitment": [((), {"round_id": ROUND, "member": "ALDER", "quantity": 120, "tag": '"3"'})],
    "extend_round": [
        ((), {"round_id": ROUND, "deadline": UNTIL, "reason": "two are away", "idempotency_key": KEY}),
    ],
    "call_off_round": [((), {"round_id": ROUND, "reason": "prices fall", "idempotency_key": KEY})],
    "close_round": [
        (
            (
                RoundOrder(
                    paid_by="ALDER",
                    quantity=500,
                    amount=Decimal("3450.00"),
                    order_number="N-20817",
                    effective_on=date(2026, 11, 20),
                    note="with two for the stock",
                ),
            ),
            {"round_id": ROUND, "seen": 4, "accept_unanswered": True, "idempotency_key": KEY},
        )
    ],
    "ask": [
        (
            (),
            {
                "member": "DOGWOOD",
                "quantity": 24,
                "needed_by": UNTIL,
                "note": "customer waiting",
                "idempotency_key": KEY,
            },
        )
    ],
    "credit_requests": [((), {"ended": True, "limit": 5})],
    "credit_request": [((), {"request_id": ROUND})],
    "take_up": [((), {"request_id": ROUND, "lender": "BIRCH", "note": "until Friday", "idempotency_key": KEY})],
    "withdraw_request": [((), {"request_id": ROUND, "reason": "customer left", "idempotency_key": KEY})],
}
