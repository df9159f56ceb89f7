"""What the committed files of seed/data say of themselves: where they stand, and what is true of them."""

import json
from pathlib import Path
from typing import Any

ROOT = Path(__file__).parents[2]
DATA = ROOT / "seed" / "data"
TRUTH: dict[str, Any] = json.loads((DATA / "truth.json").read_text())
MONTHS = tuple(TRUTH["balances"])


def trouble(name: str) -> dict[str, Any]:
    """Give one of the troubles that were planted."""
    found: dict[str, Any] = next(each for each in TRUTH["troubles"] if each["trouble"] == name)
    return found
