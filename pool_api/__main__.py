"""The server's own commands, for whoever has the database at hand.

They read the settings from the environment (settings.py). Results go to standard output, words to standard error.
Exit codes: 0 done, 1 refused or found wrong, 2 misused.
"""

import json
import logging
import os
import sys
import time
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from datetime import UTC, datetime
from pathlib import Path

import click
import uvicorn
from pool_web.beside import Beside

from pool_api.domain.access_log import one_line
from pool_api.domain.errors import DomainError
from pool_api.rest.compose import Variables, close_office, described, open_office, serving_app, spare_the_collector
from pool_api.rest.rates import Rate
from pool_api.services import access_log, keys, ledger, second_factors, sessions
from pool_api.services.office import Office
from pool_api.settings import SettingRefused, Settings, read_settings
from pool_api.store.backup import back_up
from pool_api.store.errors import StoreError
from pool_api.store.schema import migrate as migrate_database


def variables() -> Variables:
    """Give the real clock and the real source of randomness."""
    return Variables(now=lambda: datetime.now(UTC))


class OneLine(logging.Formatter):
    """Writes each record's words on one line, whatever somebody sent that stands in them."""

    def formatMessage(self, record: logging.LogRecord) -> str:  # noqa: N802 - the library's name
        """Give the line; a trace of the program's own follows on lines of its own."""
        return one_line(super().formatMessage(record))


def keep_log() -> None:
    """Let the service's log out on standard error, with instants in UTC: who signed in, was refused or taken out.

    Persons, keys and sessions stand in it by their ids, never by names or secrets."""
    form = OneLine("%(asctime)s %(levelname)s %(name)s: %(message)s", "%Y-%m-%dT%H:%M:%SZ")
    form.converter = time.gmtime
    handler = logging.StreamHandler()
    handler.setFormatter(form)
    log = logging.getLogger("pool_api")
    log.addHandler(handler)
    log.setLevel(logging.INFO)
    log.propagate = False


def app() -> object:
    """Make the app for a server process; called by the server in each of its processes."""
    keep_log()
    settings = read_settings(os.environ)
    rate = Rate(burst=2 * settings.requests_per_second, per_second=settings.requests_per_second)
    made = serving_app(settings, open_office(settings, variables()), rate=rate)
    spare_the_collector()
    return Beside(made, variables().now) if settings.pages else made


@contextmanager
def _office() -> Iterator[Office]:
    office = open_office(read_settings(os.environ), variables())
    try:
        yield office
    finally:
        close_office(office)


@click.group(help=__doc__)
def main() -> None:
    """Run one of the commands."""


@main.command(epilog="Example: CREDIT_POOL_PORT=8080 python -m pool_api serve")
def serve() -> None:
    """Serve the API and the pages until told to stop; requests that were accepted are answered first."""
    settings = read_settings(os.environ)
    uvicorn.run(
        "pool_api.__main__:app",
        factory=True,
        host=settings.host,
        port=settings.port,
        workers=settings.processes,
        loop="uvloop",
        http="httptools",
        server_header=False,
        access_log=False,
        proxy_headers=False,
        timeout_graceful_shutdown=30,
    )


@main.command(epilog="Example: python -m pool_api migrate")
def migrate() -> None:
    """Bring the database to the newest revision; makes a SQLite file that isn't there yet."""
    settings = read_settings(os.environ)
    migrate_database(settings.database_url)
    click.echo("the database is at the newest revision", err=True)


@main.command("first-key", epilog="Example: python -m pool_api first-key")
@click.option("--name", default="first operator", show_default=True, help="What the key is called in lists.")
def first_key(name: str) -> None:
    """Make the first key, an operator's, on a service that has none. It is shown this once."""
    with _office() as office:
        text = keys.make_first_key(office, name=name)
    if text is None:
        click.echo("there are keys already; make another one with operator-key", err=True)
        sys.exit(1)
    click.echo(text)


