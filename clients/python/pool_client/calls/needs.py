"""What coming months need: read as forecast and stated, stated by hand, withdrawn."""

from decimal import Decimal

from pool_client.calls.call import POOL, Call, Page, Versioned, get, model, nothing, page, query, versioned
from pool_client.models.needs import ComingNeeds, Need, NeedVersion

_NEEDS = f"{POOL}/needs"
_NEED = f"{_NEEDS}/{{member}}/{{month}}"


def needs(
    pool: str,
    /,
    *,
    months: int | None = None,
    level: Decimal | None = None,
    lead_days: int | None = None,
    review_days: int | None = None,
    member: str | None = None,
) -> Call[ComingNeeds]:
    """Give what coming months need, with how far forecasts were off, and how long what is at hand lasts.

    Takes:   months — how many, the present one included (None: 12); level — with what certainty credits are to last
             (None: 0.95); lead_days — from an order to its credits, review_days — to the next look (None: 7)."""
    asked = query(months=months, level=level, lead_days=lead_days, review_days=review_days, member=member)
    return get(_NEEDS, {"pool": pool}, model(ComingNeeds), query=asked)


def need(pool: str, /, *, member: str, month: str) -> Call[Versioned[Need]]:
    """Give a need that was stated by hand."""
    return get(_NEED, _places(pool, member, month), versioned(Need))


def put_need(
    pool: str, quantity: int, /, *, member: str, month: str, reason: str, tag: str | None = None
) -> Call[Versioned[Need]]:
    """State what a member needs in a whole month, or change what was read with a tag.

    Refuses: Refused for a month that is over, or one in which it isn't in the pool; Stale when somebody was faster."""
    return Call(
        method="PUT",
        path=_NEED,
        places=_places(pool, member, month),
        headers={} if tag is None else {"If-Match": tag},
        body={"quantity": quantity, "reason": reason},
        understand=versioned(Need),
    )


def withdraw_need(pool: str, /, *, member: str, month: str, tag: str) -> Call[None]:
    """Let the forecast count again in place of what was read with a tag; its versions stay."""
    return Call(
        method="DELETE",
        path=_NEED,
        places=_places(pool, member, month),
        headers={"If-Match": tag},
        understand=nothing,
    )


def need_versions(pool: str, /, *, member: str, month: str, limit: int | None = None) -> Call[Page[NeedVersion]]:
    """Give all that was stated of a need, newest first."""
    return get(f"{_NEED}/versions", _places(pool, member, month), page(NeedVersion), query=query(limit=limit))


def _places(pool: str, member: str, month: str) -> dict[str, str]:
    return {"pool": pool, "member": member, "month": month}
