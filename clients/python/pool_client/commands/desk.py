"""What every command shares: which service, pool and key are meant, and how results and errors are told.

Results go to standard output, as tables or with --json as JSON; words go to standard error. Exit codes: 0 done,
1 refused, 2 misused, 3 unreachable or busy, where repeating is safe: the words say with which key.
"""

import json
import os
import stat
import sys
from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass, field
from functools import cached_property
from pathlib import Path
from typing import Any

import click
import httpx
from rich.console import Console

from pool_client.client import Book, Client
from pool_client.errors import Busy, Misused, PoolError, ServerFault, Unreachable
from pool_client.show import Table, put
from pool_client.wire import write

SETTINGS = ("address", "pool", "key")
ENVIRONMENT = {name: f"CREDIT_POOL_{name.upper()}" for name in SETTINGS}
PIPED_WIDTH = 200


def settings_file(environ: Mapping[str, str]) -> Path:
    """Give where signing in keeps address, pool and key."""
    base = environ.get("XDG_CONFIG_HOME") or Path(environ.get("HOME", ".")) / ".config"
    return Path(base) / "credit-pool" / "settings.json"


@dataclass(kw_only=True)
class Desk:
    """Where a command works. http replaces the network in tests."""

    given: Mapping[str, str | None]
    environ: Mapping[str, str]
    http: httpx.Client | None = None
    as_json: bool = False
    _client: Client | None = field(default=None, repr=False)

    def setting(self, name: str) -> str:
        """Give address, pool or key: from the options, the environment, or the settings file, in this order."""
        found = self.given.get(name) or self.environ.get(ENVIRONMENT[name]) or self._kept.get(name)
        if not found:
            raise click.UsageError(f"no {name}: give --{name}, set {ENVIRONMENT[name]}, or sign in with 'pool sign-in'")
        return found

    @cached_property
    def _kept(self) -> dict[str, str]:
        path = settings_file(self.environ)
        if not path.exists():
            return {}
        if stat.S_IMODE(path.stat().st_mode) & 0o077:
            raise click.UsageError(f"{path} can be read by others: make it readable by you alone (chmod 600)")
        kept: dict[str, str] = json.loads(path.read_text(encoding="utf-8"))
        return kept

    @property
    def client(self) -> Client:
        """The service."""
        if self._client is None:
            self._client = Client(self.setting("address"), self.setting("key"), http=self.http)
        return self._client

    def close(self) -> None:
        """Hang up, if anything was asked at all."""
        if self._client is not None:
            self._client.close()

    @property
    def book(self) -> Book:
        """The pool."""
        return self.client.book(self.setting("pool"))

    def tell(self, value: Any, tables: Callable[[Any], list[Table]]) -> None:
        """Give a result: as JSON if that was asked for, else as tables."""
        if self.as_json:
            click.echo(json.dumps(_plain(value), ensure_ascii=False, indent=2))
        else:
            wide = sys.stdout.isatty()
            put(Console(file=sys.stdout, width=None if wide else PIPED_WIDTH, highlight=False), tables(value))

    def say(self, words: str) -> None:
        """Say something beside the result."""
        click.echo(words, err=True)


def _plain(value: Any) -> Any:
    if isinstance(value, list | tuple):
        return [_plain(each) for each in value]
    return write(value)


def keep_settings(path: Path, kept: Mapping[str, str]) -> None:
    """Write the settings file, readable by its owner alone from the first moment."""
    path.parent.mkdir(parents=True, exist_ok=True)
    handle = os.open(path, os.O_WRONLY | os.O_CREAT | os.O_TRUNC, 0o600)
    os.fchmod(handle, 0o600)
    with os.fdopen(handle, "w", encoding="utf-8") as file:
        json.dump(dict(kept), file, indent=2)


def _take_json(context: click.Context, _: click.Parameter, value: bool) -> None:
    if value:
        context.find_root().obj.as_json = True


json_option = click.option(
    "--json", is_flag=True, expose_value=False, callback=_take_json, help="Give the result as JSON."
)
"""For every command that gives a result."""

pass_desk = click.pass_obj


def exit_code(error: PoolError) -> int:
    """Give the code with which a command ends after an error."""
    match error:
        case Misused():
            return 2
        case Unreachable() | Busy() | ServerFault():
            return 3
        case _:
            return 1


def words_of(error: PoolError) -> Iterable[str]:
    """Give what is said of an error."""
    yield error.sentence
    for finding in error.findings:
        yield f"  {finding.get('pointer') or finding.get('parameter') or ''}: {finding.get('detail', '')}"
    if error.code:
        yield f"  ({error.code})"
    if exit_code(error) == 3 and error.idempotency_key:
        yield f"  Nothing is recorded twice if you repeat it with --repeat {error.idempotency_key}"
