"""Designs drawn over the whole catalogue, each taken through every stage.

``python -m tests.benchmarks.corpus --count N --seed S [--jobs J] [--fab ID] [--angles 45|any]``
prints one JSON line a design and one summary line; seeds run on from S million, those that
draw another fab class than ID left out. A design is feasible where neither the
electrical plan nor the pins, outline or class refuse it before routing. *route_ms*
is all routing of a design, floorplans that were dropped included; U is one sort of
a million random doubles, measured in the same process.
"""

from __future__ import annotations

import argparse
import json
import multiprocessing
import time
import traceback
from collections import Counter
from collections.abc import Iterator
from dataclasses import replace
from functools import cache, partial

from boardgen.board.model import NetKind
from boardgen.catalog.load import Catalog, load_catalog
from boardgen.electrical.plan import plan_signals
from boardgen.errors import BoardgenError, Severity
from boardgen.floorplan.plan import plan_floor
from boardgen.layout.bound import design_bound
from boardgen.layout.route import warm
from boardgen.layout.route.bounds import STEINER, net_points, spanning_length, steiner_bound
from boardgen.pipeline import Stopwatch, build
from boardgen.pipeline.stages import Built
from boardgen.units import Box
from tests.benchmarks.draw import bind_drawn, draw_design, with_slack
from tests.benchmarks.router import quantile, unit_ms

Row = dict[str, object]
TOLD = "on an outline of "  # how a run says on what size a design that lacks a net is routed


@cache
def _catalog() -> Catalog:
    return load_catalog()


@cache
def _unit() -> float:
    warm()
    warm(one_side=True)
    return unit_ms()


def run_one(seed: int, any_angle: bool = False) -> Row:
    """Draw, build and judge one design; never raises."""
    row: Row = {"seed": seed}
    unit = _unit()
    try:
        catalog = _catalog()
        drawn = draw_design(catalog, seed)
        row.update(name=drawn.name, fixed=drawn.fixed_share, slack_mm=drawn.slack_mm)
        start = time.perf_counter()
        try:
            bound = bind_drawn(drawn, catalog)
            bound = replace(bound, design=replace(bound.design, any_angle=any_angle))
            plan = plan_signals(bound, catalog)
            wrong = [f.message for f in plan.findings if f.severity is Severity.ERROR]
            if wrong:  # not to be built whatever the copper: the plan says so before any geometry
                row.update(feasible=False, reason=f"electrical plan: {wrong[0]}"[:300])
                return row
            if drawn.slack_mm is not None:
                first = plan_floor(bound, plan, catalog.footprint)[0]
                box = Box.around([piece.start for piece in first.outline.outer])
                bound = with_slack(bound, drawn.slack_mm, box.width, box.height)
            watch = Stopwatch()
            start = time.perf_counter()
            built = build(bound, catalog, watch)
        except BoardgenError as error:
            row.update(feasible=False, reason=str(error)[:300])
            return row
        seconds = time.perf_counter() - start
        board = built.bundle.board
        errors = [f for f in built.bundle.findings if f.severity is Severity.ERROR]
        ground = {net.name for net in board.nets if net.kind is NetKind.GROUND}
        pours = bool(board.pours)
        vias = [v for v in board.vias if not (pours and v.net in ground)]
        row.update(
            feasible=True,
            complete=not built.routing.unrouted,
            clean=not errors,
            findings=dict(Counter(f.rule for f in errors)),
            unrouted=list(built.routing.unrouted)[:4],
            told=next((f.message for f in built.bundle.findings if f.message.startswith(TOLD)), None),
            nets=len({t.net for t in board.tracks}),
            vias=len(vias),
            links=built.routing.links,
            **_ratios(built),
            least_45=_least_45(built),
            route_ms=round(watch.seconds.get("routing", 0.0) * 1e3, 2),
            assign_ms=round(watch.seconds.get("pin assignment", 0.0) * 1e3, 2),
            generate_s=round(seconds, 3),
            stages={k: round(v, 4) for k, v in watch.seconds.items()},
        )
    except Exception as error:  # a fault of the tool: named, counted, and the run goes on
        row.update(feasible=True, complete=False, clean=False, crash=f"{type(error).__name__}: {error}"[:300])
        row["trace"] = traceback.format_exc().strip().splitlines()[-3:]
    row["unit_ms"] = round(unit, 2)
    return row


