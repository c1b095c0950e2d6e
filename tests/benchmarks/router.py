"""The router alone on synthetic boards: ``python -m tests.benchmarks.router --count N --seed S``.

Prints one JSON line a board where asked (--each) and one summary line. Times
are given in U too: one sort of a million random doubles on the same machine.
"""

from __future__ import annotations

import argparse
import json
import random
import time

import numpy as np

from boardgen.layout.route import route_report
from tests.benchmarks.synthetic import Case, synthetic


def unit_ms() -> float:
    """Median of five sorts of 10^6 random doubles, in ms.

    By comparing one at a time (merging, some 70 ms): the library's default sorts eight at once where
    the processor can, in a tenth of the time, which tells nothing of what a router has to do.
    """
    values = np.random.default_rng(1).random(1_000_000)
    times = []
    for _ in range(5):
        copy = values.copy()
        start = time.perf_counter()
        copy.sort(kind="stable")
        times.append((time.perf_counter() - start) * 1e3)
    return sorted(times)[2]


def quantile(values: list[float], q: float) -> float:
    """The value below which a share *q* of *values* lies (nearest rank)."""
    ordered = sorted(values)
    return ordered[min(len(ordered) - 1, int(q * len(ordered)))] if ordered else 0.0


def draw_case(seed: int) -> tuple[str, Case]:
    """A random tight design: one of six connectors, 0-30 % of the pins fixed, some slack."""
    draw = random.Random(seed)
    kind, pins = draw.choice(
        [("dsub", 9), ("dsub", 15), ("dsub", 25), ("dsub", 37), ("box", 36), ("dsub", 50)]
    )
    turn = draw.choice([0.0, 90.0])
    least_w = max(60.0 if turn == 90.0 else 30.0, pins * 1.385 + 8 if kind == "dsub" else pins * 1.27 + 8)
    least_h = 45.0 if turn == 90.0 else 75.0
    size = (round(least_w + draw.uniform(0, 15), 1), round(least_h + draw.uniform(0, 15), 1))
    fixed = draw.choice([0.0, 0.1, 0.2, 0.3])
    name = f"{kind}{pins} {size[0]}x{size[1]} turn {turn:g} fixed {fixed}"
    return name, synthetic(seed, kind, pins, size, "matched", turn, fixed, jitter=1.5)


def main() -> None:
    """Run the benchmark."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--count", type=int, default=100)
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--each", action="store_true")
    options = parser.parse_args()
    first = draw_case(0)[1]
    route_report(first.board, first.rules)
    unit = unit_ms()
    times: list[float] = []
    ratios: list[float] = []
    octile: list[float] = []
    vias = nets = complete = flat = 0
    failed = []
    for i in range(options.count):
        name, case = draw_case(options.seed * 100_000 + i)
        start = time.perf_counter()
        result = route_report(case.board, case.rules)
        ms = (time.perf_counter() - start) * 1e3
        times.append(ms)
        nets += result.stats.nets
        vias += result.stats.vias
        flat += result.stats.vias == 0
        if result.unrouted:
            failed.append({"case": i, "name": name, "unrouted": len(result.unrouted)})
        else:
            complete += 1
            ratios.append(result.stats.length / case.bound)
            octile.append(result.stats.length / case.octile_bound)
        if options.each:
            row = {
                "case": i,
                "name": name,
                "unrouted": len(result.unrouted),
                "vias": result.stats.vias,
                "ratio": round(result.stats.length / case.bound, 4),
                "octile": round(result.stats.length / case.octile_bound, 4),
                "ms": round(ms, 1),
                "passes": result.passes,
                "rounds": result.stats.rounds,
                "faults": result.stats.faults,
                "grid_mm": result.stats.grid.mm,
            }
            print(json.dumps(row), flush=True)
    summary = {
        "count": options.count,
        "complete": complete,
        "via_free": flat,
        "vias_per_net": round(vias / max(1, nets), 5),
        "length_over_bound": {q: round(quantile(ratios, v), 4) for q, v in (("median", 0.5), ("p95", 0.95))},
        "length_over_octilinear": {
            q: round(quantile(octile, v), 4) for q, v in (("median", 0.5), ("p95", 0.95))
        },
        "route_ms": {
            "median": round(quantile(times, 0.5), 2),
            "p95": round(quantile(times, 0.95), 2),
            "max": round(max(times), 2),
        },
        "unit_ms": round(unit, 2),
        "route_units": {
            "median": round(quantile(times, 0.5) / unit, 3),
            "p95": round(quantile(times, 0.95) / unit, 3),
        },
        "failed": failed,
    }
    print(json.dumps(summary))


if __name__ == "__main__":
    main()
