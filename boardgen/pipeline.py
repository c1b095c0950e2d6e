"""The order of the stages; each is a pure function from frozen values to a frozen value."""

from __future__ import annotations

import time
from collections.abc import Callable, Iterator, Sequence
from contextlib import contextmanager
from dataclasses import dataclass, field, replace
from pathlib import Path

from boardgen import __version__
from boardgen.board.model import Board
from boardgen.catalog.load import Catalog, load_catalog
from boardgen.circuit.assign import assign_pins, misfit
from boardgen.circuit.build import build_netlist
from boardgen.circuit.model import Netlist, PinMap
from boardgen.design.bind import bind
from boardgen.design.load import design_catalogs, load_design
from boardgen.design.model import BoundDesign, Design, OutlineKind
from boardgen.electrical.model import ElectricalPlan
from boardgen.electrical.plan import plan_signals
from boardgen.errors import BoardgenError, Finding, InputError, InputErrors, Severity
from boardgen.export.bundle import Bundle
from boardgen.export.run_folder import check_writable, write_run
from boardgen.export.run_record import run_files
from boardgen.export.summary import Check, RoutingFigures, json_file
from boardgen.floorplan.job import default_margin
from boardgen.floorplan.model import Floorplan
from boardgen.floorplan.plan import plan_floor
from boardgen.layout.bound import design_bound
from boardgen.layout.labels import board_labels
from boardgen.layout.legend import add_legend
from boardgen.layout.place import PlacementFailed, place_parts, supply_least
from boardgen.layout.pour import pour
from boardgen.layout.rewire import driver_ends, with_nets
from boardgen.layout.route import RouteResult, route_report, rules_for
from boardgen.rules.check import CheckReport, check_board
from boardgen.units import ZERO, Nm, format_mm, mm

FLOORPLANS_TRIED = 6
# A derived outline that does not route is widened by this all round, fewer floorplans at a time: on one
# copper side wire links and detours need ground that the least board has not (3 of 10 floorplans of a
# board with two lamp drivers route at 4 mm more, 8 of 10 at 7 mm more, none at the least).
WIDENED_BY = (ZERO, mm(4), mm(7))
ONE_SIDE_WIDENED_BY = (ZERO, mm(4), mm(7), mm(12))
WIDENED_TRIED = 2
ONE_SIDE_TRIED = 4  # routing with wire links takes seconds
FAR_OFF = 4  # open connections of an attempt on one copper side that only more ground could close
Progress = Callable[[str], None]


@dataclass(slots=True)
class Stopwatch:
    """Seconds spent in each stage, and a voice that says which stage runs."""

    progress: Progress | None = None
    seconds: dict[str, float] = field(default_factory=dict)

    @contextmanager
    def stage(self, name: str) -> Iterator[None]:
        """Time one stage; repeated stages add up."""
        if self.progress:
            self.progress(name)
        start = time.perf_counter()
        try:
            yield
        finally:
            self.seconds[name] = self.seconds.get(name, 0.0) + time.perf_counter() - start


@dataclass(frozen=True, slots=True)
class Built:
    """A finished board with its record, before any file is made."""

    bundle: Bundle
    routing: RoutingFigures
    checks: tuple[Check, ...]
    complete: bool


@dataclass(frozen=True, slots=True)
class RunResult:
    """What ``generate`` leaves: the folder, the record, and the findings."""

    folder: Path
    summary: dict[str, object]
    findings: tuple[Finding, ...]


@dataclass(frozen=True, slots=True)
class CheckResult:
    """What ``check`` found on the board of a design."""

    findings: tuple[Finding, ...]
    board: Board
    evidence: tuple[tuple[str, int], ...]


@dataclass(frozen=True, slots=True)
class _Attempt:
    floorplan: Floorplan
    pinmap: PinMap
    netlist: Netlist
    board: Board
    routed: RouteResult
    report: CheckReport

    @property
    def badness(self) -> tuple[int, int]:
        errors = sum(f.severity is Severity.ERROR for f in self.report.findings)
        return len(self.routed.unrouted), errors


