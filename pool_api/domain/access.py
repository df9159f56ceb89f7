"""Who may do what: the four roles, what each may read and do, and what a clerk may record.

RIGHTS is the whole rule for everything but recording; what a right has no row for is refused. Recording is the
keeper's, and a clerk's where _SIDES lets its member act. A pool that isn't the caller's own doesn't exist for it:
that is `within`, asked before anything else. Who a caller is, is found out elsewhere.

A person is nobody in particular (Role.PERSON) until a pool is named: there it has the role of its membership.
"""

from collections.abc import Callable, Collection
from dataclasses import dataclass, replace
from enum import StrEnum

from pool_api.domain.entries import (
    Acknowledgement,
    Body,
    Charge,
    Draw,
    Entry,
    Loan,
    Outside,
    Payment,
    Purchase,
    Return,
    Reversal,
    Use,
    WriteOff,
    parties,
)
from pool_api.domain.errors import ConfirmationRequired, NotFound, NotPermitted, SecondFactorMissing
from pool_api.domain.values import STOCK


class Role(StrEnum):
    """What a key is for, or a person in a pool."""

    OPERATOR = "operator"
    KEEPER = "keeper"
    CLERK = "clerk"
    READER = "reader"
    PERSON = "person"


@dataclass(frozen=True, slots=True, kw_only=True)
class Membership:
    """What a person is in a pool; member is None for everyone but clerks."""

    pool: str
    role: Role
    member: str | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Caller:
    """Who asks, as its key or session says. pool is None for operators, and for persons outside of a pool; member for
    everyone but clerks. key_id is the public part of a key, or a person's id, which stays the same over its sessions.

    Of persons only: the session, until when it may do what asks for a password, whether it has a second factor, what
    the person is in its pools. peer is the address that the request came from."""

    role: Role
    pool: str | None
    member: str | None
    key_id: str
    name: str
    session: str | None = None
    fresh_until: str | None = None
    has_second_factor: bool = False
    memberships: tuple[Membership, ...] = ()
    peer: str | None = None


class Right(StrEnum):
    """Something that can be read or done, apart from recording an entry."""

    LIST_POOLS = "list pools"
    MAKE_POOL = "make a pool"
    MANAGE_KEYS = "make, list and withdraw keys"
    READ_PEOPLE = "read who the people of a pool are"
    MANAGE_PEOPLE = "invite people, change their roles and take them out"
    READ_ACCESS = "read what happened with access to a pool"
    READ_OWN_ACCESS = "read what happened with its own access"
    READ_TERMS = "read a pool's terms"
    CHANGE_TERMS = "change a pool's terms"
    READ_MEMBERS = "read the members"
    CHANGE_MEMBERS = "change the members"
    READ_POSITIONS = "read positions"
    READ_ENTRIES = "read entries"
    READ_SHEET = "read month sheets and settlements"
    READ_STATEMENT = "read a member's statement"
    READ_STATEMENTS = "read all statements of a month at once"
    READ_COST = "read a member's cost"
    READ_RECORDS = "read vendor records and differences"
    IMPORT_RECORDS = "import vendor records"
    RECONCILE = "reconcile"
    READ_HANDED = "read differences that were handed to a member"
    ANSWER_HANDED = "answer differences that were handed to a member"
    CLOSE = "close or reopen a month"
    VERIFY = "verify the journal"
    KEEP_BANK_ACCOUNT = "read and change a member's bank account"
    READ_PAYMENT_FILE = "read what a member's bank is to transfer"
    READ_POSTINGS = "read postings and account codes"
    CHANGE_ACCOUNT_CODES = "change account codes"
    READ_LADDER = "read price ladders"
    CHANGE_LADDER = "change price ladders"
    READ_PLANS = "read order plans"
    PLAN_ORDERS = "plan orders"
    READ_ROUNDS = "read order rounds"
    RUN_ROUNDS = "open, extend, close and call off order rounds"
    COMMIT = "commit to order rounds"
    READ_REQUESTS = "read credit requests"
    ASK_FOR_CREDITS = "ask for credits"
    TAKE_UP_REQUESTS = "take up credit requests"
    READ_CATALOGUE = "read catalogues"
    CHANGE_CATALOGUE = "change catalogues"
    READ_NEEDS = "read a member's needs"
    STATE_NEEDS = "state a member's needs"


class Reach(StrEnum):
    """How far a right goes: the whole pool, or what the caller's own member is a side of."""

    ALL = "all"
    OWN = "own"


_ALL, _OWN = Reach.ALL, Reach.OWN
_KEEPER = {Role.KEEPER: _ALL}
_WHOLE_BOOK = {Role.KEEPER: _ALL, Role.READER: _ALL}
_EVERYBODY = {Role.KEEPER: _ALL, Role.READER: _ALL, Role.CLERK: _ALL}
_IN_CONFIDENCE = {Role.KEEPER: _ALL, Role.CLERK: _OWN}
_OWN_PAGE = {Role.KEEPER: _ALL, Role.READER: _ALL, Role.CLERK: _OWN}

