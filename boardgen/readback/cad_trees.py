"""The CAD board as nested lists by kicad-skip's reader, which shares nothing with our own."""

from __future__ import annotations

from typing import Any

from boardgen.footprint.sexpr import Node, Sym

_DEEPEST = 64
MOST = 2_500_000  # characters that this reader is given: it takes 0.4 us each


def tree_by_skip(data: bytes) -> Node:
    """Return the file's lists, numbers as text. Raises whatever its reader raises on damage."""
    from skip.sexp import util  # noqa: PLC0415 - only where a file on disk is checked

    text = data.decode("utf-8")
    if len(text) > MOST:
        raise ValueError(f"larger than {MOST} characters")
    tree = _node(util.sexpdata.loads(text), 0)
    if not isinstance(tree, list):
        raise ValueError("no list")
    return tree


def _node(item: Any, depth: int) -> Any:
    if depth > _DEEPEST:
        raise ValueError(f"nested deeper than {_DEEPEST}")
    if isinstance(item, list):
        return [_node(inner, depth + 1) for inner in item]
    if isinstance(item, bool):
        return Sym("t")
    if isinstance(item, float):
        return Sym(repr(item))
    if isinstance(item, int):
        return Sym(str(item))
    if type(item) is str:
        return item
    value = getattr(item, "value", None)  # a bare word
    if callable(value):
        return Sym(str(value()))
    raise ValueError(f"an item of an unknown kind: {type(item).__name__}")
