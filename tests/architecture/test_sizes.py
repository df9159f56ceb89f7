"""A file or function that grows beyond a screen or two is to be split, or to stand here with its reason."""

import ast

import pytest

from tests.architecture.sources import ROOT, functions, named, parsed, python_files

FILE_LINES = 400
FIXTURE_FILE_LINES = 200
FUNCTION_LINES = 40

LONG_FILES = {
    "pool_api/domain/errors.py": "one class for each refusal, and nothing else",
}
LONG_FUNCTIONS = {
    "migrations/versions/20261125_book.py:create_tables": "a schema's first revision lists every table",
}

CODE = ("pool_api", "clients/python/pool_client", "clients/web/pool_web", "migrations", "seed")


def lines_of(function: ast.FunctionDef | ast.AsyncFunctionDef) -> int:
    """Count a function's lines without its docstring."""
    docstring = function.body[0] if ast.get_docstring(function, clean=False) is not None else None
    described = (docstring.end_lineno or 0) - docstring.lineno + 1 if docstring else 0
    return (function.end_lineno or 0) - function.lineno + 1 - described


def test_files_are_short() -> None:
    long = {
        named(path): size
        for path in python_files(*CODE, "tests")
        if (size := len(path.read_text(encoding="utf-8").splitlines())) > FILE_LINES
    }

    assert LONG_FILES.keys() == long.keys(), long


def test_files_of_fixtures_are_short() -> None:
    long = [
        path for path in ROOT.glob("tests/**/conftest.py") if len(path.read_text().splitlines()) > FIXTURE_FILE_LINES
    ]

    assert [] == long


def test_functions_are_short() -> None:
    long = {
        f"{named(path)}:{name}": size
        for path in python_files(*CODE)
        for name, function in functions(parsed(path))
        if (size := lines_of(function)) > FUNCTION_LINES
    }

    assert LONG_FUNCTIONS.keys() == long.keys(), long


@pytest.mark.parametrize(
    ("source", "lines"),
    [
        ("def f():\n    return 1", 2),
        ('def f():\n    """One."""\n    return 1', 2),
        ('def f():\n    """One.\n\n    Two."""\n    return 1', 2),
        ("def f(\n    a,\n):\n    return (\n        1\n    )", 6),
    ],
)
def test_lines_are_counted_without_the_docstring(source: str, lines: int) -> None:
    (function,) = (function for _, function in functions(ast.parse(source)))

    assert lines == lines_of(function)


def test_functions_are_found_wherever_they_stand() -> None:
    tree = ast.parse("class A:\n    def b(self):\n        def c(): ...\nif True:\n    async def d(): ...")

    assert ["A.b", "A.b.c", "d"] == [name for name, _ in functions(tree)]