@main.command("operator-key", epilog="Example: python -m pool_api operator-key --name 'second operator'")
@click.option("--name", required=True, help="What the key is called in lists.")
def operator_key(name: str) -> None:
    """Make another operator's key. It is shown this once."""
    with _office() as office:
        click.echo(keys.make_operator_key(office, name=name))


@main.command("new-password", epilog="Example: python -m pool_api new-password 'Ines Walder'")
@click.argument("name")
def new_password(name: str) -> None:
    """Give a person who has forgotten the password a random one, shown this once; the old one and all sessions end.

    The person changes it after signing in."""
    with _office() as office:
        click.echo(sessions.new_password(office, name))


@main.command("end-second-factor", epilog="Example: python -m pool_api end-second-factor 'Ines Walder'")
@click.argument("name")
def end_second_factor(name: str) -> None:
    """Take the second factor off a person who has lost app and recovery codes; all its sessions end.

    Be sure who asks for it. The person sets up another one after signing in."""
    with _office() as office:
        second_factors.end_lost(office, name)
    click.echo(f"{name} signs in with the password alone now", err=True)


@main.command("shut-out", epilog="Example: python -m pool_api shut-out 'Ines Walder'")
@click.argument("name")
def shut_out(name: str) -> None:
    """Shut a person out of the whole service; all its sessions end."""
    with _office() as office:
        sessions.shut_out(office, name, out=True)
    click.echo(f"{name} can't sign in any more", err=True)


@main.command("let-in", epilog="Example: python -m pool_api let-in 'Ines Walder'")
@click.argument("name")
def let_in(name: str) -> None:
    """Let a person in again who was shut out."""
    with _office() as office:
        sessions.shut_out(office, name, out=False)
    click.echo(f"{name} can sign in again", err=True)


def _known(_context: click.Context, _option: click.Parameter, text: str | None) -> ledger.Known | None:
    try:
        return ledger.Known.parse(text) if text else None
    except ValueError as error:
        raise click.BadParameter("it must be a number, a colon and a hash, such as 42:0123456789abcdef") from error


@main.command(epilog="Example: python -m pool_api verify riverside")
@click.argument("pool")
@click.option("--known", metavar="NUMBER:HASH", callback=_known, help="An entry that a statement names.")
def verify(pool: str, known: ledger.Known | None) -> None:
    """Recompute a pool's journal and projections, then the service's access log, and name what is wrong first.

    An entry that is known from a statement shows whether an older backup was put in place."""
    with _office() as office:
        report = ledger.verify_journal(office, pool, known)
        events = access_log.verify_access(office)
    click.echo(f"{report.entries} entries, head {report.head}")
    for finding in report.findings:
        click.echo(f"entry {finding.number}: {finding.problem}" if finding.number else finding.problem)
    click.echo(f"{events.events} access events, head {events.head}")
    if events.problem is not None:
        click.echo(f"access event {events.number}: {events.problem}" if events.number else events.problem)
    if report.findings or events.problem is not None:
        sys.exit(1)
    click.echo("every number, hash and projection holds", err=True)


@main.command(epilog="Example: python -m pool_api backup var/pool-2026-11-25.sqlite3")
@click.argument("target", type=click.Path(path_type=Path))
def backup(target: Path) -> None:
    """Copy a SQLite database while it is in use, and check the copy. For PostgreSQL use its own pg_dump."""
    settings: Settings = read_settings(os.environ)
    back_up(settings.database_url, target)
    click.echo(f"copied to {target}", err=True)


@main.command(epilog="Example: python -m pool_api openapi > pool_api/openapi.json")
def openapi() -> None:
    """Print the API's description (OpenAPI 3.1); needs no database."""
    click.echo(json.dumps(described(), ensure_ascii=False, indent=2))


def run(command: Callable[[], None]) -> None:
    """Run a command, and tell refusals in one line instead of a trace."""
    try:
        command()
    except (DomainError, StoreError, SettingRefused) as refusal:
        click.echo(f"refused: {refusal}", err=True)
        sys.exit(1)


if __name__ == "__main__":
    run(main)