def choose_module(design: Design, catalog: Catalog) -> BoundDesign:
    """Bind *design*; for "auto", to the smallest module that carries every signal without an error."""
    if design.module != "auto":
        return bind(design, catalog)
    reasons: list[str] = []
    said: list[dict[str, InputError]] = []  # per module: what its binding says
    for module in sorted(catalog.modules.values(), key=lambda m: (len(m.pins), m.id)):
        try:
            bound = bind(design, catalog, module.id)
            plan = plan_signals(bound, catalog.component)
        except BoardgenError as error:
            errors = _inputs(error)
            said.append({str(item): item for item in errors})
            reasons.append(f"{module.id}: {errors[0].message if errors else error}")
            continue
        said.append({})
        wrong = [f.message for f in plan.findings if f.severity is Severity.ERROR]
        reason = wrong[0] if wrong else misfit(module, plan, bound.design)
        if not reason:
            return bound
        short = reason.partition(":")[0].removeprefix("module ")  # "pico-2 is 4 pins short"
        reasons.append(f"{module.id}: {wrong[0]}" if wrong else short)
    everywhere = [item for text, item in (said or [{}])[0].items() if all(text in other for other in said)]
    if everywhere:
        raise InputErrors(everywhere)  # wrong whatever the module
    raise InputError(
        "no module of the catalogue carries this design",
        design.origin,
        "module",
        design.line_of("module"),
        found="; ".join(reasons),
    )


def _inputs(error: BoardgenError) -> tuple[InputError, ...]:
    if isinstance(error, InputErrors):
        return error.errors
    return (error,) if isinstance(error, InputError) else ()


def fitting_modules(bound: BoundDesign, catalog: Catalog) -> tuple[str, ...]:
    """Return the ids of modules that would carry the same design, smallest first."""
    found = []
    for module in sorted(catalog.modules.values(), key=lambda m: (len(m.pins), m.id)):
        design = replace(bound.design, fixed=(), waivers=())
        try:
            other = bind(design, catalog, module.id)
            plan = plan_signals(other, catalog.component)
        except BoardgenError:
            continue
        errors = any(f.severity is Severity.ERROR for f in plan.findings)
        if not errors and not misfit(module, plan, other.design):
            found.append(module.id)
    return tuple(found)


def _pins_or_advice(bound: BoundDesign, plan: ElectricalPlan, catalog: Catalog) -> None:
    reason = misfit(bound.module, plan, bound.design)
    if reason:
        fits = ", ".join(fitting_modules(bound, catalog)) or "no module of the catalogue fits"
        line = bound.design.line_of("module")
        raise InputError(reason, bound.design.origin, "module", line, bound.module.id, fits)


def build(bound: BoundDesign, catalog: Catalog, watch: Stopwatch | None = None) -> Built:
    """Take a bound design through every stage to a finished, checked board.

    Floorplans are tried best first until one routes and checks clean; a derived
    outline is widened where none routes. If nothing helps, the best attempt is
    returned with its findings. Raises InputError for a design that cannot be
    built at all.
    """
    watch = watch or Stopwatch()
    with watch.stage("electrical plan"):
        plan = plan_signals(bound, catalog.component)
        _pins_or_advice(bound, plan, catalog)
    best: _Attempt | None = None
    refused: PlacementFailed | None = None
    for floorplan in _floorplans(bound, catalog, plan, watch):
        try:
            attempt = _attempt(bound, catalog, plan, floorplan, watch)
        except PlacementFailed as error:
            refused = refused or error
            continue
        if best is None or attempt.badness < best.badness:
            best = attempt
        if best.badness == (0, 0):
            break
        given = bound.design.outline.kind is not OutlineKind.DERIVED
        if given and bound.fab.copper_layers == 1 and best.badness[0] > FAR_OFF:
            break  # there is no more ground to be had
    if best is None:
        design = bound.design
        message = f"the parts do not fit on the outline: {refused}"
        raise InputError(message, design.origin, "outline", design.line_of("outline"))
    return _finished(bound, plan, best, watch)


