"""API keys of a pool: made, listed and ended by its keeper or an operator."""

from typing import Annotated, Any, Literal

from fastapi import Path, Response
from pydantic import Field
from starlette.responses import JSONResponse

from pool_api.domain.access import Role
from pool_api.domain.entries import digest
from pool_api.rest.auth import CallerOf
from pool_api.rest.gate import gated_router
from pool_api.rest.office import CursorsOf, OfficeOf
from pool_api.rest.pages import USUAL_ROWS, Cursor, Limit, Page
from pool_api.rest.wire import IdempotencyKey, Instant, MemberCode, PoolId, ShortText, WireModel
from pool_api.services import keys
from pool_api.store.directory import ApiKey

router = gated_router("keys", "/pools/{pool}/keys")

KeyId = Annotated[str, Path(pattern="^[0-9a-f]{12}$", description="The public part of a key.")]


class KeyForm(WireModel):
    """What a key is for; a clerk's names its member, no other does."""

    name: ShortText
    role: Literal["keeper", "clerk", "reader"]
    member: MemberCode | None = None
    expires_at: Instant | None = None


class KeyShown(WireModel):
    """A key without its text."""

    key_id: str = Field(pattern="^[0-9a-f]{12}$")
    name: ShortText
    role: Literal["keeper", "clerk", "reader"]
    member: MemberCode | None = None
    created_at: Instant
    expires_at: Instant | None = None
    revoked_at: Instant | None = None


class KeyMade(KeyShown):
    """A key just made. Its text is shown this once; an answer to a repeated request has none."""

    secret: str | None = Field(default=None, max_length=80)


def _show(key: ApiKey) -> dict[str, Any]:
    shown = {
        "key_id": key.key_id,
        "name": key.name,
        "role": key.role,
        "member": key.member,
        "created_at": key.created_at,
        "expires_at": key.expires_at,
        "revoked_at": key.revoked_at,
    }
    return {name: value for name, value in shown.items() if value is not None}


@router.get("", response_model=Page[KeyShown], operation_id="list_keys", summary="List the keys")
def list_(
    pool: PoolId,
    caller: CallerOf,
    office: OfficeOf,
    cursors: CursorsOf,
    limit: Limit = USUAL_ROWS,
    cursor: Cursor = None,
) -> Response:
    """In order of their ids, ended ones too."""
    place = cursors.open("list_keys", {"pool": pool}, cursor)
    found = keys.list_keys(office, caller, pool, after=place[0] if place else "", limit=limit + 1)
    page: dict[str, Any] = {"items": [_show(key) for key in found[:limit]]}
    if len(found) > limit:
        page["next"] = cursors.seal("list_keys", {"pool": pool}, [found[limit - 1].key_id])
    return JSONResponse(page)


@router.post("", status_code=201, response_model=KeyMade, operation_id="make_key", summary="Make a key")
def create(pool: PoolId, asked: KeyForm, key: IdempotencyKey, caller: CallerOf, office: OfficeOf) -> Response:
    """The text of the key is in the first answer only; a key whose text was lost is ended, and another one made."""
    made, text = keys.make_key(
        office,
        caller,
        pool,
        name=asked.name,
        role=Role(asked.role),
        member=asked.member,
        expires_at=asked.expires_at,
        idempotency_key=key,
        fingerprint=digest(asked.model_dump(mode="json", exclude_none=True)),
    )
    shown = _show(made)
    headers = {"Location": f"/v1/pools/{pool}/keys/{made.key_id}"}
    if text is None:
        headers["Idempotency-Replayed"] = "true"
    else:
        shown["secret"] = text
    return JSONResponse(shown, 201, headers)


@router.get("/{key_id}", response_model=KeyShown, operation_id="read_key", summary="Read a key")
def read(pool: PoolId, key_id: KeyId, caller: CallerOf, office: OfficeOf) -> Response:
    """Everything about a key but its text."""
    return JSONResponse(_show(keys.read_key(office, caller, pool, key_id)))


@router.delete("/{key_id}", status_code=204, operation_id="end_key", summary="End a key")
def delete(pool: PoolId, key_id: KeyId, caller: CallerOf, office: OfficeOf) -> Response:
    """From the next request on it is worth nothing; it stays in the list."""
    keys.end_key(office, caller, pool, key_id)
    return Response(status_code=204)
