"""Transactions begin and end in one file: whoever else commits would break up a unit of work."""

import ast
from collections.abc import Iterator

import pytest

from tests.architecture.sources import named, parsed, python_files

ENDINGS = {"begin", "begin_nested", "commit", "rollback"}


def endings(tree: ast.AST) -> Iterator[int]:
    for node in ast.walk(tree):
        if isinstance(node, ast.Call) and isinstance(node.func, ast.Attribute) and node.func.attr in ENDINGS:
            yield node.lineno


def test_only_the_engine_begins_and_ends_transactions() -> None:
    found = {named(path) for path in python_files("pool_api") if any(endings(parsed(path)))}

    assert {"pool_api/store/engine.py"} == found


@pytest.mark.parametrize("line", ["connection.commit()", "with engine.begin() as c: ...", "self._unit.rollback()"])
def test_an_ending_is_found(line: str) -> None:
    assert [1] == list(endings(ast.parse(line)))
