"""Recording entries: one by one, or many that are recorded all or not at all."""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date

from pool_client.calls.call import POOL, Answer, Call, model
from pool_client.models.entries import Command, Entry, Preview, Recordable
from pool_client.wire import Json, read, read_json, write

PATHS = {
    "opening": "openings",
    "purchase": "purchases",
    "draw": "draws",
    "loan": "loans",
    "return": "returns",
    "use": "uses",
    "write_off": "write-offs",
    "outside": "outside-movements",
    "relocation": "relocations",
    "charge": "charges",
    "payment": "payments",
    "reversal": "reversals",
    "acknowledgement": "acknowledgements",
}
"""Where each kind is recorded."""


def record(
    pool: str,
    body: Recordable,
    /,
    *,
    effective_on: date | None = None,
    note: str = "",
    reference: str | None = None,
    idempotency_key: str | None = None,
) -> Call[Entry]:
    """Record an entry.

    Takes:   effective_on — today in the pool's time zone unless stated; reference — the client's own, unique in the
             pool; idempotency_key — to repeat an earlier call that had it; a new one is made otherwise.
    Refuses: Refused where the rules or the book say no; the code says which."""
    return Call(
        method="POST",
        path=f"{POOL}/{PATHS[body.kind]}",
        places={"pool": pool},
        body=_said(body, effective_on, note, reference),
        understand=model(Entry),
        keyed=True,
        key=idempotency_key,
    )


def record_all(
    pool: str, commands: Sequence[Command], /, *, idempotency_key: str | None = None
) -> Call[tuple[Entry, ...]]:
    """Record up to 5,000 commands in their order, all of them or none.

    Gives:   their entries, in the same order.
    Refuses: as record; the figures say which command it was."""
    return Call(
        method="POST",
        path=f"{POOL}/batches",
        places={"pool": pool},
        body=_batch(commands),
        understand=_entries,
        keyed=True,
        key=idempotency_key,
    )


def preview(pool: str, commands: Sequence[Command], /) -> Call[Preview]:
    """Look what would become of commands if they were recorded now, and record nothing. Refuses: as record_all."""
    return Call(
        method="POST",
        path=f"{POOL}/batches/preview",
        places={"pool": pool},
        body=_batch(commands),
        understand=model(Preview),
        harmless=True,
    )


def _batch(commands: Sequence[Command]) -> dict[str, Json]:
    said = [(each.body.kind, _said(each.body, each.effective_on, each.note, each.reference)) for each in commands]
    return {"commands": [{"kind": kind, **told} for kind, told in said]}


def _said(body: Recordable, effective_on: date | None, note: str, reference: str | None) -> dict[str, Json]:
    beside = {"effective_on": effective_on, "note": note or None, "reference": reference}
    return {**write(body), **write(beside)}


@dataclass(frozen=True, slots=True, kw_only=True)
class _Batch:
    entries: tuple[Entry, ...]


def _entries(answer: Answer) -> tuple[Entry, ...]:
    return read(_Batch, read_json(answer.content)).entries
