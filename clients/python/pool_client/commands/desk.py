"""What every command shares: which service, pool and key are meant, and how results and errors are told.

Results go to standard output, as tables or with --json as JSON; words go to standard error. Exit codes: 0 done,
1 refused, 2 misused, 3 unreachable, busy or done but not to be shown, where repeating is safe: the words say with which
key.
"""

import errno
import json
import os
import stat
import sys
import time
from collections.abc import Callable, Iterator, Mapping
from contextlib import contextmanager
from dataclasses import dataclass, field
from datetime import UTC, datetime, tzinfo
from datetime import time as clock
from functools import cached_property, reduce
from pathlib import Path
from typing import Any, TypeVar
from zoneinfo import ZoneInfo

import click
import httpx
from rich.console import Console

from pool_client.client import Book, Client
from pool_client.errors import Busy, Misused, PoolError, ServerFault, Unreachable
from pool_client.line import new_idempotency_key
from pool_client.table import Table, put, readable
from pool_client.wire import Unfit, read, read_json, write

T = TypeVar("T")

SETTINGS = ("address", "pool", "key")
_LOOPBACK = frozenset({"localhost", "127.0.0.1", "::1"})
ENVIRONMENT = {name: f"CREDIT_POOL_{name.upper()}" for name in SETTINGS}


def present() -> datetime:
    """Give the present instant."""
    return datetime.now(UTC)  # noqa: TID251 - of whoever sits at the terminal


def settings_file(environ: Mapping[str, str]) -> Path:
    """Give where signing in keeps address, pool and key."""
    base = environ.get("XDG_CONFIG_HOME") or Path(environ.get("HOME", ".")) / ".config"
    return Path(base) / "credit-pool" / "settings.json"


@dataclass(kw_only=True)
class Desk:
    """Where a command works. http replaces the network, sleep the waiting and now the clock in tests."""

    given: Mapping[str, str | None] = field(repr=False)
    environ: Mapping[str, str] = field(repr=False)
    http: httpx.Client | None = None
    sleep: Callable[[float], None] = time.sleep
    now: Callable[[], datetime] = present
    as_json: bool = False
    key: str | None = None
    """The idempotency key of what is being recorded, known from before the first try."""

    def setting(self, name: str) -> str:
        """Give address, pool or key: from the options, the environment, or the settings file, in this order.

        A kept key goes to the address that it was kept with and to no other. Refuses: UsageError."""
        found = self.given.get(name) or self.environ.get(ENVIRONMENT[name])
        if not found and (name != "key" or self.setting("address") == self._kept.get("address")):
            found = self._kept.get(name)
        if not found:
            raise click.UsageError(f"no {name}: give --{name}, set {ENVIRONMENT[name]}, or sign in with 'pool sign-in'")
        if not is_text(found):
            raise click.UsageError(f"the {name} isn't text in UTF-8")
        return found

    @cached_property
    def _kept(self) -> dict[str, str]:
        path = settings_file(self.environ)
        if not path.exists():
            return {}
        if stat.S_IMODE(path.stat().st_mode) & 0o077:
            raise click.UsageError(f"{path} can be read by others: make it readable by you alone (chmod 600)")
        try:
            return dict(read(Mapping[str, str], read_json(path.read_bytes())))  # type: ignore[type-abstract]
        except Unfit:
            raise click.UsageError(f"{path} isn't what 'pool sign-in' writes: sign in again") from None

    @cached_property
    def client(self) -> Client:
        """The service. Refuses: UsageError for an address or a key that can't be one."""
        try:
            return Client(self.setting("address"), self.setting("key"), http=self.http, sleep=self.sleep)
        except ValueError as flaw:
            raise click.UsageError(str(flaw)) from None

    def close(self) -> None:
        """Hang up, if anything was asked at all."""
        if "client" in vars(self):
            self.client.close()

    @property
    def book(self) -> Book:
        """The pool."""
        return self.client.book(self.setting("pool"))

    def instant(self, said: datetime | clock) -> datetime:
        """Give the instant that a day and a time, or a time of today, mean in the pool's time zone."""
        if isinstance(said, datetime) and said.tzinfo is not None:
            return said
        if isinstance(said, datetime):
            return said.replace(tzinfo=self.zone)
        return datetime.combine(self.now().astimezone(self.zone).date(), said, self.zone)

    @cached_property
    def zone(self) -> ZoneInfo:
        """The pool's time zone, asked for when it is needed."""
        return ZoneInfo(self.book.terms().value.time_zone)

    def tell_times(self, ask: Callable[[], T], tables: Callable[[T, tzinfo], list[Table]]) -> None:
        """Give what is asked for as tell does, with its instants in the pool's time zone.

        The zone is asked for first, so that what is recorded can be told."""
        zone = UTC if self.as_json else self.zone
        self.tell(ask(), lambda told: tables(told, zone))

    def sign_in(self, settings: Mapping[str, str]) -> None:
        """Keep settings in a file that its owner alone can read from the first moment, if they open the pool."""
        self.given = settings
        opened = self.book.terms().value
        url = httpx.URL(settings["address"])
        if url.scheme == "http" and url.host not in _LOOPBACK:
            self.say(f"beware: what goes to {url.host}, the key too, can be read on its way; use https")
        path = settings_file(self.environ)
        path.parent.mkdir(parents=True, exist_ok=True)
        handle = os.open(path, os.O_WRONLY | os.O_CREAT | os.O_TRUNC, 0o600)
        os.fchmod(handle, 0o600)
        with os.fdopen(handle, "w", encoding="utf-8") as file:
            json.dump(dict(settings), file, indent=2)
        self.say(f"signed in to {opened.name}; kept in {path}")

    def forget(self) -> None:
        """Delete what signing in has kept."""
        settings_file(self.environ).unlink(missing_ok=True)

    def stranger(self, address: str) -> Client:
        """Give the service as somebody meets it who has no key. Refuses: UsageError for what can't be an address."""
        try:
            return Client(address, None, http=self.http, sleep=self.sleep)
        except ValueError as flaw:
            raise click.UsageError(str(flaw)) from None

    def secret(self, name: str, words: str, *, twice: bool = False) -> str:
        """Give a secret from the environment, or ask for it without showing what is typed."""
        found = self.environ.get(f"CREDIT_POOL_{name.upper()}")
        asked: str = found or click.prompt(words, hide_input=True, confirmation_prompt=twice)
        if not is_text(asked):
            raise click.UsageError(f"the {name.replace('_', ' ')} isn't text in UTF-8")
        return asked

    def tell(self, value: T, tables: Callable[[T], list[Table]]) -> None:
        """Give a result: as JSON if that was asked for, else as tables."""
        if self.as_json:
            self.tell_word(value, "")
        else:
            with self._telling():
                put(_Screen(file=sys.stdout, highlight=False), tables(value))

    def tell_word(self, value: object, word: str) -> None:
        """Give a result: as JSON if that was asked for, else as a word alone, for programs to take."""
        self.tell_text((json.dumps(write(value), ensure_ascii=False, indent=2) if self.as_json else word) + "\n")

    def tell_text(self, text: str) -> None:
        """Give a result that is text, as it is."""
        with self._telling():
            click.echo(text, nl=False)

    @contextmanager
    def _telling(self) -> Iterator[None]:
        try:
            yield
        except (OSError, UnicodeEncodeError) as flaw:
            raise Untold(flaw, self.key) from None

    def say(self, words: str) -> None:
        """Say something beside the result."""
        click.echo(readable(words), err=True)


