"""How entries hang together: each has the hash of the one before it, so that none can be changed, left out or put in
without showing.

What is hashed is all that an entry says, in the canonical bytes of entries.py.
"""

from dataclasses import replace

from pool_api.domain.entries import Command, Entry, body_json, digest

GENESIS = "0" * 64
"""The hash that stands before the first entry of a pool."""

CHAIN = "credit-pool/1"
"""The domain of the hash: names the chain's version, so that no other hash can be mistaken for an entry's."""


def chained(pool: str, number: int, previous_hash: str, command: Command, recorded_at: str) -> Entry:
    """Make the entry that follows previous_hash in a pool's journal."""
    entry = Entry(
        number=number,
        body=command.body,
        effective_on=command.effective_on,
        recorded_at=recorded_at,
        recorded_by=command.recorded_by,
        note=command.note,
        reference=command.reference,
        previous_hash=previous_hash,
        hash="",
    )
    return replace(entry, hash=entry_hash(pool, entry))


def entry_hash(pool: str, entry: Entry) -> str:
    """Give the hash that an entry should have: SHA-256 over all it says and the hash before it, in canonical bytes."""
    return digest(
        {
            "chain": CHAIN,
            "pool": pool,
            "number": entry.number,
            "kind": entry.kind,
            "effective_on": entry.effective_on.isoformat(),
            "recorded_at": entry.recorded_at,
            "recorded_by": entry.recorded_by,
            "note": entry.note,
            "reference": entry.reference,
            "body": body_json(entry.body),
            "previous_hash": entry.previous_hash,
        }
    )
