"""The client: what a program holds to speak with the service, waiting for answers or awaiting them.

    with Client("https://pool.example", key) as client:
        book = client.book("riverside")
        book.record(Loan(lender="BIRCH", borrower="DOGWOOD", quantity=24), note="until Friday")

A Client knows the service, a Book one pool of it; AsyncClient and AsyncBook have the same calls, awaited. The calls are
described once, in calls/; the tables below bind each to all that can make it, with its own arguments and answer.
"""

import asyncio
import time
from collections.abc import AsyncIterator, Awaitable, Callable, Coroutine, Iterator
from types import TracebackType
from typing import Any, Concatenate, Generic, ParamSpec, Self, TypeVar, overload

import httpx

from pool_client.attempts import Patience
from pool_client.calls import (
    access,
    bookkeeping,
    buying,
    directory,
    explaining,
    mending,
    on_file,
    reading,
    recording,
    vendor,
)
from pool_client.calls import catalogue as listed
from pool_client.calls import needs as coming
from pool_client.calls import people as persons
from pool_client.calls import requests as wanted
from pool_client.calls import rounds as joint
from pool_client.calls.call import Call, Page
from pool_client.line import TIMEOUT, AsyncLine, Line

PATIENCE = Patience()
"""How often a call is tried unless its client says otherwise."""

P = ParamSpec("P")
T = TypeVar("T")


class _OfService(Generic[P, T]):
    """A call of the service as a whole, bound to whoever makes it."""

    def __init__(self, describe: Callable[P, Call[T]]) -> None:
        self._describe = describe
        self.__doc__ = describe.__doc__

    @overload
    def __get__(self, client: "Client", owner: object = None) -> Callable[P, T]: ...
    @overload
    def __get__(self, client: "AsyncClient", owner: object = None) -> Callable[P, Coroutine[Any, Any, T]]: ...
    @overload
    def __get__(self, client: None, owner: object = None) -> Self: ...
    def __get__(self, client: "Client | AsyncClient | None", owner: object = None) -> object:
        if client is None:
            return self
        line = client.line
        return lambda *given, **named: line.send(self._describe(*given, **named))


class _ListOfService(Generic[P, T]):
    """A list of the service as a whole, page after page."""

    def __init__(self, describe: Callable[P, Call[Page[T]]]) -> None:
        self._describe = describe
        self.__doc__ = describe.__doc__

    @overload
    def __get__(self, client: "Client", owner: object = None) -> Callable[P, Iterator[T]]: ...
    @overload
    def __get__(self, client: "AsyncClient", owner: object = None) -> Callable[P, AsyncIterator[T]]: ...
    @overload
    def __get__(self, client: None, owner: object = None) -> Self: ...
    def __get__(self, client: "Client | AsyncClient | None", owner: object = None) -> object:
        if client is None:
            return self
        line = client.line
        return lambda *given, **named: line.each(self._describe(*given, **named))


class _OfPool(Generic[P, T]):
    """A call about one pool, bound to a book."""

    def __init__(self, describe: Callable[Concatenate[str, P], Call[T]]) -> None:
        self._describe = describe
        self.__doc__ = describe.__doc__

    @overload
    def __get__(self, book: "Book", owner: object = None) -> Callable[P, T]: ...
    @overload
    def __get__(self, book: "AsyncBook", owner: object = None) -> Callable[P, Coroutine[Any, Any, T]]: ...
    @overload
    def __get__(self, book: None, owner: object = None) -> Self: ...
    def __get__(self, book: "Book | AsyncBook | None", owner: object = None) -> object:
        if book is None:
            return self
        line, pool = book.line, book.pool
        return lambda *given, **named: line.send(self._describe(pool, *given, **named))


class _ListOfPool(Generic[P, T]):
    """A list of one pool, page after page."""

    def __init__(self, describe: Callable[Concatenate[str, P], Call[Page[T]]]) -> None:
        self._describe = describe
        self.__doc__ = describe.__doc__

    @overload
    def __get__(self, book: "Book", owner: object = None) -> Callable[P, Iterator[T]]: ...
    @overload
    def __get__(self, book: "AsyncBook", owner: object = None) -> Callable[P, AsyncIterator[T]]: ...
    @overload
    def __get__(self, book: None, owner: object = None) -> Self: ...
    def __get__(self, book: "Book | AsyncBook | None", owner: object = None) -> object:
        if book is None:
            return self
        line, pool = book.line, book.pool
        return lambda *given, **named: line.each(self._describe(pool, *given, **named))


