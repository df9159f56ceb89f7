"""What requests were answered, kept under their idempotency keys for as long as the journal lives.

An answer is written in the transaction that does what it tells, and never changes. Its outcome is a JSON object whose
meaning is the asker's own. A key counts for one caller and one operation.
"""

import json
from collections.abc import Collection, Mapping
from typing import NamedTuple

from sqlalchemy import Connection, insert, select, tuple_

from pool_api.domain.entries import Json, canonical
from pool_api.domain.errors import KeyReused
from pool_api.store.tables import answer


class Slot(NamedTuple):
    """Where an answer is kept: for the caller's key, the operation, and the request's idempotency key."""

    key_id: str
    operation: str
    key: str


class Answer(NamedTuple):
    """What was answered to which request; fingerprint is equal exactly for requests that ask for the same."""

    fingerprint: str
    outcome: Json


def read_answers(connection: Connection, pool: str, slots: Collection[Slot]) -> dict[Slot, Answer]:
    """Give the answers that are kept in some slots."""
    columns = (answer.c.key_id, answer.c.operation, answer.c.idempotency_key)
    query = select(*columns, answer.c.fingerprint, answer.c.outcome).where(
        answer.c.pool_id == pool, tuple_(*columns).in_(sorted(set(slots)))
    )
    return {Slot(*row[:3]): Answer(row[3], json.loads(row[4])) for row in connection.execute(query)}


def outcome_of(connection: Connection, pool: str, slot: Slot, fingerprint: str) -> Json | None:
    """Give what the request of a slot was answered, None for a new one. Refuses: KeyReused for a slot that holds the
    answer to another request."""
    kept = read_answers(connection, pool, [slot]).get(slot)
    if kept is None:
        return None
    if kept.fingerprint != fingerprint:
        raise KeyReused(key=slot.key)
    return kept.outcome


def write_answers(connection: Connection, pool: str, answers: Mapping[Slot, Answer], answered_at: str) -> None:
    """Keep answers. StoreConflict where a slot is taken."""
    rows = [
        {
            "pool_id": pool,
            "key_id": slot.key_id,
            "operation": slot.operation,
            "idempotency_key": slot.key,
            "fingerprint": kept.fingerprint,
            "outcome": canonical(kept.outcome).decode(),
            "answered_at": answered_at,
        }
        for slot, kept in answers.items()
    ]
    if rows:
        connection.execute(insert(answer), rows)
