"""One's own second factor: set up with a picture for the app to read, taken off; recovery codes, which stand on the
answer to the form that made them and nowhere else.

Between the picture and the code that confirms it, the secret travels in the form that shows it: the pages keep nothing
about anybody.
"""

import segno
from markupsafe import Markup
from pool_client.errors import Misused, PoolError
from pool_client.models.people import RecoveryCodes
from starlette.responses import Response

from pool_web.forms import Form
from pool_web.visit import Visit, outside, to

_PATH = "/account/second-factor"
_MOST_CODE, _MOST_ADDRESS = 40, 1_000
_APPS = "otpauth://totp/"


async def show(visit: Visit) -> Response:
    """Show whether there is one, and what can be done about it."""
    return await _shown(visit)


async def begin(visit: Visit) -> Response:
    """Begin one, and show what the app has to take in."""
    form = await visit.filled_in()
    if not await visit.confirmed(form):
        return await _shown(visit, beginning=form, status=422)
    begun = await visit.client.begin_second_factor()
    return _to_take_in(visit, visit.form({"secret": begun.secret, "address": begun.address}))


async def confirm(visit: Visit) -> Response:
    """Confirm the one begun by a code, and show recovery codes."""
    form = await visit.filled_in()
    if not form["address"].startswith(_APPS) or len(form["address"]) > _MOST_ADDRESS:
        return to(_PATH)
    code = form.text("code", most=_MOST_CODE)
    try:
        made = None if form.problems else await visit.client.confirm_second_factor(code=code)
    except PoolError as error:
        if error.code in {"second-factor-there", "second-factor-not-begun"}:
            return to(_PATH)
        form.problems["code"] = _words(error)
        made = None
    return _to_take_in(visit, form, 422) if made is None else _codes(visit, made)


async def renew(visit: Visit) -> Response:
    """Make new recovery codes, and show them."""
    form = await visit.filled_in()
    code = form.text("code", most=_MOST_CODE)
    if not form.problems and await visit.confirmed(form):
        try:
            return _codes(visit, await visit.client.renew_recovery_codes(code=code))
        except PoolError as error:
            form.problems["code"] = _words(error)
    return await _shown(visit, renewing=form, status=422)


async def take_off(visit: Visit) -> Response:
    """Take it off."""
    form = await visit.filled_in()
    code = form.text("code", most=_MOST_CODE)
    if not form.problems and await visit.confirmed(form):
        try:
            await visit.client.take_off_second_factor(code=code)
            return to(_PATH, done="off")
        except PoolError as error:
            form.problems["code"] = _words(error)
    return await _shown(visit, taking_off=form, status=422)


def _words(error: PoolError) -> str:
    return "Six digits, or a recovery code." if isinstance(error, Misused) else error.sentence


async def _shown(
    visit: Visit,
    *,
    beginning: Form | None = None,
    renewing: Form | None = None,
    taking_off: Form | None = None,
    status: int = 200,
) -> Response:
    return visit.show(
        "second_factor.html",
        status=status,
        standing=await visit.client.second_factor(),
        beginning=beginning or visit.form({}),
        renewing=renewing or visit.form({}),
        taking_off=taking_off or visit.form({}),
        wants_password=visit.wants_password,
        done=visit.query.get("done") == "off",
    )


def _to_take_in(visit: Visit, form: Form, status: int = 200) -> Response:
    return visit.show("second_factor_begun.html", status=status, form=form, picture=_picture(form["address"]))


def _codes(visit: Visit, made: RecoveryCodes) -> Response:
    return visit.show("recovery_codes.html", codes=made.recovery_codes)


def _picture(address: str) -> Markup:
    """Give the QR code of an address as a drawing, dark on light in both schemes, as apps have to read it."""
    drawn = segno.make_qr(address, error="m").svg_inline(border=4, dark="#000", light="#fff", omitsize=True)
    return Markup(drawn)  # noqa: S704 - made of squares by the library; nothing of the address is text in it


ROUTES = (
    outside(_PATH, show, begin),
    outside(f"{_PATH}/confirmation", show, confirm),
    outside(f"{_PATH}/recovery-codes", show, renew),
    outside(f"{_PATH}/removal", show, take_off),
)
