"""Callers that record all sorts of things, read positions and repeat themselves, at several servers of one database;
and all that they were told."""

import random
import ssl
import time
from concurrent.futures import ThreadPoolExecutor
from itertools import count

import httpx

from tests.e2e.history import Json, Told
from tests.e2e.servers import ON_DAY, PATIENCE_S
from tests.served import POOL, SHOPS

CALLERS = 8
HISTORY_LIMIT = 200


class MixedLoad:
    """Callers with a key of the keeper's. What each does follows from a seed; what comes of it doesn't."""

    def __init__(self, secret: str, seed: int) -> None:
        self._headers = {"Authorization": f"Bearer {secret}"}
        self._trust = ssl.create_default_context()
        self._chances = [random.Random(seed + place) for place in range(CALLERS)]  # noqa: S311 - repeatable
        self._serial = count(1)
        self.history: list[Told] = []
        self.differing: list[str] = []
        """Keys whose requests, repeated at once and perhaps elsewhere, were answered otherwise."""

    def run(self, addresses: list[str], seconds: float) -> None:
        """Ask for so long; each caller goes from one server to the next."""
        until = time.monotonic() + seconds

        def call(place: int) -> None:
            chance = self._chances[place]
            clients = [self._client(address) for address in addresses]
            while time.monotonic() < until:
                self._ask(chance, chance.choice(clients), chance.choice(clients))
            for each in clients:
                each.close()

        with ThreadPoolExecutor(CALLERS) as threads:
            list(threads.map(call, range(CALLERS)))

    def journal(self, address: str) -> list[Json]:
        """Give every entry, the first one first."""
        entries: list[Json] = []
        cursor: dict[str, str] = {}
        with self._client(address) as http:
            while True:
                page = http.get(f"/v1/pools/{POOL}/journal", params={"limit": str(HISTORY_LIMIT), **cursor}).json()
                entries += page["items"]
                if "next" not in page:
                    return entries[::-1]
                cursor = {"cursor": page["next"]}

    def _ask(self, chance: random.Random, here: httpx.Client, there: httpx.Client) -> None:
        if chance.random() < 0.3:
            self.history.append(self._tell(here, "positions", {}, None))
            return
        path, body = _made_up(chance)
        key = f"mixed-{next(self._serial):07d}"
        first = self._tell(here, path, body, key)
        self.history.append(first)
        if chance.random() < 0.1 and first.status in {201, 409}:
            again = self._tell(there, path, body, key)
            if (again.status, again.answer) != (first.status, first.answer):
                self.differing.append(key)

    def _tell(self, http: httpx.Client, path: str, body: Json, key: str | None) -> Told:
        headers = {} if key is None else {"Idempotency-Key": key}
        sent = time.monotonic()
        try:
            if key is None:
                answer = http.get(f"/v1/pools/{POOL}/{path}", headers=headers)
            else:
                said = {**body, **ON_DAY, "note": key}
                answer = http.post(f"/v1/pools/{POOL}/{path}", json=said, headers=headers)
        except httpx.TransportError:
            return Told(sent=sent, answered=time.monotonic(), key=key, status=0, answer={})
        return Told(sent=sent, answered=time.monotonic(), key=key, status=answer.status_code, answer=answer.json())

    def _client(self, address: str) -> httpx.Client:
        return httpx.Client(base_url=address, headers=self._headers, verify=self._trust, timeout=PATIENCE_S)


def _made_up(chance: random.Random) -> tuple[str, Json]:
    """Give something to record; often there isn't enough for it."""
    member, other = chance.sample(SHOPS, 2)
    quantity = chance.randint(1, 6)
    made: dict[str, Json] = {
        "purchases": {"paid_by": member, "quantity": 3 * quantity, "amount": f"{21 * quantity}.00"},
        "draws": {"member": member, "quantity": quantity},
        "loans": {"lender": member, "borrower": other, "quantity": quantity},
        "returns": {"borrower": member, "lender": other, "quantity": quantity},
        "uses": {"member": member, "quantity": quantity, "item": "CAL-S", "job": f"J-{quantity}"},
    }
    path = chance.choices(list(made), weights=[2, 4, 3, 2, 2])[0]
    return path, made[path]
