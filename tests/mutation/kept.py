"""The readings of unchanged files, kept: of a run with one fault, only the changed file is read anew."""

from __future__ import annotations

import functools
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from typing import Any
from unittest.mock import patch

from boardgen.readback import case, reader

LAYERS, BOARDS = 700, 120  # readings kept: those of the clean boards, and some of faulty files

_things_of = functools.lru_cache(maxsize=LAYERS)(reader.things_of)
_tree_of = functools.lru_cache(maxsize=BOARDS)(case.tree_of)


def _by_first(work: Callable[..., Any]) -> Callable[..., Any]:
    """Keep what *work* gives by its first argument, the same thing and not an equal one, and the others."""
    held: dict[tuple[object, ...], tuple[object, Any]] = {}

    def kept(first: object, *rest: object) -> Any:
        key = (id(first), *rest)
        if key not in held or held[key][0] is not first:
            if len(held) >= BOARDS:
                del held[next(iter(held))]
            held[key] = (first, work(first, *rest))
        return held[key][1]

    return kept


_wanted_by_cad = _by_first(case.wanted_by_cad)


@contextmanager
def kept_readings() -> Iterator[None]:
    """Read what was read before from memory. What is handed on is not changed by those who take it."""
    with (
        patch.object(reader, "things_of", _things_of),
        patch.object(case, "tree_of", _tree_of),
        patch.object(case, "wanted_by_cad", _wanted_by_cad),
    ):
        yield