RIGHTS: dict[Right, dict[Role, Reach]] = {
    Right.LIST_POOLS: {
        Role.OPERATOR: _ALL,
        Role.KEEPER: _OWN,
        Role.CLERK: _OWN,
        Role.READER: _OWN,
        Role.PERSON: _OWN,
    },
    Right.MAKE_POOL: {Role.OPERATOR: _ALL},
    Right.MANAGE_KEYS: {Role.OPERATOR: _ALL, Role.KEEPER: _ALL},
    Right.READ_PEOPLE: {Role.OPERATOR: _ALL, **_EVERYBODY},
    Right.MANAGE_PEOPLE: {Role.OPERATOR: _ALL, Role.KEEPER: _ALL},
    Right.READ_ACCESS: {Role.OPERATOR: _ALL, Role.KEEPER: _ALL},
    Right.READ_OWN_ACCESS: {Role.OPERATOR: _ALL, **dict.fromkeys((*_EVERYBODY, Role.PERSON), _OWN)},
    Right.READ_TERMS: {Role.OPERATOR: _ALL, **_EVERYBODY},
    Right.CHANGE_TERMS: _KEEPER,
    Right.READ_MEMBERS: _EVERYBODY,
    Right.CHANGE_MEMBERS: _KEEPER,
    Right.READ_POSITIONS: _EVERYBODY,
    Right.READ_ENTRIES: _OWN_PAGE,
    Right.READ_SHEET: _WHOLE_BOOK,
    Right.READ_STATEMENT: _OWN_PAGE,
    Right.READ_STATEMENTS: _KEEPER,
    Right.READ_COST: _OWN_PAGE,
    Right.READ_RECORDS: _WHOLE_BOOK,
    Right.IMPORT_RECORDS: _KEEPER,
    Right.RECONCILE: _KEEPER,
    Right.READ_HANDED: _OWN_PAGE,
    Right.ANSWER_HANDED: _IN_CONFIDENCE,
    Right.CLOSE: _KEEPER,
    Right.VERIFY: _WHOLE_BOOK,
    Right.KEEP_BANK_ACCOUNT: _IN_CONFIDENCE,
    Right.READ_PAYMENT_FILE: _IN_CONFIDENCE,
    Right.READ_POSTINGS: _OWN_PAGE,
    Right.CHANGE_ACCOUNT_CODES: _IN_CONFIDENCE,
    Right.READ_LADDER: _EVERYBODY,
    Right.CHANGE_LADDER: _KEEPER,
    Right.READ_PLANS: _EVERYBODY,
    Right.PLAN_ORDERS: _KEEPER,
    Right.READ_ROUNDS: _EVERYBODY,
    Right.RUN_ROUNDS: _KEEPER,
    Right.COMMIT: _IN_CONFIDENCE,
    Right.READ_REQUESTS: _OWN_PAGE,
    Right.ASK_FOR_CREDITS: _IN_CONFIDENCE,
    Right.TAKE_UP_REQUESTS: _IN_CONFIDENCE,
    Right.READ_CATALOGUE: _EVERYBODY,
    Right.CHANGE_CATALOGUE: _KEEPER,
    Right.READ_NEEDS: _OWN_PAGE,
    Right.STATE_NEEDS: _IN_CONFIDENCE,
}
"""How far each right goes for each role, within the caller's own pool; a role that isn't named doesn't have it."""


def sees_pool(caller: Caller, pool: str) -> bool:
    """Tell whether a pool exists as far as the caller may know: its own, or any for an operator."""
    return caller.role is Role.OPERATOR or caller.pool == pool


def within(caller: Caller, pool: str) -> Caller:
    """Give the caller as what it is in a pool. Refuses: NotFound for a pool it may not know of."""
    if caller.role is not Role.PERSON:
        if not sees_pool(caller, pool):
            raise NotFound(what="pool", name=pool)
        return caller
    for each in caller.memberships:
        if each.pool == pool:
            return replace(caller, role=each.role, pool=pool, member=each.member)
    raise NotFound(what="pool", name=pool)


def own_pools(caller: Caller) -> list[str]:
    """Give the ids of the pools that the caller belongs to, in order; none for an operator, who belongs to none."""
    return sorted({*(each.pool for each in caller.memberships), *([caller.pool] if caller.pool else [])})


def check_person(caller: Caller) -> str:
    """Give the session of a person. Refuses: NotPermitted for a key."""
    if caller.session is None:
        raise NotPermitted(role=caller.role, reason="only a person who has signed in has sessions and a password")
    return caller.session


