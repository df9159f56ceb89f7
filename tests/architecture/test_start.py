"""What starts quickly: libraries that take long to load and that few requests need are loaded when they are needed."""

import subprocess
import sys

from tests.architecture.sources import ROOT

LATER = {"matplotlib", "typst", "xlsxwriter"}


def test_libraries_for_documents_are_loaded_at_their_first_use() -> None:
    starts = "pool_api.__main__, pool_api.rest.compose, pool_client.command, pool_web.beside"
    said = f"import sys, {starts}; print(*sys.modules)"
    ran = subprocess.run([sys.executable, "-c", said], cwd=ROOT, capture_output=True, text=True, check=True)

    assert set() == LATER & set(ran.stdout.split())
