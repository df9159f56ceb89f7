"""The project's own Python files, parsed once: what the tests of its shape look at."""

import ast
from collections.abc import Iterator
from functools import lru_cache
from pathlib import Path

ROOT = Path(__file__).parents[2]


def python_files(*places: str) -> list[Path]:
    """Give the Python files of directories or files, named from the root, in order."""
    found = [path for place in places for path in (ROOT / place).rglob("*.py")]
    found += [ROOT / place for place in places if place.endswith(".py")]
    return sorted(found)


def named(path: Path) -> str:
    """Give a file's name as people say it, from the root."""
    return path.relative_to(ROOT).as_posix()


@lru_cache
def parsed(path: Path) -> ast.Module:
    """Give a file's syntax tree."""
    return ast.parse(path.read_text(encoding="utf-8"))


def functions(tree: ast.AST, outer: str = "") -> Iterator[tuple[str, ast.FunctionDef | ast.AsyncFunctionDef]]:
    """Give the functions of a tree with their dotted names, inner ones after the outer."""
    for node in ast.iter_child_nodes(tree):
        name = f"{outer}{node.name}" if isinstance(node, ast.ClassDef | ast.FunctionDef | ast.AsyncFunctionDef) else ""
        if isinstance(node, ast.FunctionDef | ast.AsyncFunctionDef):
            yield name, node
        yield from functions(node, f"{name}." if name else outer)