def check_fresh(caller: Caller, now: str, *, minutes: int) -> None:
    """Let a caller do what asks for the password again after some minutes. Keys have none: they are for programs.

    Refuses: ConfirmationRequired for a session in which the password was given too long ago."""
    if caller.session is not None and (caller.fresh_until or "") <= now:
        raise ConfirmationRequired(minutes=minutes)


def check_second_factor(caller: Caller) -> None:
    """Let a caller do what a person may do with a second factor only. Keys have none: they are for programs.

    Refuses: SecondFactorMissing for a person who hasn't set one up."""
    if caller.session is not None and not caller.has_second_factor:
        raise SecondFactorMissing


def reach(caller: Caller, right: Right) -> Reach:
    """Give how far the caller's right goes. Refuses: NotPermitted when it hasn't got it."""
    found = RIGHTS[right].get(caller.role)
    if found is None:
        raise NotPermitted(role=caller.role, reason=f"it may not {right}")
    return found


def permit(caller: Caller, right: Right, *, member: str | None = None) -> None:
    """Let the caller read or do something, for a member where there is one, or refuse.

    Refuses: NotPermitted without the right, or for another member where it reaches only to its own."""
    if reach(caller, right) is Reach.OWN and member is not None and member != caller.member:
        raise NotPermitted(role=caller.role, reason=f"it may {right} for {caller.member} only, not for {member}")


def permit_into(caller: Caller, pool: str, right: Right, *, member: str | None = None) -> None:
    """Let the caller read or do something in a pool. Refuses: NotFound for a pool it may not know of; as `permit`."""
    if not sees_pool(caller, pool):
        raise NotFound(what="pool", name=pool)
    permit(caller, right, member=member)


def own_side(caller: Caller, right: Right) -> str | None:
    """Give the member to whose entries a reading is narrowed, None when it reaches the whole pool.

    Refuses: NotPermitted without the right."""
    return caller.member if reach(caller, right) is Reach.OWN else None


def sees_entry(caller: Caller, sides: Collection[str]) -> bool:
    """Tell whether the caller may see an entry with these sides, those of an entry it refers to included."""
    found = RIGHTS[Right.READ_ENTRIES].get(caller.role)
    return found is Reach.ALL or (found is Reach.OWN and caller.member in sides)


def permit_recording(caller: Caller, body: Body, *, target: Entry | None = None) -> None:
    """Let the caller record an entry, or refuse.

    Takes:   target — for a reversal by a clerk the entry to be reversed, None when there is none of that number.
    Refuses: NotPermitted unless the caller is a keeper, or a clerk whose own member acts in it (see _SIDES); a clerk
             reverses only what its member is a side of and what its member's clerks, or its own key, recorded."""
    if caller.role is Role.KEEPER:
        return
    if caller.role is not Role.CLERK or caller.member is None:
        raise NotPermitted(role=caller.role, reason="it records nothing")
    if isinstance(body, Reversal):
        if target is None or not _own_work(caller, caller.member, target):
            reason = f"it may reverse only entries of {caller.member} that were recorded for {caller.member}"
            raise NotPermitted(role=caller.role, reason=reason)
    elif caller.member not in _acting(body):
        reason = f"{caller.member} is not the side that acts in this {body.kind.replace('_', ' ')}"
        raise NotPermitted(role=caller.role, reason=reason)


_SIDES: dict[type[Body], Callable[..., tuple[str, ...]]] = {
    Purchase: lambda body: (body.paid_by,) if body.into in (STOCK, body.paid_by) else (),
    Draw: lambda body: (body.member,),
    Loan: lambda body: (body.lender, body.borrower),
    Return: lambda body: (body.borrower, body.lender),
    Use: lambda body: (body.member,),
    WriteOff: lambda body: (body.holder,),
    Outside: lambda body: (body.member,),
    Charge: lambda body: (body.from_member,),
    Payment: lambda body: (body.from_member, body.to_member),
    Acknowledgement: lambda body: (body.member,),
}
"""The members whose clerks may record a kind; a kind that isn't named here is the keeper's alone."""


def _acting(body: Body) -> tuple[str, ...]:
    sides = _SIDES.get(type(body))
    return sides(body) if sides else ()


def signature(caller: Caller) -> str:
    """Give the text that an entry keeps of who recorded it: role, member or `-`, and the key's public part or the
    person's id."""
    return signature_of(caller.role, caller.member, caller.key_id)


def signature_of(role: Role, member: str | None, key_id: str) -> str:
    """Give the signature of somebody who is no caller yet."""
    return f"{role}/{member or '-'}/{key_id}"


def _own_work(caller: Caller, member: str, target: Entry) -> bool:
    role, _, rest = target.recorded_by.partition("/")
    by_member, _, key_id = rest.partition("/")
    recorded_for = key_id == caller.key_id or (role == Role.CLERK and by_member == member)
    return recorded_for and member in parties(target.body)
