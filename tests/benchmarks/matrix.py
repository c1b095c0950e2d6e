"""How long a matrix takes to compute: ``python -m tests.benchmarks.matrix --seed S --repeat N``.

Prints one JSON line a case: unsafe sets by size, rollover, and the median times in ms of each step.
"""

from __future__ import annotations

import argparse
import json
import random
import time
from collections.abc import Callable
from typing import TypeVar

from boardgen.design.model import Matrix
from boardgen.electrical.matrix.groups import judge_group
from boardgen.electrical.matrix.mending import mending
from boardgen.electrical.matrix.phantoms import phantoms
from boardgen.electrical.matrix.rollover import rollover
from boardgen.electrical.matrix.wiring import unread_keys, wiring_of

T = TypeVar("T")
# rows, columns, share of crossings with a key, of keys with a diode, of diodes that point to the row
CASES = [
    (8, 5, 1.0, 0.0, 0.0), (16, 8, 1.0, 0.0, 0.0), (16, 8, 0.75, 0.0, 0.0), (16, 8, 0.5, 0.0, 0.0),
    (16, 8, 0.3, 0.0, 0.0), (16, 8, 1.0, 0.5, 0.0), (16, 8, 0.5, 0.5, 0.0), (16, 8, 1.0, 1.0, 0.0),
    (13, 13, 1.0, 0.0, 0.0), (13, 13, 0.4, 0.2, 0.0), (20, 20, 1.0, 0.0, 0.0), (20, 20, 0.3, 0.0, 0.0),
    (8, 5, 1.0, 1.0, 0.4), (16, 8, 1.0, 1.0, 0.4), (16, 8, 1.0, 0.5, 0.4), (16, 8, 0.5, 0.5, 0.4),
    (16, 8, 0.3, 1.0, 0.4),
]  # fmt: skip


def drawn(rows: int, columns: int, filled: float, diodes: float, to_row: float, seed: int) -> Matrix:
    """A matrix with keys and diodes strewn at random, and four groups of five keys to be held together."""
    rng = random.Random(f"{rows} {columns} {filled} {diodes} {seed}")
    lines = tuple(f"R{n}" for n in range(rows)), tuple(f"C{n}" for n in range(columns))
    keys = tuple((r, c, f"{r}{c}") for r in lines[0] for c in lines[1] if rng.random() < filled)
    names = [name for _, _, name in keys]
    some = tuple(name for name in names if rng.random() < diodes)
    together = tuple(tuple(rng.sample(names, 5)) for _ in range(4))
    turned = tuple(name for name in some if rng.random() < to_row)
    return Matrix(
        "keys", *lines, diodes="cathode-to-column" if some else "none", keys=keys,
        diode_keys=some or None, together=together, cathode_to_row=turned,
    )  # fmt: skip


def timed(repeat: int, work: Callable[[], T]) -> tuple[T, float]:
    """The result and the median time in ms."""
    times = []
    for _ in range(repeat):
        start = time.perf_counter()
        result = work()
        times.append((time.perf_counter() - start) * 1e3)
    return result, round(sorted(times)[repeat // 2], 2)


def main() -> None:
    """Run every case."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--repeat", type=int, default=3)
    options = parser.parse_args()
    for case in CASES:
        matrix = drawn(*case, options.seed)
        wiring = wiring_of(matrix)
        found, sets_ms = timed(options.repeat, lambda wiring=wiring: phantoms(wiring))
        safe, rollover_ms = timed(options.repeat, lambda wiring=wiring, found=found: rollover(wiring, found))
        groups, groups_ms = timed(
            options.repeat, lambda w=wiring, m=matrix: tuple(judge_group(w, names) for names in m.together)
        )
        plan, mending_ms = timed(options.repeat, lambda wiring=wiring, groups=groups: mending(wiring, groups))
        row = {
            "rows": case[0], "columns": case[1], "keys": len(wiring.keys),
            "diodes": sum(key.diode for key in wiring.keys), "unread": len(unread_keys(wiring)),
            "unsafe": dict(found.sizes),
            "counted_to": found.exact_to, "guaranteed": safe.guaranteed,
            "right": {share.keys: f"{share.right}/{share.of}" for share in safe.shares},
            "broken_groups": sum(not group.right for group in groups),
            "diodes_needed": len(plan.diodes), "rewirings": len(plan.rewirings),
            "ms": {"sets": sets_ms, "rollover": rollover_ms, "groups": groups_ms, "mending": mending_ms,
                   "all": round(sets_ms + rollover_ms + groups_ms + mending_ms, 2)},
        }  # fmt: skip
        print(json.dumps(row), flush=True)


if __name__ == "__main__":
    main()