def _floorplans(
    bound: BoundDesign, catalog: Catalog, plan: ElectricalPlan, watch: Stopwatch
) -> Iterator[Floorplan]:
    """Yield the floorplans worth trying, best first; those on a widened outline last."""
    wish = bound.design.outline
    if wish.kind is not OutlineKind.DERIVED:
        with watch.stage("floorplan"):
            candidates = plan_floor(bound, plan, catalog.footprint)
        yield from candidates[: FLOORPLANS_TRIED if bound.fab.copper_layers > 1 else ONE_SIDE_TRIED]
        return
    for more in WIDENED_BY if bound.fab.copper_layers > 1 else ONE_SIDE_WIDENED_BY:
        margin = Nm((default_margin(bound) if wish.margin is None else wish.margin) + more)
        wider = replace(bound, design=replace(bound.design, outline=replace(wish, margin=margin)))
        with watch.stage("floorplan"):
            try:
                candidates = plan_floor(wider if more else bound, plan, catalog.footprint)
            except InputError:
                if not more:
                    raise
                return  # the case or the fab class ends it
        tried = WIDENED_TRIED if bound.fab.copper_layers > 1 else 1
        for floorplan in candidates[:tried]:
            yield _said(floorplan, more)


def _said(floorplan: Floorplan, more: Nm) -> Floorplan:
    if not more:
        return floorplan
    words = (
        f"The outline is {format_mm(more)} mm wider all round than the parts need: "
        "on less, some net or part found no room."
    )
    return replace(floorplan, words=f"{floorplan.words} {words}".strip())


@dataclass(frozen=True, slots=True)
class _Wired:
    """A pin map with its netlist and the parts standing, before any copper."""

    pinmap: PinMap
    netlist: Netlist
    board: Board


def _wired(
    bound: BoundDesign, catalog: Catalog, plan: ElectricalPlan, floorplan: Floorplan, watch: Stopwatch
) -> tuple[_Wired, ...]:
    """Return the board with its small parts placed, once or twice.

    Where drivers stand between module and connector, the pins are chosen again
    with the drivers' pads as their ends; either map may route shorter.
    """
    with watch.stage("pin assignment"):
        pinmap = assign_pins(bound, plan, floorplan, catalog.footprint)
    with watch.stage("netlist"):
        netlist = build_netlist(bound, plan, pinmap, catalog.footprint)
    with watch.stage("placement"):
        board = place_parts(bound, netlist, floorplan)
    first = _Wired(pinmap, netlist, board)
    ends = driver_ends(plan, board)
    if not ends:
        return (first,)
    with watch.stage("pin assignment"):
        again = assign_pins(bound, plan, floorplan, catalog.footprint, ends)
    if again.digest() == pinmap.digest():
        return (_Wired(again, netlist, board),)
    with watch.stage("netlist"):
        netlist = build_netlist(bound, plan, again, catalog.footprint)
    return (first, _Wired(again, netlist, with_nets(board, netlist)))


def _attempt(
    bound: BoundDesign, catalog: Catalog, plan: ElectricalPlan, floorplan: Floorplan, watch: Stopwatch
) -> _Attempt:
    fab = bound.fab
    single = fab.copper_layers == 1 or not bound.design.ground_pour
    tried: list[tuple[_Wired, RouteResult]] = []
    for wired in _wired(bound, catalog, plan, floorplan, watch):
        with watch.stage("routing"):
            rules = rules_for(fab, wired.board, single, supply_least(bound))
            tried.append((wired, route_report(wired.board, rules)))
        if fab.copper_layers == 1 and len(tried[-1][1].unrouted) > FAR_OFF:
            break  # another pin map would not make up for the ground that lacks
    wired, routed = min(tried, key=lambda one: _cost(one[1]))
    board = routed.board
    if bound.design.ground_pour:
        with watch.stage("pour"):
            board = pour(board, fab)
    with watch.stage("legend"):
        board = add_legend(board, fab, board_labels(bound, plan, wired.pinmap))
    with watch.stage("rule check"):
        report = check_board(board, wired.netlist, fab)
    return _Attempt(floorplan, wired.pinmap, wired.netlist, board, routed, report)


def _cost(routed: RouteResult) -> tuple[int, int, float]:
    """What a person would mind, worst first: open connections, holes to drill or wire, length."""
    return len(routed.unrouted), routed.stats.vias + routed.links, routed.stats.length


