"""A pool whose custodian is ALDER, with a column profile and a book: 100 bought, 40 and twice 5 drawn in September."""

from dataclasses import dataclass
from typing import Any

import httpx

from tests.served import POOL, Served

PROFILE = {
    "day": "Booked",
    "kind": "Action",
    "counterparty": "Other account",
    "quantity": "Credits",
    "note": "Remark",
    "balance": "Balance after",
    "kind_words": {"sent": "sent", "received": "received", "unlock": "use", "top-up": "purchase", "refund": "refund"},
}
HEADER = "Booked,Action,Other account,Credits,Remark,Balance after\n"


@dataclass
class Exported:
    """The service with that pool."""

    served: Served

    def give(self, content: str, *, member: str = "ALDER", key: str = "", **more: str) -> dict[str, Any]:
        """Import a file and give the answer."""
        answer = self.served.http.post(
            f"/v1/pools/{POOL}/vendor-records",
            params={"member": member, "profile": "norvane", **more},
            content=content.encode(),
            headers={
                "Authorization": f"Bearer {self.served.keys['keeper']}",
                "Content-Type": "text/csv",
                "Idempotency-Key": key or f"file-key-{next(self.served.numbers):06d}",
            },
        )
        told: dict[str, Any] = answer.json()
        assert 201 == answer.status_code, told
        return told

    def http(self, method: str, path: str, body: Any = None, **headers: str) -> httpx.Response:
        """Call an operation of the pool as its keeper."""
        return self.served.send(method, path, body, **headers)

    def reconciled(self, month: str = "2026-09") -> dict[str, Any]:
        """Compare a month."""
        found: dict[str, Any] = self.http("GET", f"/reconciliations/{month}").json()
        return found

    def decide(self, difference: str, verdict: str) -> httpx.Response:
        """Accept or dismiss a difference of September."""
        said = {"difference": difference, "verdict": verdict, "reason": "as the vendor says"}
        return self.http("POST", "/reconciliations/2026-09/decisions", said)


def exported(service: Served) -> Exported:
    """Set the pool up."""
    terms = service.send("GET", f"/v1/pools/{POOL}")
    changed = {**terms.json(), "custodian": "ALDER"}
    del changed["id"]
    assert 200 == service.send("PUT", f"/v1/pools/{POOL}", changed, If_Match=terms.headers["etag"]).status_code
    assert 201 == service.send("PUT", "/column-profiles/norvane", PROFILE).status_code
    bought = {"paid_by": "ALDER", "quantity": 100, "amount": "700.00", "effective_on": "2026-09-02"}
    service.send("POST", "/purchases", bought)
    for member, quantity in (("BIRCH", 40), ("CEDAR", 5), ("CEDAR", 5)):
        service.send("POST", "/draws", {"member": member, "quantity": quantity, "effective_on": "2026-09-03"})
    return Exported(service)
