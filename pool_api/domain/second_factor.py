"""The second factor of people who sign in: codes of an authenticator app, recovery codes, and the ticket between the
password and the code.

Theory. An app and the service share a secret of 160 bits, and make the same six digits of it and of the present half
minute. Digits that few are guessed sooner or later by whoever may guess on, so wrong ones in a row make the next one
wait, up to a day: whoever has a password already gets some 16 guesses a day between two sign-ins of its owner, of three
codes in a million each. Recovery codes have 128 bits; they needn't wait, can be remembered by a plain hash, and let the
owner in whatever somebody else has tried.

A ticket stands for a password that was right a moment ago. It is a keyed hash under the secret, so nothing is kept of
it, and it is void once the password or the factor is another. It opens nothing but the question for the code.

No clock here; the app's algorithm is the package pyotp's.

Source: RFC 6238 with the values that apps expect (SHA-1, 30 s, 6 digits); its 5.2 for the window of one step either way
        and for taking each code once. RFC 4226, 4, for the length of the secret. ASVS 5.0, 6.5.
"""

import hmac
from base64 import b32encode
from collections.abc import Callable
from datetime import UTC, datetime, timedelta
from hashlib import sha256

import pyotp
from pyotp.exceptions import OTPVerificationError

from pool_api.domain.keys import key_digest

RECOVERY_CODES = 10
TICKET_LASTS = timedelta(minutes=5)
ISSUER = "Credit pool"
"""By what an app lists the codes, beside the person's name."""

_SECRET_BYTES = 20
_RECOVERY_BYTES = 16
_RECOVERY_CHARACTERS = 26
_GROUP = 5
_WINDOW = 1
_FREE_TRIES = 5
_FIRST_PAUSE = timedelta(seconds=30)
_LONGEST_PAUSE = timedelta(days=1)
_TICKET = "cpt_{until:012x}_{mac}"
_MAC_CHARACTERS = 40


# --- codes of an app -------------------------------------------------------------------------------------------------


def new_secret(random_hex: Callable[[int], str]) -> str:
    """Make a secret of 160 bits, in Base32.

    Takes:   random_hex — gives that many bytes of a cryptographic random source as hexadecimal text."""
    return b32encode(bytes.fromhex(random_hex(_SECRET_BYTES))).decode()


def address(secret: str, name: str) -> str:
    """Give the address (otpauth) by which an app takes a secret in, for instance from a picture of it."""
    return pyotp.TOTP(secret).provisioning_uri(name=name, issuer_name=ISSUER)


def accepted_step(secret: str, code: str, at: datetime, *, after: int) -> int | None:
    """Give the step, in half minutes since 1970, of a code that is right at an instant: the present one or one beside
    it, later than the step of the last code that was accepted. None for any other code, one used before too."""
    try:
        step = pyotp.TOTP(secret).verify_and_get_timecode(_plain(code), for_time=at, valid_window=_WINDOW)
    except OTPVerificationError:
        return None
    return step if step > after else None


def pause(wrong: int) -> timedelta:
    """Give how long after the last of so many wrong codes in a row the next one is looked at."""
    if wrong < _FREE_TRIES:
        return timedelta()
    return min(_FIRST_PAUSE * (1 << min(wrong - _FREE_TRIES, 20)), _LONGEST_PAUSE)


# --- recovery codes --------------------------------------------------------------------------------------------------


def new_recovery_codes(random_hex: Callable[[int], str]) -> list[str]:
    """Make recovery codes of 128 bits each, as they are shown: in Base32, in groups.

    Takes:   random_hex — as new_secret does."""
    return [_grouped(b32encode(bytes.fromhex(random_hex(_RECOVERY_BYTES))).decode()) for _ in range(RECOVERY_CODES)]


def recovery_digest(code: str) -> str | None:
    """Give what a recovery code is remembered by, however it was typed; None for what can't be one."""
    plain = _plain(code)
    return key_digest(plain) if len(plain) == _RECOVERY_CHARACTERS else None


def _grouped(text: str) -> str:
    text = text.rstrip("=").lower()
    last = _RECOVERY_CHARACTERS - _RECOVERY_CHARACTERS % _GROUP - _GROUP
    return "-".join([*(text[at : at + _GROUP] for at in range(0, last, _GROUP)), text[last:]])


def _plain(code: str) -> str:
    return "".join(code.replace("-", " ").split()).lower()


# --- the ticket ------------------------------------------------------------------------------------------------------


def ticket(secret: str, person_id: str, password: str, until: datetime) -> str:
    """Give what says until an instant that a person's password was right.

    Takes:   password — its hash, with which the ticket ends."""
    return _ticket(secret, person_id, password, _seconds(until))


def is_ticket(text: str, secret: str, person_id: str, password: str, now: datetime) -> bool:
    """Tell whether a text is the ticket of a person, and still counts."""
    try:
        until = int(text.split("_")[1], 16)
    except (IndexError, ValueError):
        return False
    made = _ticket(secret, person_id, password, until)
    return hmac.compare_digest(made.encode(), text.encode()) and _seconds(now) < until


def _seconds(at: datetime) -> int:
    return (at - datetime(1970, 1, 1, tzinfo=UTC)) // timedelta(seconds=1)


def _ticket(secret: str, person_id: str, password: str, until: int) -> str:
    told = f"ticket {until} {person_id} {password}"
    mac = hmac.new(secret.encode(), told.encode(), sha256).hexdigest()[:_MAC_CHARACTERS]
    return _TICKET.format(until=until, mac=mac)
