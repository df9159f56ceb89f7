"""The calls about needs of coming months, once each, with all that can be said in them: for samples.py."""

from decimal import Decimal
from typing import Any

_OF = {"member": "ALDER", "month": "2026-12"}

NEEDS: dict[str, list[tuple[tuple[Any, ...], dict[str, Any]]]] = {
    "needs": [
        ((), {"months": 6, "level": Decimal("0.95"), "lead_days": 10, "review_days": 0, "member": "ALDER"}),
    ],
    "need": [((), _OF)],
    "put_need": [((60,), {**_OF, "reason": "fleet contract", "tag": '"3"'})],
    "withdraw_need": [((), {**_OF, "tag": '"3"'})],
    "need_versions": [((), {**_OF, "limit": 5})],
}
