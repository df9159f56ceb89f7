"""The command line `pool`: the book from a terminal, through the same API as everyone else."""

import os
import sys
import time
from collections.abc import Callable, Mapping, Sequence
from datetime import datetime

import click
import httpx

from pool_client.commands import (
    bookkeeping,
    buying,
    catalogue,
    explaining,
    mending,
    months,
    needs,
    on_file,
    people,
    reading,
    recording,
    requests,
    rounds,
    setup,
    vendor,
)
from pool_client.commands.desk import (
    MISUSED,
    REPEAT,
    Desk,
    Untold,
    exit_code,
    how_to_repeat,
    is_text,
    present,
    words_of,
)
from pool_client.errors import PoolError

SUBJECTS = {
    "Setting up": setup.COMMANDS,
    "People": people.COMMANDS,
    "Recording": recording.COMMANDS,
    "Looking": reading.COMMANDS,
    "Month's end": months.COMMANDS,
    "Why and what if": explaining.COMMANDS,
    "Banks and bookkeepers": bookkeeping.COMMANDS,
    "Buying": (*needs.COMMANDS, *buying.COMMANDS),
    "Ordering together": rounds.COMMANDS,
    "Needing credits": requests.COMMANDS,
    "The catalogue": catalogue.CATALOGUE,
    "Jobs": catalogue.JOBS,
    "The vendor's record": (*vendor.COMMANDS, *on_file.COMMANDS, *mending.COMMANDS),
}


class _BySubject(click.Group):
    def format_commands(self, ctx: click.Context, formatter: click.HelpFormatter) -> None:  # noqa: ARG002 - click's
        for subject, commands in SUBJECTS.items():
            with formatter.section(subject):
                formatter.write_dl([(each.name or "", each.get_short_help_str(60)) for each in commands])


@click.group(cls=_BySubject, epilog="Example: pool positions")
@click.option("--address", help="The service's address [CREDIT_POOL_ADDRESS].")
@click.option("--pool", help="The pool's id [CREDIT_POOL_POOL].")
@click.option("--key", help="An API key, or the token of a session [CREDIT_POOL_KEY].")
@click.pass_context
def pool_command(context: click.Context, address: str | None, pool: str | None, key: str | None) -> None:
    """The shared book of shops that buy prepaid vendor credits together.

    Results go to standard output, words to standard error. Exit codes: 0 done, 1 refused, 2 misused, 3 unreachable,
    busy or done but not to be shown, where repeating is safe."""
    context.obj.given = {"address": address, "pool": pool, "key": key}


for _commands in SUBJECTS.values():
    for _command in _commands:
        pool_command.add_command(_command)


def run(
    arguments: Sequence[str],
    environ: Mapping[str, str],
    http: httpx.Client | None = None,
    sleep: Callable[[float], None] = time.sleep,
    now: Callable[[], datetime] = present,
) -> int:
    """Run a command line and give its exit code. http replaces the network, sleep the waiting and now the clock in
    tests."""
    desk = Desk(given={}, environ=environ, http=http, sleep=sleep, now=now)
    if not all(map(is_text, arguments)):
        desk.say("An argument isn't text in UTF-8.")
        return MISUSED
    try:
        pool_command.main(list(arguments), prog_name="pool", standalone_mode=False, obj=desk)
    except PoolError as error:
        for words in words_of(error):
            desk.say(words)
        return exit_code(error)
    except click.ClickException as error:
        return _shown(error)
    except UnicodeEncodeError as flaw:
        return _shown(Untold(flaw, desk.key))
    except (click.exceptions.Abort, OSError) as error:
        return _stopped(desk, error)
    except SystemExit as end:
        return int(end.code or 0)
    finally:
        desk.close()
    return 0


def _shown(error: click.ClickException) -> int:
    error.show()
    return error.exit_code


def _stopped(desk: Desk, error: Exception) -> int:
    if isinstance(error, OSError):
        desk.say(str(error))
        return MISUSED
    if desk.key is None:
        desk.say("Stopped.")
        return MISUSED
    desk.say(f"Stopped. {how_to_repeat(desk.key)}")
    return REPEAT


def main() -> None:
    """Run the command line of this process."""
    code = run(sys.argv[1:], os.environ)
    try:
        sys.stdout.flush()
    except OSError:
        # Python would try once more as the process ends, and make the code of that failure the process's own.
        os.dup2(os.open(os.devnull, os.O_WRONLY), sys.stdout.fileno())
    sys.exit(code)