class _ServiceCalls:
    pools = _ListOfService(directory.pools)
    put_pool = _OfService(directory.put_pool)
    sign_in = _OfService(persons.sign_in)
    complete_sign_in = _OfService(persons.complete_sign_in)
    second_factor = _OfService(persons.second_factor)
    begin_second_factor = _OfService(persons.begin_second_factor)
    confirm_second_factor = _OfService(persons.confirm_second_factor)
    renew_recovery_codes = _OfService(persons.renew_recovery_codes)
    take_off_second_factor = _OfService(persons.take_off_second_factor)
    who = _OfService(persons.who)
    sign_out = _OfService(persons.sign_out)
    confirm_session = _OfService(persons.confirm_session)
    sessions = _ListOfService(persons.sessions)
    end_session = _OfService(persons.end_session)
    end_other_sessions = _OfService(persons.end_other_sessions)
    change_password = _OfService(persons.change_password)
    open_invitation = _OfService(persons.open_invitation)
    accept_invitation = _OfService(persons.accept_invitation)
    own_access_events = _ListOfService(access.own_access_events)


class _BookCalls:
    terms = _OfPool(directory.terms)
    policies = _OfPool(directory.policies)
    policy = _OfPool(directory.policy)
    put_policy = _OfPool(directory.put_policy)
    members = _ListOfPool(directory.members)
    member = _OfPool(directory.member)
    put_member = _OfPool(directory.put_member)
    keys = _ListOfPool(directory.keys)
    key = _OfPool(directory.key)
    make_key = _OfPool(directory.make_key)
    end_key = _OfPool(directory.end_key)
    people = _ListOfPool(persons.people)
    person = _OfPool(persons.person)
    put_person = _OfPool(persons.put_person)
    take_person_out = _OfPool(persons.take_person_out)
    invitations = _ListOfPool(persons.invitations)
    invitation = _OfPool(persons.invitation)
    invite = _OfPool(persons.invite)
    withdraw_invitation = _OfPool(persons.withdraw_invitation)
    access_events = _ListOfPool(access.access_events)

    record = _OfPool(recording.record)
    record_all = _OfPool(recording.record_all)
    preview = _OfPool(recording.preview)

    entries = _ListOfPool(reading.entries)
    entry = _OfPool(reading.entry)
    verification = _OfPool(reading.verification)
    positions = _OfPool(reading.positions)
    member_cost = _OfPool(reading.member_cost)
    job = _OfPool(reading.job)
    months = _OfPool(reading.months)
    sheet = _OfPool(reading.sheet)
    entry_costs = _ListOfPool(reading.entry_costs)
    settlement = _OfPool(reading.settlement)
    close = _OfPool(reading.close)
    reopen = _OfPool(reading.reopen)
    statement = _OfPool(reading.statement)
    statement_csv = _OfPool(reading.statement_csv)
    statement_pdf = _OfPool(reading.statement_pdf)
    statement_xlsx = _OfPool(reading.statement_xlsx)
    statements_zip = _OfPool(reading.statements_zip)
    report = _OfPool(reading.report)
    report_pdf = _OfPool(reading.report_pdf)
    settlement_payments = _ListOfPool(reading.settlement_payments)

    figures = _ListOfPool(explaining.figures)
    explanation = _OfPool(explaining.explanation)
    operands = _ListOfPool(explaining.operands)
    comparison = _OfPool(explaining.comparison)
    bank_account = _OfPool(bookkeeping.bank_account)
    put_bank_account = _OfPool(bookkeeping.put_bank_account)
    erase_bank_account = _OfPool(bookkeeping.erase_bank_account)
    payment_file = _OfPool(bookkeeping.payment_file)
    payment_file_xml = _OfPool(bookkeeping.payment_file_xml)
    account_codes = _OfPool(bookkeeping.account_codes)
    put_account_codes = _OfPool(bookkeeping.put_account_codes)
    postings = _OfPool(bookkeeping.postings)
    postings_csv = _OfPool(bookkeeping.postings_csv)

    ladders = _ListOfPool(buying.ladders)
    ladder = _OfPool(buying.ladder)
    put_ladder = _OfPool(buying.put_ladder)
    withdraw_ladder = _OfPool(buying.withdraw_ladder)
    ladder_versions = _ListOfPool(buying.ladder_versions)
    propose_ladders = _OfPool(buying.propose_ladders)
    order_price = _OfPool(buying.order_price)
    purchase_checks = _ListOfPool(buying.purchase_checks)
    needs = _OfPool(coming.needs)
    need = _OfPool(coming.need)
    put_need = _OfPool(coming.put_need)
    withdraw_need = _OfPool(coming.withdraw_need)
    need_versions = _ListOfPool(coming.need_versions)
    plan_orders = _OfPool(buying.plan_orders)
    order_plans = _ListOfPool(buying.order_plans)
    savings = _OfPool(buying.savings)
    savings_csv = _OfPool(buying.savings_csv)
    order_plan = _OfPool(buying.order_plan)
    plan_savings = _ListOfPool(buying.plan_savings)
    open_round = _OfPool(joint.open_round)
    rounds = _ListOfPool(joint.rounds)
    round_ = _OfPool(joint.round_)
    commitment = _OfPool(joint.commitment)
    put_commitment = _OfPool(joint.put_commitment)
    extend_round = _OfPool(joint.extend_round)
    close_round = _OfPool(joint.close_round)
    call_off_round = _OfPool(joint.call_off_round)
    ask = _OfPool(wanted.ask)
    credit_requests = _ListOfPool(wanted.credit_requests)
    credit_request = _OfPool(wanted.credit_request)
    take_up = _OfPool(wanted.take_up)
    withdraw_request = _OfPool(wanted.withdraw_request)
    catalogues = _ListOfPool(listed.catalogues)
    catalogue = _OfPool(listed.catalogue)
    put_catalogue = _OfPool(listed.put_catalogue)
    withdraw_catalogue = _OfPool(listed.withdraw_catalogue)
    catalogue_versions = _ListOfPool(listed.catalogue_versions)
    catalogue_version = _OfPool(listed.catalogue_version)
    catalogue_changes = _OfPool(listed.catalogue_changes)
    propose_catalogue = _OfPool(listed.propose_catalogue)
    catalogue_items = _ListOfPool(listed.catalogue_items)
    catalogue_profiles = _ListOfPool(listed.catalogue_profiles)
    catalogue_profile = _OfPool(listed.catalogue_profile)
    put_catalogue_profile = _OfPool(listed.put_catalogue_profile)
    earnings = _OfPool(listed.earnings)
    earnings_csv = _OfPool(listed.earnings_csv)
    use_checks = _ListOfPool(listed.use_checks)
    quote = _OfPool(listed.quote)

    column_profiles = _ListOfPool(vendor.column_profiles)
    column_profile = _OfPool(vendor.column_profile)
    put_column_profile = _OfPool(vendor.put_column_profile)
    propose_column_profile = _OfPool(vendor.propose_column_profile)
    import_record = _OfPool(vendor.import_record)
    imports = _ListOfPool(vendor.imports)
    imported = _OfPool(vendor.imported)
    changes = _ListOfPool(on_file.changes)
    coverage = _OfPool(on_file.coverage)
    proof = _OfPool(on_file.proof)
    proof_csv = _OfPool(on_file.proof_csv)

    reconciliation = _OfPool(mending.reconciliation)
    decide = _OfPool(mending.decide)
    preview_all = _OfPool(mending.preview_all)
    decide_all = _OfPool(mending.decide_all)
    confirm = _OfPool(mending.confirm)
    take_back = _OfPool(mending.take_back)
    hand = _OfPool(mending.hand)
    handed = _ListOfPool(mending.handed)
    answer = _OfPool(mending.answer)
    sign_off = _OfPool(mending.sign_off)


