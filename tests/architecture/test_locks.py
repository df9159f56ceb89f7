"""What is installed is what was locked, hash by hash, and every dependency has its reason."""

import json
import re
import subprocess
import tomllib
from pathlib import Path

import pytest

from tests.architecture.sources import ROOT

PROJECT = tomllib.loads((ROOT / "pyproject.toml").read_text())["project"]
EXTRAS = PROJECT["optional-dependencies"]
LOCKS = {
    "requirements.lock": [*PROJECT["dependencies"], *EXTRAS["build"]],
    "requirements-dev.lock": [*PROJECT["dependencies"], *EXTRAS["dev"]],
}
SERVICE = "requirements.lock"
PIN = re.compile(r"^([a-z0-9][a-z0-9-]*)==(\S+)([^\n]*(?:\n    [^\n]*)*)", re.MULTILINE)


def name_of(requirement: str) -> str:
    found = re.match(r"[A-Za-z0-9._-]+", requirement)
    assert found
    return re.sub(r"[._-]+", "-", found[0]).lower()


def pins(lock: str) -> list[tuple[str, str, str]]:
    return PIN.findall((ROOT / lock).read_text())


@pytest.mark.parametrize("lock", LOCKS)
def test_everything_locked_has_its_hashes(lock: str) -> None:
    bare = [name for name, _, rest in pins(lock) if not re.search(r"--hash=sha256:[0-9a-f]{64}", rest)]

    assert [] == bare
    assert pins(lock)


@pytest.mark.parametrize(("lock", "wanted"), LOCKS.items())
def test_every_direct_dependency_is_locked(lock: str, wanted: list[str]) -> None:
    assert set(map(name_of, wanted)) <= {name for name, _, _ in pins(lock)}


def test_development_has_what_the_service_has() -> None:
    service, development = (set(pins(lock)) for lock in LOCKS)

    assert {(name, version) for name, version, _ in service} <= {(name, version) for name, version, _ in development}


@pytest.mark.parametrize("lock", LOCKS)
def test_a_lock_names_no_place_to_fetch_from(lock: str) -> None:
    assert not re.search(r"https?://|--(extra-)?index-url|--find-links|file:", (ROOT / lock).read_text())


def test_every_direct_dependency_has_its_reason() -> None:
    told = (ROOT / "DEVELOPERS.md").read_text()
    wanted = {
        name_of(each) for each in (*PROJECT["dependencies"], *(each for extra in EXTRAS.values() for each in extra))
    }

    assert [] == [name for name in sorted(wanted) if f"`{name}`" not in told]


def test_nothing_that_is_installed_is_left_out_of_the_bill_of_materials(tmp_path: Path) -> None:
    target = tmp_path / "sbom.json"
    subprocess.run([ROOT / ".ci" / "steps" / "sbom", target], check=True, capture_output=True)

    bill = json.loads(target.read_text())
    listed = {(name_of(each["name"]), each["version"]): each for each in bill["components"]}
    hashes = {
        pin: {known["content"] for place in each["externalReferences"] for known in place["hashes"]}
        for pin, each in listed.items()
    }
    locked = {(name, version): set(re.findall(r"sha256:([0-9a-f]{64})", rest)) for name, version, rest in pins(SERVICE)}
    assert locked == hashes
    assert "CycloneDX" == bill["bomFormat"]
    assert PROJECT["name"] == bill["metadata"]["component"]["name"]
