from pathlib import Path

import pytest

from tests.clients.shop import Shop


@pytest.fixture
def shop(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> Shop:
    """Somebody at a command line, whose service answers with values made from the API's description."""
    return Shop(home=tmp_path, capsys=capsys)
