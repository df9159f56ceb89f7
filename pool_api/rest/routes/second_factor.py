"""The caller's second factor: set up in two steps, taken off, recovery codes."""

from functools import partial
from typing import Annotated

from fastapi import Response
from pydantic import Field
from starlette.concurrency import run_in_threadpool
from starlette.responses import JSONResponse

from pool_api.domain.second_factor import RECOVERY_CODES
from pool_api.rest.auth import CallerOf
from pool_api.rest.gate import gated_router
from pool_api.rest.office import OfficeOf
from pool_api.rest.openapi import also
from pool_api.rest.peers import PeerOf
from pool_api.rest.people_forms import Code
from pool_api.rest.sign_ins import SignInsOf, attempt_own
from pool_api.rest.wire import Instant, WireModel, stated
from pool_api.services import second_factors

router = gated_router("sessions", "/second-factor")


class CodeForm(WireModel):
    """A code."""

    code: Code


class SecondFactorShown(WireModel):
    """Since when there is a second factor, if there is one, and how many recovery codes are left."""

    confirmed_at: Instant | None = None
    recovery_codes: Annotated[int, Field(strict=True, ge=0, le=RECOVERY_CODES)]


class SecondFactorBegun(WireModel):
    """What an authenticator app has to take in, shown this once: the secret, and the address that says it, for instance
    as a picture for the app to read."""

    secret: str = Field(pattern="^[A-Z2-7]{32}$")
    address: str = Field(pattern="^otpauth://totp/", max_length=2_000)


class RecoveryCodes(WireModel):
    """Codes for when the app is out of reach, shown this once. Each counts once."""

    recovery_codes: list[Annotated[str, Field(pattern="^[a-z2-7]{5}(-[a-z2-7]{5}){3}-[a-z2-7]{6}$")]] = Field(
        min_length=RECOVERY_CODES, max_length=RECOVERY_CODES
    )


@router.get("", response_model=SecondFactorShown, operation_id="read_second_factor", summary="Have I a second factor?")
def read(caller: CallerOf, office: OfficeOf) -> Response:
    """Its secret and the recovery codes are never shown again."""
    found = second_factors.read(office, caller)
    return JSONResponse(stated({"confirmed_at": found.confirmed_at, "recovery_codes": found.recovery_codes}))


@router.post(
    "",
    response_model=SecondFactorBegun,
    operation_id="begin_second_factor",
    summary="Begin a second factor",
    responses=also(409),
)
async def begin(caller: CallerOf, office: OfficeOf) -> Response:
    """It counts once it is confirmed by a code; begun again, the secret is another. Needs a password given lately."""
    begun = await run_in_threadpool(second_factors.begin, office, caller)
    return JSONResponse({"secret": begun.secret, "address": begun.address})


@router.post(
    "/confirmation",
    response_model=RecoveryCodes,
    operation_id="confirm_second_factor",
    summary="Confirm the second factor begun",
    responses=also(409),
)
async def confirm(asked: CodeForm, peer: PeerOf, caller: CallerOf, office: OfficeOf, sign_ins: SignInsOf) -> Response:
    """From now on signing in asks for a code. Ends the other sessions, and gives recovery codes."""
    work = partial(second_factors.confirm, office, caller, asked.code)
    codes = await attempt_own(sign_ins, office, caller, peer, work)
    return JSONResponse({"recovery_codes": codes})


@router.post(
    "/recovery-codes",
    response_model=RecoveryCodes,
    operation_id="renew_recovery_codes",
    summary="Make new recovery codes",
    responses=also(409),
)
async def renew(asked: CodeForm, peer: PeerOf, caller: CallerOf, office: OfficeOf, sign_ins: SignInsOf) -> Response:
    """The old ones are void. Needs a code, and a password given lately."""
    work = partial(second_factors.renew_recovery_codes, office, caller, asked.code)
    codes = await attempt_own(sign_ins, office, caller, peer, work)
    return JSONResponse({"recovery_codes": codes})


@router.post(
    "/removal",
    status_code=204,
    operation_id="take_off_second_factor",
    summary="Take my second factor off",
    responses=also(409),
)
async def take_off(asked: CodeForm, peer: PeerOf, caller: CallerOf, office: OfficeOf, sign_ins: SignInsOf) -> Response:
    """Needs a code, and a password given lately. Ends the other sessions."""
    work = partial(second_factors.take_off, office, caller, asked.code)
    await attempt_own(sign_ins, office, caller, peer, work)
    return Response(status_code=204)