def _take_json(context: click.Context, _: click.Parameter, value: bool) -> None:
    if value:
        context.find_root().obj.as_json = True


json_option = click.option(
    "--json", is_flag=True, expose_value=False, callback=_take_json, help="Give the result as JSON."
)
"""For every command that gives a result."""


def _take_key(context: click.Context, _: click.Parameter, value: str | None) -> str:
    desk: Desk = context.find_root().obj
    desk.key = new_idempotency_key() if value is None else value
    return desk.key


repeat_option = click.option(
    "--repeat", "idempotency_key", metavar="KEY", callback=_take_key, help="Repeat an earlier try by its key."
)
"""For every command that records something."""

pass_desk = click.pass_obj


def together(*decorators: Callable[[Any], Any]) -> Callable[[Any], Any]:
    """Give several decorators as one that does what they do above a command, the first on top."""
    return lambda command: reduce(lambda made, decorate: decorate(made), reversed(decorators), command)


REFUSED, MISUSED, REPEAT = 1, 2, 3


class Untold(click.ClickException):
    """The result of what a command did can't be written to standard output."""

    exit_code = REPEAT

    def __init__(self, flaw: OSError | UnicodeEncodeError, key: str | None) -> None:
        why = f": {flaw.strerror}" if isinstance(flaw, OSError) else f" in {flaw.encoding} (see PYTHONIOENCODING)"
        repeat = "" if key is None else f" {how_to_repeat(key)}"
        super().__init__(f"The result can't be written{why}.{repeat}")


class _Screen(Console):
    def on_broken_pipe(self) -> None:
        """Let the error be told: rich itself would end the process with the code of a refusal."""
        raise BrokenPipeError(errno.EPIPE, os.strerror(errno.EPIPE))


def is_text(given: str) -> bool:
    """Whether what came from the command line or the environment is text in UTF-8."""
    try:
        given.encode()
    except UnicodeEncodeError:
        return False
    return True


def exit_code(error: PoolError) -> int:
    """Give the code with which a command ends after an error."""
    match error:
        case Misused():
            return MISUSED
        case Unreachable() | Busy() | ServerFault():
            return REPEAT
        case _:
            return REFUSED


def words_of(error: PoolError) -> Iterator[str]:
    """Give what is said of an error, line by line."""
    yield error.sentence
    for finding in error.findings:
        yield f"  {finding.get('pointer') or finding.get('parameter') or ''}: {finding.get('detail', '')}"
    if near := error.fields.get("near"):
        yield f"  near: {', '.join(near)}"
    if error.code:
        yield f"  ({error.code})"
    if exit_code(error) == REPEAT and error.idempotency_key:
        yield f"  {how_to_repeat(error.idempotency_key)}"


def how_to_repeat(key: str) -> str:
    """Give the words for something that may or may not have been recorded."""
    return f"Nothing is recorded twice if you repeat it with --repeat {key}"