class Book(_BookCalls):
    """One pool of the service. Every call gives its answer or raises a PoolError."""

    def __init__(self, line: Line, pool: str) -> None:
        self.line = line
        self.pool = pool


class AsyncBook(_BookCalls):
    """As Book, with calls to be awaited."""

    def __init__(self, line: AsyncLine, pool: str) -> None:
        self.line = line
        self.pool = pool


class Client(_ServiceCalls):
    """The service. Every call gives its answer or raises a PoolError.

    Takes:   base_url — the service's address without /v1; key — an API key or the token of a session, None for calls
             that anybody may make, such as signing in; http — an HTTP client to use, which stays
             the caller's to close; without one, one with timeouts is made and closed at the end of the with block;
             patience — how often a call is tried; sleep — waits between tries.
    Refuses: ValueError for an address or a key that can't be one."""

    def __init__(
        self,
        base_url: str,
        key: str | None,
        *,
        http: httpx.Client | None = None,
        patience: Patience = PATIENCE,
        sleep: Callable[[float], None] = time.sleep,
    ) -> None:
        self.line = Line(base_url, key, http or httpx.Client(timeout=TIMEOUT), patience=patience, sleep=sleep)
        self._closes = http is None

    def book(self, pool: str) -> Book:
        """Give the book of a pool."""
        return Book(self.line, pool)

    def close(self) -> None:
        """Close the HTTP client if it was made here."""
        if self._closes:
            self.line.http.close()

    def __enter__(self) -> Self:
        return self

    def __exit__(
        self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None
    ) -> None:
        self.close()


class AsyncClient(_ServiceCalls):
    """As Client, with calls to be awaited."""

    def __init__(
        self,
        base_url: str,
        key: str | None,
        *,
        http: httpx.AsyncClient | None = None,
        patience: Patience = PATIENCE,
        sleep: Callable[[float], Awaitable[None]] = asyncio.sleep,
    ) -> None:
        self.line = AsyncLine(base_url, key, http or httpx.AsyncClient(timeout=TIMEOUT), patience=patience, sleep=sleep)
        self._closes = http is None

    def book(self, pool: str) -> AsyncBook:
        """Give the book of a pool."""
        return AsyncBook(self.line, pool)

    async def close(self) -> None:
        """Close the HTTP client if it was made here."""
        if self._closes:
            await self.line.http.aclose()

    async def __aenter__(self) -> Self:
        return self

    async def __aexit__(
        self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None
    ) -> None:
        await self.close()
