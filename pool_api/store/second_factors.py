"""People's second factors: the secret that somebody's app has, what was tried, and recovery codes as digests.

The secret stands as it is, since the service has to make the same codes of it; who reads the database can. Whether a
code is right is decided elsewhere. Nothing is deleted: a factor that is taken off loses its secret.
"""

from collections.abc import Sequence
from dataclasses import dataclass

from sqlalchemy import Connection, exists, func, insert, select, update

from pool_api.store.people_tables import recovery_code, second_factor


@dataclass(frozen=True, slots=True, kw_only=True)
class SecondFactor:
    """Somebody's factor. It counts from confirmed_at on; without a secret it was taken off. last_step is that of the
    last code accepted; wrong counts the wrong codes since, the last of them at wrong_at."""

    person_id: str
    secret: str | None
    begun_at: str
    confirmed_at: str | None = None
    last_step: int = 0
    wrong: int = 0
    wrong_at: str | None = None


def is_on(connection: Connection, person_id: str) -> bool:
    """Tell whether a person has a factor that counts."""
    at = (second_factor.c.person_id == person_id) & second_factor.c.confirmed_at.is_not(None)
    return bool(connection.execute(select(exists().where(at))).scalar_one())


def read_factor(connection: Connection, person_id: str) -> SecondFactor | None:
    """Give a person's factor, None for one who never began one."""
    row = connection.execute(select(second_factor).where(second_factor.c.person_id == person_id)).mappings()
    found = row.one_or_none()
    return None if found is None else SecondFactor(**found)


def lock_factor(connection: Connection, person_id: str) -> SecondFactor | None:
    """Give a person's factor, which nobody changes until the transaction ends; None for one who never began one."""
    query = select(second_factor).where(second_factor.c.person_id == person_id).with_for_update()
    found = connection.execute(query).mappings().one_or_none()
    return None if found is None else SecondFactor(**found)


def write_factor(connection: Connection, factor: SecondFactor) -> None:
    """Write a person's factor in place of what was there; StoreConflict when another request began one just now."""
    values = {name: getattr(factor, name) for name in SecondFactor.__dataclass_fields__}
    here = update(second_factor).where(second_factor.c.person_id == factor.person_id)
    if connection.execute(here.values(values)).rowcount == 0:
        connection.execute(insert(second_factor).values(values))


def write_recovery_codes(connection: Connection, person_id: str, digests: Sequence[str]) -> None:
    """Give a person recovery codes in place of those that it had, as many as those or more."""
    for number, digest in enumerate(digests, 1):
        values = {"person_id": person_id, "number": number, "secret_hash": digest, "used_at": None}
        here = update(recovery_code).where(recovery_code.c.person_id == person_id, recovery_code.c.number == number)
        if connection.execute(here.values(values)).rowcount == 0:
            connection.execute(insert(recovery_code).values(values))


def use_recovery_code(connection: Connection, person_id: str, digest: str, at: str) -> bool:
    """Use a recovery code up; False when the person has none with that digest, or not any more."""
    here = (recovery_code.c.person_id == person_id) & (recovery_code.c.secret_hash == digest)
    done = connection.execute(update(recovery_code).where(here, recovery_code.c.used_at.is_(None)).values(used_at=at))
    return done.rowcount == 1


def end_recovery_codes(connection: Connection, person_id: str, at: str) -> None:
    """Use up whatever recovery codes a person has left."""
    here = update(recovery_code).where(recovery_code.c.person_id == person_id, recovery_code.c.used_at.is_(None))
    connection.execute(here.values(used_at=at))


def count_recovery_codes(connection: Connection, person_id: str) -> int:
    """Give how many recovery codes a person has left."""
    left = (recovery_code.c.person_id == person_id) & recovery_code.c.used_at.is_(None)
    return connection.execute(select(func.count()).where(left)).scalar_one()
