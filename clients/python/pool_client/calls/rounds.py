"""Joint orders: opened, committed to, closed into a purchase and its draws, or called off."""

from datetime import datetime
from typing import Any, TypeVar

from pool_client.calls.call import POOL, Call, Page, Versioned, get, model, page, query, versioned
from pool_client.models.rounds import Commitment, Round, RoundClosed, RoundListed, RoundOrder, RoundStep
from pool_client.wire import write

_ROUNDS = f"{POOL}/order-rounds"
_ROUND = f"{_ROUNDS}/{{round_id}}"
_COMMITMENT = f"{_ROUND}/commitments/{{member}}"

T = TypeVar("T")


def open_round(
    pool: str, /, *, deadline: datetime, note: str = "", idempotency_key: str | None = None
) -> Call[RoundStep]:
    """Open a joint order that members commit to until a deadline."""
    return _post(_ROUNDS, {"pool": pool}, {"deadline": deadline, "note": note or None}, RoundStep, idempotency_key)


def rounds(pool: str, /, *, limit: int | None = None) -> Call[Page[RoundListed]]:
    """Give the joint orders, newest first."""
    return get(_ROUNDS, {"pool": pool}, page(RoundListed), query=query(limit=limit))


def round_(pool: str, /, *, round_id: str) -> Call[Round]:
    """Give a joint order as it is now: commitments, who hasn't answered, and what it comes to."""
    return get(_ROUND, {"pool": pool, "round_id": round_id}, model(Round))


def commitment(pool: str, /, *, round_id: str, member: str) -> Call[Versioned[Commitment]]:
    """Give what a member has committed to."""
    return get(_COMMITMENT, {"pool": pool, "round_id": round_id, "member": member}, versioned(Commitment))


def put_commitment(
    pool: str, /, *, round_id: str, member: str, quantity: int, tag: str | None = None
) -> Call[Versioned[Commitment]]:
    """Commit a member to a quantity, 0 included, or change the commitment that was read with a tag.

    Refuses: Refused when the round takes none any more; Stale when somebody was faster."""
    return Call(
        method="PUT",
        path=_COMMITMENT,
        places={"pool": pool, "round_id": round_id, "member": member},
        headers={} if tag is None else {"If-Match": tag},
        body={"quantity": quantity},
        understand=versioned(Commitment),
    )


def extend_round(
    pool: str, /, *, round_id: str, deadline: datetime, reason: str, idempotency_key: str | None = None
) -> Call[RoundStep]:
    """Move a round's deadline to a later instant."""
    said = {"deadline": deadline, "reason": reason}
    return _post(f"{_ROUND}/extensions", _places(pool, round_id), said, RoundStep, idempotency_key)


def call_off_round(pool: str, /, *, round_id: str, reason: str, idempotency_key: str | None = None) -> Call[RoundStep]:
    """End a round without a purchase."""
    return _post(f"{_ROUND}/calling-off", _places(pool, round_id), {"reason": reason}, RoundStep, idempotency_key)


def close_round(
    pool: str,
    order: RoundOrder,
    /,
    *,
    round_id: str,
    seen: int,
    accept_unanswered: bool = False,
    idempotency_key: str | None = None,
) -> Call[RoundClosed]:
    """Record a round's one purchase and the draws of those who committed, all or nothing and once.

    Takes:   seen — the version of the round that was looked at.
    Refuses: Stale when the round is another by now; Refused where the rules or the book say no."""
    said = {**write(order), "seen": seen, "accept_unanswered": accept_unanswered}
    return _post(f"{_ROUND}/close", _places(pool, round_id), said, RoundClosed, idempotency_key)


def _places(pool: str, round_id: str) -> dict[str, str]:
    return {"pool": pool, "round_id": round_id}


def _post(path: str, places: dict[str, str], said: dict[str, Any], form: type[T], key: str | None) -> Call[T]:
    return Call(method="POST", path=path, places=places, body=write(said), understand=model(form), keyed=True, key=key)
