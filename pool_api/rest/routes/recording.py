"""Recording entries: one address for each kind, and batches that are all or nothing."""

from collections.abc import Sequence
from typing import Annotated, Any, Union

from fastapi import Response
from fastapi.responses import JSONResponse
from pydantic import Field

from pool_api.domain.access import Caller
from pool_api.domain.entries import Command, digest
from pool_api.rest.auth import CallerOf
from pool_api.rest.entry_forms import (
    COMMANDS,
    FORMS,
    EntryForm,
    EntryShown,
    entry_answer,
    recorded_answer,
    show_entry,
)
from pool_api.rest.gate import gated_router
from pool_api.rest.office import OfficeOf
from pool_api.rest.openapi import LOCATION, also
from pool_api.rest.rehearsal_forms import BatchRehearsed, show_rehearsed
from pool_api.rest.wire import IdempotencyKey, PoolId, WireModel
from pool_api.services import recording
from pool_api.services.office import Office
from pool_api.store.writer import Recorded

router = gated_router("recording", "/pools/{pool}")

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

MOST_COMMANDS = 5_000

_NEXT = {
    "read_entry": {
        "operationId": "read_entry",
        "description": "The entry, and what refers to it.",
        "parameters": {"pool": "$request.path.pool", "number": "$response.body#/number"},
    },
    "record_reversal": {
        "operationId": "record_reversal",
        "description": "Undoes the entry.",
        "parameters": {"pool": "$request.path.pool"},
        "requestBody": {"entry": "$response.body#/number"},
    },
}

_AnyCommand = Annotated[Union[COMMANDS], Field(discriminator="kind")]  # type: ignore[valid-type]  # noqa: UP007


class BatchForm(WireModel):
    """Commands that are recorded in this order, all of them or none."""

    commands: Annotated[list[_AnyCommand], Field(min_length=1, max_length=MOST_COMMANDS)]


class BatchShown(WireModel):
    """The entries that a batch became, in the order of its commands."""

    entries: list[EntryShown] = Field(max_length=MOST_COMMANDS)


def _commands(office: Office, caller: Caller, pool: str, forms: Sequence[EntryForm]) -> list[Command]:
    currency, today = recording.fixed_terms(office, caller, pool)
    return [
        recording.command(
            caller, form.body(currency), form.effective_on or today, note=form.note or "", reference=form.reference
        )
        for form in forms
    ]


async def _recorded(
    office: Office, caller: Caller, pool: str, forms: Sequence[EntryForm], operation: str, key: str
) -> Recorded:
    return await recording.record(
        office,
        caller,
        pool,
        _commands(office, caller, pool, forms),
        operation=operation,
        key=key,
        fingerprint=digest([form.model_dump(mode="json", exclude_none=True) for form in forms]),
    )


def _add_kind(form: type[EntryForm]) -> None:
    kind = form.recorded_as.kind
    path = PATHS[kind]

    async def create(pool: PoolId, asked: Any, key: IdempotencyKey, caller: CallerOf, office: OfficeOf) -> Response:
        recorded = await _recorded(office, caller, pool, [asked], path, key)
        return entry_answer(pool, recorded, office.currency(pool))

    create.__annotations__["asked"] = form
    router.add_api_route(
        f"/{path}",
        create,
        methods=["POST"],
        status_code=201,
        response_model=EntryShown,
        responses={201: {"headers": LOCATION, "links": _NEXT}},
        operation_id=f"record_{kind}",
        summary=f"Record {'an' if kind[0] in 'aou' else 'a'} {kind.replace('_', ' ')}",
        description=form.__doc__,
    )


for each in FORMS:
    _add_kind(each)


@router.post(
    "/batches",
    status_code=201,
    response_model=BatchShown,
    operation_id="record_batch",
    summary="Record a batch",
    responses={201: {"headers": LOCATION}},
)
async def create_batch(
    pool: PoolId, asked: BatchForm, key: IdempotencyKey, caller: CallerOf, office: OfficeOf
) -> Response:
    """Record many commands, all of them or none."""
    recorded = await _recorded(office, caller, pool, asked.commands, "batches", key)
    currency = office.currency(pool)
    shown = {"entries": [show_entry(entry, currency) for entry in recorded.entries]}
    return recorded_answer(shown, pool, recorded)


@router.post(
    "/batches/preview",
    response_model=BatchRehearsed,
    operation_id="preview_batch",
    summary="See what would become of a batch",
    responses=also(409),
)
def preview_batch(pool: PoolId, asked: BatchForm, caller: CallerOf, office: OfficeOf) -> Response:
    """Nothing is recorded: commands are decided as if they were sent to be recorded now, all of them or none.

    What would be refused then is refused here, in the same words. What others record meanwhile can change it."""
    rehearsed = recording.rehearse(office, caller, pool, _commands(office, caller, pool, asked.commands))
    return JSONResponse(show_rehearsed(rehearsed, office.currency(pool)))
