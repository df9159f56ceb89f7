"""Second factors: setting one up, taking it off, recovery codes, and whether a code is right.

A code is used up in the transaction that finds it right, and a wrong one is counted in the one that refuses it, so that
neither two requests nor two processes get more out of a code than one would. How often somebody may try from an
address is bounded by whoever calls (rest/sign_ins.py).
"""

import logging
from dataclasses import dataclass, replace
from datetime import datetime, timedelta

from pool_api.domain import access, second_factor
from pool_api.domain.access import Caller
from pool_api.domain.access_log import SERVER, Actor, EventKind
from pool_api.domain.errors import CodeRefused, CodesPaused, NotFound, SecondFactorNotBegun, SecondFactorThere
from pool_api.domain.people import sign_in_name
from pool_api.services import access_log
from pool_api.services.office import Office
from pool_api.store import people, second_factors
from pool_api.store.engine import Connection, reading, writing
from pool_api.store.second_factors import SecondFactor

_log = logging.getLogger(__name__)


@dataclass(frozen=True, slots=True, kw_only=True)
class Standing:
    """What somebody has: since when a second factor, None without one, and how many recovery codes are left."""

    confirmed_at: str | None
    recovery_codes: int


@dataclass(frozen=True, slots=True, kw_only=True)
class Begun:
    """What an app has to take in: the secret, and the address that says it with the name and the service."""

    secret: str
    address: str


def read(office: Office, caller: Caller) -> Standing:
    """Give what the caller has. Refuses: NotPermitted for a key."""
    access.check_person(caller)
    with reading(office.engine, None) as connection:
        factor = second_factors.read_factor(connection, caller.key_id)
        left = second_factors.count_recovery_codes(connection, caller.key_id)
    return Standing(confirmed_at=factor.confirmed_at if factor else None, recovery_codes=left)


def begin(office: Office, caller: Caller) -> Begun:
    """Make a secret for the caller's app, in place of one that was begun before. It counts once a code confirms it.

    Refuses: NotPermitted for a key; ConfirmationRequired; SecondFactorThere."""
    access.check_person(caller)
    office.check_fresh(caller)
    secret = second_factor.new_secret(office.random_hex)
    with writing(office.engine, None) as connection:
        there = second_factors.lock_factor(connection, caller.key_id)
        if there is not None and there.confirmed_at is not None:
            raise SecondFactorThere
        begun = SecondFactor(person_id=caller.key_id, secret=secret, begun_at=office.instant())
        second_factors.write_factor(connection, begun)
    return Begun(secret=secret, address=second_factor.address(secret, caller.name))


def confirm(office: Office, caller: Caller, code: str) -> list[str]:
    """Have the factor that was begun count from now on, end the caller's other sessions, and give recovery codes.

    Refuses: NotPermitted for a key; SecondFactorNotBegun; SecondFactorThere; CodeRefused."""
    own, now = access.check_person(caller), office.instant()
    codes = second_factor.new_recovery_codes(office.random_hex)
    with writing(office.engine, None) as connection:
        people.lock_person(connection, caller.key_id)  # as signing in does: none ends without the factor after this
        begun = second_factors.lock_factor(connection, caller.key_id)
        if begun is None or begun.secret is None:
            raise SecondFactorNotBegun
        if begun.confirmed_at is not None:
            raise SecondFactorThere
        step = second_factor.accepted_step(begun.secret, code, office.now(), after=begun.last_step)
        if step is None:
            raise CodeRefused
        second_factors.write_factor(connection, replace(begun, confirmed_at=now, last_step=step))
        _give(connection, caller.key_id, codes)
        people.end_sessions(connection, caller.key_id, now, but=own)
        access_log.note(office, connection, EventKind.SECOND_FACTOR_SET_UP, caller, about=caller.key_id)
    office.callers.clear()
    _log.info("second factor set up: person %s, session %s", caller.key_id, own)
    return codes