def _ratios(built: Built) -> Row:
    """Track length over three bounds: L2 as best known, L2 as stated, and the pins' 45-degree trees.

    As stated, nets of more than three pads count 0.824 of their spanning tree. Ground that a
    pour joins is not among the nets, nor are the tracks that lead islands of it to the rest.
    """
    board = built.bundle.board
    length, bound = built.routing.length_mm, built.routing.bound_mm
    poured = {pour.net for pour in board.pours}
    points = [net_points(board, net) for net in sorted({t.net for t in board.tracks} - poured)]
    stated = bound - sum(steiner_bound(p) - STEINER * spanning_length(p) for p in points if len(p) > 3) / 1e6
    octile = sum(spanning_length(p, octilinear=True) for p in points) / 1e6
    names = ("ratio", "stated_ratio", "octile_ratio")
    return {
        n: round(length / b, 4) if b else 1.0 for n, b in zip(names, (bound, stated, octile), strict=True)
    }


def _least_45(built: Built) -> float:
    """What tracks in 45-degree steps need at least, whatever the pins and the router, over bound L2."""
    bundle = built.bundle
    poured = {pour.net for pour in bundle.board.pours}
    routed = tuple(sorted({track.net for track in bundle.board.tracks} - poured))
    least = design_bound(bundle.bound, bundle.board, bundle.pinmap, routed, octilinear=True)
    return round(least / 1e6 / built.routing.bound_mm, 4) if built.routing.bound_mm else 1.0


def summary(rows: list[Row]) -> Row:
    """Fold the rows into the figures that are watched."""
    feasible = [r for r in rows if r.get("feasible")]
    built = [r for r in feasible if "route_ms" in r]
    complete = [r for r in built if r["complete"]]

    def spread(values: list[float], *, most: bool = False) -> Row:
        found: Row = {"median": round(quantile(values, 0.5), 4), "p95": round(quantile(values, 0.95), 4)}
        if most:
            found["max"] = round(max(values, default=0.0), 3)
        return found

    def column(name: str, source: list[Row]) -> list[float]:
        return [float(str(r[name])) for r in source]

    two_sided = [r for r in complete if "home-etch" not in str(r["name"])]
    unit = quantile(column("unit_ms", built), 0.5) or 1.0
    route = column("route_ms", built)
    both = [float(str(r["route_ms"])) + float(str(r["assign_ms"])) for r in built]
    nets = sum(column("nets", two_sided)) or 1.0
    return {
        "count": len(rows),
        "feasible": len(feasible),
        "complete": len(complete),
        "clean": sum(1 for r in built if r["clean"]),
        "told_a_larger_outline": sum(1 for r in built if r["told"]),
        "vias_per_net": round(sum(column("vias", two_sided)) / nets, 5),
        "links": sum(int(str(r["links"])) for r in built),
        "length_over_bound": spread(column("ratio", two_sided)),
        "length_over_stated_bound": spread(column("stated_ratio", two_sided)),
        "length_over_octilinear": spread(column("octile_ratio", two_sided)),
        "least_45_over_bound": spread(column("least_45", two_sided)),
        "route_ms": spread(route, most=True),
        "generate_s": spread(column("generate_s", built), most=True),
        "unit_ms": round(unit, 2),
        "assign_and_route_units": {
            "median": round(quantile(both, 0.5) / unit, 3),
            "p95": round(quantile(both, 0.95) / unit, 3),
        },
        "crashed": sum(1 for r in rows if "crash" in r),
        "failed": [
            {
                "seed": r["seed"],
                "name": r.get("name"),
                "told": r.get("told"),
                "why": r.get("crash") or r.get("unrouted") or r.get("findings"),
            }
            for r in feasible
            if not (r.get("complete") and r.get("clean"))
        ],
    }


def _rows(seeds: list[int], jobs: int, any_angle: bool) -> Iterator[Row]:
    one = partial(run_one, any_angle=any_angle)
    if jobs <= 1:
        yield from map(one, seeds)
        return
    with multiprocessing.get_context("spawn").Pool(jobs) as pool:
        yield from pool.imap(one, seeds)


def _seeds(first: int, count: int, fab: str | None) -> list[int]:
    """The seeds from *first* on whose designs are for fab class *fab* (any for None)."""
    if fab is None:
        return list(range(first, first + count))
    catalog = _catalog()
    catalog.fab(fab)  # an unknown class is an error, not an endless search
    found: list[int] = []
    seed = first
    while len(found) < count:
        if draw_design(catalog, seed).name.endswith(f" {fab}"):
            found.append(seed)
        seed += 1
    return found


def main() -> None:
    """Run the benchmark."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--count", type=int, default=50)
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--jobs", type=int, default=1)
    parser.add_argument("--fab", help="only designs for this fab class")
    parser.add_argument("--angles", choices=("45", "any"), default="45", help="of the tracks")
    options = parser.parse_args()
    rows: list[Row] = []
    seeds = _seeds(options.seed * 1_000_000, options.count, options.fab)
    for row in _rows(seeds, options.jobs, options.angles == "any"):
        rows.append(row)
        print(json.dumps(row), flush=True)
    print(json.dumps(summary(rows)))


if __name__ == "__main__":
    main()
