"""The README's walk through a month: every command line in it is run, and prints what the README says it prints.

python -m tests.e2e.test_readme     writes the outputs in README.md anew
"""

import io
import re
import shlex
import tempfile
from collections.abc import Iterator
from contextlib import contextmanager, redirect_stdout
from pathlib import Path

import pytest
from pool_client.command import run

from pool_api.store.schema import migrate
from tests.served import Served, listening

README = Path(__file__).parents[2] / "README.md"
BLOCK = re.compile(r"```console\n(.*?)```", re.DOTALL)


def commands(text: str) -> list[tuple[str, str]]:
    """Give the command lines of the README's consoles with what each prints."""
    found: list[tuple[str, str]] = []
    for block in BLOCK.findall(text):
        for part in re.split(r"^\$ ", block, flags=re.MULTILINE)[1:]:
            line, _, printed = part.partition("\n")
            found.append((line, printed.rstrip("\n")))
    return found


def walked(service: Served) -> Iterator[tuple[str, str]]:
    """Run every command line and give it with what it printed, blanks at the ends of lines apart."""
    environ = {"CREDIT_POOL_ADDRESS": service.address, "CREDIT_POOL_POOL": "riverside"}
    key, digest = service.keys["operator"], ""
    for line, _ in commands(README.read_text(encoding="utf-8")):
        arguments = shlex.split(line.replace("DIGEST", digest))[1:]
        out = io.StringIO()
        with redirect_stdout(out):
            code = run(arguments, {**environ, "CREDIT_POOL_KEY": key})
        assert code == 0, line
        printed = out.getvalue()
        if arguments[0] == "make-key":
            key, printed = printed.strip(), ""
        if found := re.search(r"Digest: ([0-9a-f]{64})", printed):
            digest = found[1]
        said = printed.replace(digest, "DIGEST") if digest else printed
        yield line, "\n".join(each.rstrip() for each in said.splitlines()).strip("\n")


@contextmanager
def on_the_day(directory: Path) -> Iterator[Served]:
    """Serve an empty database, always on the same day: what months are open depends on it."""
    database_url = f"sqlite:///{directory / 'pool.sqlite3'}"
    migrate(database_url)
    with listening(database_url) as served:
        yield served


@pytest.fixture(scope="module")
def service(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Served]:
    with on_the_day(tmp_path_factory.mktemp("readme")) as served:
        yield served


def test_every_command_of_the_readme_prints_what_it_says(service: Served) -> None:
    told = commands(README.read_text(encoding="utf-8"))

    assert told == list(walked(service))
    assert len(told) > 10


def write_anew() -> None:
    """Put the outputs into the README."""
    with on_the_day(Path(tempfile.mkdtemp())) as service:
        printed = iter(list(walked(service)))
    text = README.read_text(encoding="utf-8")

    def block(found: re.Match[str]) -> str:
        lines = [line for line in found[1].splitlines() if line.startswith("$ ")]
        parts = []
        for _ in lines:
            line, output = next(printed)
            parts.append(f"$ {line}\n" + (f"{output}\n" if output else ""))
        return "```console\n" + "\n".join(parts) + "```"

    README.write_text(BLOCK.sub(block, text), encoding="utf-8")


if __name__ == "__main__":
    write_anew()
