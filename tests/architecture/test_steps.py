"""The steps by which the project is built: each stands alone, stops at the first failure, and is told by make help."""

import os
import re
import subprocess
from pathlib import Path

import pytest

from tests.architecture.sources import ROOT

STEPS = [ROOT / ".ci" / "run", *sorted((ROOT / ".ci" / "steps").iterdir())]
MAKEFILE = (ROOT / "Makefile").read_text()


@pytest.mark.parametrize("step", STEPS, ids=lambda step: step.name)
def test_a_step_can_be_run_and_stops_at_the_first_failure(step: Path) -> None:
    shebang, purpose, options, *_ = step.read_text().splitlines()

    assert os.access(step, os.X_OK)
    assert ("#!/usr/bin/env bash", "set -euo pipefail") == (shebang, options)
    assert purpose.startswith("# ")


def test_every_target_is_told_by_help() -> None:
    (targets,) = re.findall(r"^\.PHONY: (.*)$", MAKEFILE, re.MULTILINE)
    asked = ["make", "--no-print-directory", "help"]
    told = subprocess.run(asked, cwd=ROOT, check=True, capture_output=True, text=True).stdout

    assert targets.split() == [line.split()[1] for line in told.splitlines()]


def test_every_target_starts_a_step_that_exists() -> None:
    started = set(re.findall(r"\.ci/\S+", MAKEFILE))

    assert {str(step.relative_to(ROOT)) for step in STEPS} == started
