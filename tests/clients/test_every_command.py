"""Every command as its own example says it, answered with values that the API's description describes."""

import json
import re
import shlex
from collections.abc import Iterator
from pathlib import Path

import click
import httpx
import pytest
from pool_client.command import SUBJECTS, run
from pool_client.wire import write

from tests.clients.document import answered
from tests.clients.samples import ONE_OF_EACH, PROFILE
from tests.clients.samples_catalogue import CATALOGUE_PROFILE
from tests.clients.scripted import API_KEY
from tests.clients.shop import SET

COMMANDS = {str(command.name): command for commands in SUBJECTS.values() for command in commands}
SECRET = "cpi_4f0c8e12ab34_" + "7" * 40
FILES = {
    "old-books.json": json.dumps(write(ONE_OF_EACH[0])),
    "october.jsonl": "\n".join(json.dumps({"kind": each.kind, **write(each)}) for each in ONE_OF_EACH),
    "norvane.json": json.dumps(write(PROFILE)),
    "norvane-list.json": json.dumps(write(CATALOGUE_PROFILE)),
    "list.csv": "Article;Credits\n",
    "export.xlsx": "Booked;Action\n",
    "alder-october.csv": "Booked;Action\n",
    "ladder.csv": "from_credits,unit_price\n1,9.80\n",
}
_OF_CATALOGUES = {"withdraw-catalogue", "save-catalogue-profile"}
_OTHERS = {"sign-in", "end-key", "save-profile", "erase-bank-account", "withdraw-ladder", "withdraw-need"}
_OF_PEOPLE = {
    *("join", "sign-out", "end-session", "confirm-password", "password", "take-out", "withdraw-invitation"),
    "take-off-second-factor",
}
SAYS_ONLY_WORDS = _OTHERS | _OF_CATALOGUES | _OF_PEOPLE
each_command = pytest.mark.parametrize("command", COMMANDS.values(), ids=COMMANDS)


@pytest.fixture
def http(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Iterator[httpx.Client]:
    for name, content in FILES.items():
        (tmp_path / name).write_text(content)
    monkeypatch.chdir(tmp_path)
    monkeypatch.setattr("click.termui.hidden_prompt_func", lambda _: SECRET)
    with httpx.Client(transport=httpx.MockTransport(answered)) as client:
        yield client


def run_example(http: httpx.Client, command: click.Command, *more: str) -> int:
    line = shlex.split((command.epilog or "").removeprefix("Example: pool ").partition(" >")[0])
    line += ["--key", API_KEY] if command.name == "sign-in" else []
    line = [each for each in line if each not in {"--csv", "--xml"} or "--json" not in more]
    return run([*line, *more], {"HOME": str(Path.cwd()), **SET}, http)


@each_command
def test_the_example_works(http: httpx.Client, command: click.Command, capsys: pytest.CaptureFixture[str]) -> None:
    assert 0 == run_example(http, command)
    said = capsys.readouterr()
    assert (command.name in SAYS_ONLY_WORDS) == (said.out == "")
    assert API_KEY not in said.out + said.err


@each_command
def test_the_example_gives_json_and_nothing_else_when_asked(
    http: httpx.Client, command: click.Command, capsys: pytest.CaptureFixture[str]
) -> None:
    if command.name in SAYS_ONLY_WORDS:
        assert 2 == run_example(http, command, "--json")
        return

    assert 0 == run_example(http, command, "--json")
    said = capsys.readouterr()
    assert json.loads(said.out)
    assert API_KEY not in said.out + said.err


@each_command
def test_the_help_is_told_without_asking_anybody(
    command: click.Command, capsys: pytest.CaptureFixture[str], tmp_path: Path
) -> None:
    assert 0 == run([str(command.name), "--help"], {"HOME": str(tmp_path)})
    said = capsys.readouterr()
    assert "" == said.err
    assert " ".join((command.epilog or "?").split()) in " ".join(said.out.split())


@each_command
def test_every_option_has_its_words(command: click.Command) -> None:
    options = [each for each in command.params if isinstance(each, click.Option)]

    assert [] == [option.name for option in options if not option.help]


def test_what_records_can_be_repeated() -> None:
    recording = {str(command.name) for command in (*SUBJECTS["Recording"],)}
    also = {"close", "reopen", "import", "accept", "dismiss", "accept-all", "dismiss-all", "make-key", "invite"}
    also |= {"confirm", "take-back", "hand-over", "answer", "sign-off", "plan-orders"}
    also |= {"open-round", "extend-round", "close-round", "call-off-round"}
    also |= {"ask", "lend-to", "withdraw-request"}
    repeatable = {name for name, command in COMMANDS.items() if any("--repeat" in each.opts for each in command.params)}

    assert recording | also == repeatable


@each_command
def test_the_first_sentence_fits_into_the_list(command: click.Command) -> None:
    assert not command.get_short_help_str(60).endswith("...")


def test_all_commands_are_listed_by_subject(capsys: pytest.CaptureFixture[str], tmp_path: Path) -> None:
    assert 0 == run(["--help"], {"HOME": str(tmp_path)})
    listed = re.findall(r"^  ([a-z][a-z-]*)  +[A-Z]", capsys.readouterr().out, re.MULTILINE)

    assert list(COMMANDS) == listed
