"""API keys of a pool: made, listed and ended by its keeper or an operator."""

from typing import Annotated, Any, Literal

from fastapi import Path, Response
from pydantic import Field
from starlette.responses import JSONResponse

from pool_api.domain.access import Role
from pool_api.domain.entries import digest
from pool_api.rest import replies
from pool_api.rest.auth import CallerOf
from pool_api.rest.gate import gated_router
from pool_api.rest.office import CursorsOf, OfficeOf
from pool_api.rest.pages import USUAL_ROWS, Cursor, Limit, Page
from pool_api.rest.wire import IdempotencyKey, Instant, MemberCode, PoolId, ShortText, WireModel, stated
from pool_api.services import keys
from pool_api.store.directory import ApiKey

router = gated_router("keys", "/pools/{pool}/keys")

_KEY_ID = "^[0-9a-f]{12}$"
KeyId = Annotated[str, Path(pattern=_KEY_ID, description="The public part of a key.")]


class KeyForm(WireModel):
    """What a key is for; a clerk's names its member, no other does."""

    name: ShortText
    role: Literal["keeper", "clerk", "reader"]
    member: MemberCode | None = None
    expires_at: Instant | None = None


class KeyShown(WireModel):
    """A key without its text. Its last use is noted to within a minute."""

    key_id: str = Field(pattern=_KEY_ID)
    name: ShortText
    role: Literal["keeper", "clerk", "reader"]
    member: MemberCode | None = None
    created_at: Instant
    expires_at: Instant | None = None
    revoked_at: Instant | None = None
    last_used_at: Instant | None = None


class KeyMade(KeyShown):
    """A key just made. Its text is shown this once; an answer to a repeated request has none."""

    secret: str | None = Field(default=None, max_length=80)


def _show(key: ApiKey) -> dict[str, Any]:
    return stated(
        {
            "key_id": key.key_id,
            "name": key.name,
            "role": key.role,
            "member": key.member,
            "created_at": key.created_at,
            "expires_at": key.expires_at,
            "revoked_at": key.revoked_at,
            "last_used_at": key.last_used_at,
        }
    )


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
    return cursors.page(
        "list_keys",
        {"pool": pool},
        cursor,
        limit,
        read=lambda after, most: keys.list_keys(office, caller, pool, after=after or "", limit=most),
        show=_show,
        place=lambda key: key.key_id,
    )


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
    shown = stated({**_show(made), "secret": text})
    return replies.made(shown, f"/pools/{pool}/keys/{made.key_id}", replayed=text is None)


@router.get("/{key_id}", response_model=KeyShown, operation_id="read_key", summary="Read a key")
def read(pool: PoolId, key_id: KeyId, caller: CallerOf, office: OfficeOf) -> Response:
    """Everything about a key but its text."""
    return JSONResponse(_show(keys.read_key(office, caller, pool, key_id)))


@router.delete("/{key_id}", status_code=204, operation_id="end_key", summary="End a key")
def delete(pool: PoolId, key_id: KeyId, caller: CallerOf, office: OfficeOf) -> Response:
    """From the next request on it is worth nothing; it stays in the list."""
    keys.end_key(office, caller, pool, key_id)
    return Response(status_code=204)