def take(office: Office, by: Caller | Actor, person_id: str, code: str) -> None:
    """Use up a code of a person's app, or a recovery code, that the person itself has given.

    Refuses: SecondFactorNotBegun for one whose factor doesn't count; CodesPaused after wrong ones; CodeRefused."""
    with writing(office.engine, None) as connection:
        factor = second_factors.lock_factor(connection, person_id)
        if factor is None or factor.confirmed_at is None:
            raise SecondFactorNotBegun
        taken = _taken(office, connection, factor, code)
        if taken is None:
            taken, right = replace(factor, wrong=factor.wrong + 1, wrong_at=office.instant()), False
        else:
            taken, right = replace(taken, wrong=0, wrong_at=None), True
        second_factors.write_factor(connection, taken)
        if right and second_factor.recovery_digest(code) is not None:
            access_log.note(office, connection, EventKind.RECOVERY_CODE_USED, by, about=person_id)
    if not right:
        _log.warning("code refused: person %s, wrong in a row %s", person_id, taken.wrong)
        access_log.note_refusal(office, EventKind.CODE_REFUSED, by, about=person_id)
        raise CodeRefused


def _taken(office: Office, connection: Connection, factor: SecondFactor, code: str) -> SecondFactor | None:
    """Give the factor with a right code used up, None for a wrong one. Refuses: CodesPaused."""
    digest = second_factor.recovery_digest(code)
    if digest is not None:
        used = second_factors.use_recovery_code(connection, factor.person_id, digest, office.instant())
        if used:
            _log.info("recovery code used: person %s", factor.person_id)
        return factor if used else None
    if (left := _wait(factor, office.now())) > timedelta():
        raise CodesPaused(seconds=-(-left // timedelta(seconds=1)))
    step = second_factor.accepted_step(factor.secret or "", code, office.now(), after=factor.last_step)
    return None if step is None else replace(factor, last_step=step)


def _wait(factor: SecondFactor, now: datetime) -> timedelta:
    last = now if factor.wrong_at is None else datetime.fromisoformat(factor.wrong_at)
    return last + second_factor.pause(factor.wrong) - now


def renew_recovery_codes(office: Office, caller: Caller, code: str) -> list[str]:
    """Give the caller recovery codes in place of all that are left.

    Refuses: NotPermitted for a key; ConfirmationRequired; and as take does."""
    access.check_person(caller)
    office.check_fresh(caller)
    take(office, caller, caller.key_id, code)
    codes = second_factor.new_recovery_codes(office.random_hex)
    with writing(office.engine, None) as connection:
        _give(connection, caller.key_id, codes)
        access_log.note(office, connection, EventKind.RECOVERY_CODES_RENEWED, caller, about=caller.key_id)
    _log.info("recovery codes made anew: person %s", caller.key_id)
    return codes


def _give(connection: Connection, person_id: str, codes: list[str]) -> None:
    digests = [second_factor.recovery_digest(code) or "" for code in codes]
    second_factors.write_recovery_codes(connection, person_id, digests)


def take_off(office: Office, caller: Caller, code: str) -> None:
    """Take the caller's factor off, and end its other sessions.

    Refuses: NotPermitted for a key; ConfirmationRequired; and as take does."""
    own = access.check_person(caller)
    office.check_fresh(caller)
    take(office, caller, caller.key_id, code)
    _end(office, caller, caller.key_id, but=own)


def end_lost(office: Office, name: str) -> None:
    """Take the factor of somebody off who has lost it, and end its sessions. By whoever has the database at hand.

    Refuses: NotFound when nobody signs in by the name."""
    with reading(office.engine, None) as connection:
        person = people.find_person(connection, sign_in_name(name))
    if person is None:
        raise NotFound(what="person", name=name)
    _end(office, SERVER, person.person_id)


def _end(office: Office, by: Caller | Actor, person_id: str, *, but: str | None = None) -> None:
    now = office.instant()
    with writing(office.engine, None) as connection:
        people.lock_person(connection, person_id)
        factor = second_factors.lock_factor(connection, person_id)
        if factor is not None:
            ended = SecondFactor(person_id=person_id, secret=None, begun_at=factor.begun_at, last_step=factor.last_step)
            second_factors.write_factor(connection, ended)
        second_factors.end_recovery_codes(connection, person_id, now)
        people.end_sessions(connection, person_id, now, but=but)
        if factor is not None and factor.confirmed_at is not None:
            access_log.note(office, connection, EventKind.SECOND_FACTOR_TAKEN_OFF, by, about=person_id)
    office.callers.clear()
    _log.info("second factor taken off: person %s", person_id)
