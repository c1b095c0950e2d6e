"""A bound design taken through every stage in memory: floorplans in turn until one is clean."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

from boardgen import __version__
from boardgen.catalog.load import Catalog
from boardgen.circuit.pin_checks import check_pins
from boardgen.design.model import BoundDesign, OutlineKind
from boardgen.electrical.model import ElectricalPlan
from boardgen.electrical.plan import plan_signals, settle_rails
from boardgen.errors import Finding, InputError, Severity
from boardgen.export.bundle import Bundle
from boardgen.export.summary import NO_HISTORY, Check, RoutingFigures
from boardgen.floorplan.model import Floorplan
from boardgen.floorplan.refusal import size_words
from boardgen.layout.bound import design_bound
from boardgen.layout.history import History
from boardgen.layout.place import PlacementFailed
from boardgen.measure.board import measure_board
from boardgen.measure.record import drop_evidence
from boardgen.measure.supplies import drop_findings
from boardgen.pipeline.attempt import FAR_OFF, Attempt, attempt
from boardgen.pipeline.choose import pins_or_advice
from boardgen.pipeline.drilled import drill_notes
from boardgen.pipeline.held import candidates, history_of
from boardgen.pipeline.larger import size_that_routes
from boardgen.pipeline.measured import with_copper, with_pins
from boardgen.pipeline.stopwatch import Stopwatch
from boardgen.rules.errata import check_errata
from boardgen.rules.waive import idle_waivers, let_pass
from boardgen.units import Box, Size

FEWER_VIAS = 2  # further floorplans tried where the first good board has vias,
FEW = 2  # one alone where it has no more than these
GROWN = 1.1  # times its area that they may have


@dataclass(frozen=True, slots=True)
class Built:
    """A finished board with its record, before any file is made."""

    bundle: Bundle
    routing: RoutingFigures
    checks: tuple[Check, ...]
    complete: bool
    history: History = NO_HISTORY


def build(bound: BoundDesign, catalog: Catalog, watch: Stopwatch | None = None) -> Built:
    """Take a bound design through every stage to a finished, checked board.

    Floorplans are tried best first until one routes and checks clean; a derived
    outline is widened where none routes. If nothing helps, the best attempt is
    returned with its findings. Raises InputError for a design that cannot be
    built at all.
    """
    watch = watch or Stopwatch()
    with watch.stage("electrical plan"):
        bound = settle_rails(bound, catalog)
        plan = plan_signals(bound, catalog)
        pins_or_advice(bound, plan, catalog)
    best: Attempt | None = None
    refused: PlacementFailed | None = None
    trouble: str | None = None  # of the first candidate, where everything stands as asked
    drilled = catalog.drilled(bound.fab)  # the footprints with their holes as they will be
    further = 0
    for asked, floorplan in candidates(bound, drilled, plan, watch):
        if best is not None and best.badness == (0, 0):
            most = FEWER_VIAS if best.routed.stats.vias > FEW else 1
            if further >= most or _area(floorplan) > GROWN * _area(best.floorplan):
                break
            further += 1
        try:
            tried = attempt(asked, drilled, plan, floorplan, watch)
        except PlacementFailed as error:
            refused = refused or error
            trouble = trouble if trouble is not None else str(error)
            continue
        trouble = trouble if trouble is not None else tried.trouble
        clean = tried.badness == (0, 0)
        if best is None or (tried.badness, clean * tried.effort) < (best.badness, clean * best.effort):
            best = tried
        if best.badness == (0, 0) and (not best.routed.stats.vias or bound.design.stays is not None):
            break
        given = bound.design.outline.kind is not OutlineKind.DERIVED
        if given and bound.fab.copper_layers == 1 and best.badness[0] > FAR_OFF:
            break  # there is no more ground to be had
    if best is None:
        design = bound.design
        message = f"the parts do not fit on the outline: {refused}"
        raise InputError(message, design.origin, "outline", design.line_of("outline"))
    return _finished(bound, catalog, best.plan, best, watch, trouble or "")


def _area(floorplan: Floorplan) -> float:
    """The area of the box around the outline, nm2."""
    box = Box.around([piece.start for piece in floorplan.outline.outer])
    return float(box.width) * float(box.height)


def _unrouted(best: Attempt, larger: Size | None) -> Iterator[Finding]:
    """Yield why a connection is missing: an error, or a note where the rule check has counted it already.

    *larger* is an outline on which nothing would be missing, where one is known.
    """
    counted = [f.message for f in best.report.findings if f.rule == "unconnected"]
    for item in best.routed.unrouted:
        known = any(text.startswith(f"net {item.net} ") for text in counted)
        yield Finding(
            "unconnected",
            Severity.NOTE if known else Severity.ERROR,
            f"net {item.net} is not routed from {item.start} to {item.end}: {item.reason}",
            items=(item.start, item.end),
        )
    if best.routed.unrouted and larger is not None:
        yield Finding(
            "unconnected",
            Severity.NOTE,
            f"on an outline of {size_words(larger)} every net of this design is routed; this was tried",
        )
    elif best.routed.unrouted and len(best.board.copper) == 1:
        yield Finding(
            "unconnected",
            Severity.NOTE,
            "one copper side did not suffice, wire links included: a larger outline, a module in sockets "
            "(links may lie under it), fewer fixed pins, or a fab class with two copper sides would help",
        )


def _finished(
    bound: BoundDesign,
    catalog: Catalog,
    plan: ElectricalPlan,
    best: Attempt,
    watch: Stopwatch,
    trouble: str,
) -> Built:
    with watch.stage("measuring"):
        measures = measure_board(best.board, bound, plan)
        plan = with_copper(with_pins(bound, plan, catalog.component, best.pinmap), measures.lines)
    with watch.stage("pins checked"):
        pins = check_pins(bound, plan, best.pinmap, catalog)
    with watch.stage("bounds"):
        routed_nets = tuple(sorted({track.net for track in best.routed.board.tracks}))
        bound_nm = design_bound(bound, best.board, best.pinmap, routed_nets)
    design = bound.design
    returned, looked = check_errata(design, best.board, plan, best.pinmap)
    errors = {
        name: let_pass(found, design.accepted, design.revision)
        for name, found in (
            ("electrical plan", plan.findings),
            ("pins at boot", pins.findings),
            ("circuit (ERC)", best.netlist.findings),
            ("rule check", best.report.findings),
            *((("fixed faults", returned),) if looked else ()),
            ("voltage drop", drop_findings(measures.supplies)),
        )
    }
    larger: Size | None = None
    if best.routed.unrouted:
        with watch.stage("larger outline"):
            larger = size_that_routes(bound, catalog.drilled(bound.fab), best.plan)
    missing = let_pass(tuple(_unrouted(best, larger)), design.accepted, design.revision)
    notes = drill_notes(bound, catalog, best.board)
    findings = (*(f for found in errors.values() for f in found), *missing, *notes)
    bundle = Bundle(
        bound=bound,
        plan=plan,
        floorplan=best.floorplan,
        pinmap=best.pinmap,
        netlist=best.netlist,
        board=best.board,
        findings=(*findings, *idle_waivers(findings, design.accepted, design.revision)),
        tool=f"boardgen {__version__}",
        measures=measures,
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
    counts: dict[str, dict[str, object]] = {
        "electrical plan": {"signals": len(plan.signals), "parts added": len(plan.parts)},
        "pins at boot": dict(pins.evidence),
        "circuit (ERC)": {"parts": len(best.netlist.parts), "nets": len(best.netlist.nets)},
        "rule check": dict(best.report.counts),
        "voltage drop": drop_evidence(measures),
        "fixed faults": {"conditions": looked},
    }
    checks = [
        Check(name, not any(f.severity is Severity.ERROR for f in found), counts[name])
        for name, found in errors.items()
    ]
    checks.append(
        Check("routing", not unrouted, {"connections": figures.connections, "completed": figures.completed})
    )
    history = history_of(bound, catalog, plan, best, watch, trouble)
    return Built(bundle, figures, tuple(checks), not unrouted, history)