def _unrouted(best: _Attempt) -> Iterator[Finding]:
    """Yield why a connection is missing: an error, or a note where the rule check has counted it already."""
    counted = [f.message for f in best.report.findings if f.rule == "unconnected"]
    for item in best.routed.unrouted:
        known = any(text.startswith(f"net {item.net} ") for text in counted)
        yield Finding(
            "unconnected",
            Severity.NOTE if known else Severity.ERROR,
            f"net {item.net} is not routed from {item.start} to {item.end}: {item.reason}",
            items=(item.start, item.end),
        )
    if best.routed.unrouted and len(best.board.copper) == 1:
        yield Finding(
            "unconnected",
            Severity.NOTE,
            "one copper side did not suffice, wire links included: a larger outline, a module in sockets "
            "(links may lie under it), fewer fixed pins, or a fab class with two copper sides would help",
        )


def _finished(bound: BoundDesign, plan: ElectricalPlan, best: _Attempt, watch: Stopwatch) -> Built:
    with watch.stage("bounds"):
        routed_nets = tuple(sorted({track.net for track in best.routed.board.tracks}))
        bound_nm = design_bound(bound, best.board, best.pinmap, routed_nets)
    findings = (*plan.findings, *best.netlist.findings, *best.report.findings, *_unrouted(best))
    bundle = Bundle(
        bound=bound,
        plan=plan,
        floorplan=best.floorplan,
        pinmap=best.pinmap,
        netlist=best.netlist,
        board=best.board,
        findings=findings,
        tool=f"boardgen {__version__}",
    )
    routed = best.routed
    unrouted = tuple(f"{u.net}: {u.start} to {u.end}: {u.reason}" for u in routed.unrouted)
    length = sum(t.start.distance(t.end) for t in routed.board.tracks)
    figures = RoutingFigures(
        connections=routed.stats.connections,
        completed=routed.stats.connections - len(unrouted),
        vias=len(best.board.vias),
        links=routed.links,
        length_mm=length / 1e6,
        bound_mm=bound_nm / 1e6,
        unrouted=unrouted,
    )
    errors = {
        "electrical plan": plan.findings,
        "circuit (ERC)": best.netlist.findings,
        "rule check": best.report.findings,
    }
    counts: dict[str, dict[str, object]] = {
        "electrical plan": {"signals": len(plan.signals), "parts added": len(plan.parts)},
        "circuit (ERC)": {"parts": len(best.netlist.parts), "nets": len(best.netlist.nets)},
        "rule check": dict(best.report.counts),
    }
    checks = [
        Check(name, not any(f.severity is Severity.ERROR for f in found), counts[name])
        for name, found in errors.items()
    ]
    checks.append(
        Check("routing", not unrouted, {"connections": figures.connections, "completed": figures.completed})
    )
    return Built(bundle, figures, tuple(checks), not unrouted)


def _read(path: Path, revision: str | None, catalogs: Sequence[Path]) -> tuple[BoundDesign, Catalog]:
    design = load_design(path)
    if revision is not None:
        design = replace(design, revision=revision)
    catalog = load_catalog(design_catalogs(path, catalogs))
    return choose_module(design, catalog), catalog


def generate(
    path: Path,
    out: Path,
    revision: str | None = None,
    catalogs: Sequence[Path] = (),
    progress: Progress | None = None,
) -> RunResult:
    """Do the main job: read the design at *path* and leave a whole run folder under *out*.

    Raises InputError or MachineError; then nothing was written and an earlier
    run is as it was.
    """
    watch = Stopwatch(progress)
    with watch.stage("reading"):
        bound, catalog = _read(path, revision, catalogs)
        check_writable(out, f"{bound.design.name}-{bound.design.revision}")
    built = build(bound, catalog, watch)
    with watch.stage("files"):
        summary, files = run_files(built.bundle, built.routing, built.checks)
    with watch.stage("writing"):
        timings = json_file("timings.json", {k: round(v, 4) for k, v in watch.seconds.items()})
        folder = write_run(out, built.bundle.stem, (*files, timings))
    return RunResult(folder, summary, built.bundle.findings)


def check(
    path: Path,
    revision: str | None = None,
    catalogs: Sequence[Path] = (),
    progress: Progress | None = None,
) -> CheckResult:
    """Build the design at *path* in memory and return what the checks find; nothing is written."""
    bound, catalog = _read(path, revision, catalogs)
    built = build(bound, catalog, Stopwatch(progress))
    counts = next(c for c in built.checks if c.name == "rule check")
    evidence = tuple((str(k), int(str(v))) for k, v in counts.evidence.items())
    return CheckResult(built.bundle.findings, built.bundle.board, evidence)
