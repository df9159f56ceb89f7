"""Finds binary fractions in source code: where credits and money are counted there must be none.

Types see what is annotated; this sees what is written: the type, a literal, a call that gives one. What it can't see
is a division of two whole numbers, which the type checker sees as soon as the result is stored as a whole number.
"""

import ast
from collections.abc import Iterator

_WHOLE = {"ceil", "comb", "factorial", "floor", "gcd", "isqrt", "lcm", "perm", "prod"}
_SECONDS = {"fromtimestamp", "timestamp", "total_seconds"}


def floats(tree: ast.AST) -> Iterator[tuple[int, str]]:
    """Give line and text of everything in a tree that is or gives a binary fraction."""
    for node in ast.walk(tree):
        if _is_float(node):
            yield getattr(node, "lineno", 0), ast.unparse(node)


def _is_float(node: ast.AST) -> bool:
    match node:
        case ast.Constant(value=value):
            return isinstance(value, float | complex)
        case ast.Name(id="float" | "complex"):
            return True
        case ast.Attribute(value=ast.Name(id="math"), attr=name):
            return name not in _WHOLE
        case ast.ImportFrom(module="math", names=names):
            return any(each.name not in _WHOLE for each in names)
        case ast.Attribute(attr=name):
            return name in _SECONDS
        case _:
            return False
