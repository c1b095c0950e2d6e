"""The machine-readable record of a run, but for timings, which stand apart."""

from __future__ import annotations

import json
from collections.abc import Mapping
from dataclasses import dataclass

from shapely import Polygon

from boardgen.board.geometry import loop_points, outline_polygon
from boardgen.board.model import Board, PartKind, Side
from boardgen.errors import Finding
from boardgen.export.bundle import Bundle
from boardgen.export.files import OutFile, text_file
from boardgen.export.history_data import (
    history_data,
    legend_rows,
    places_rows,
    reference_rows,
    rework_steps,
)
from boardgen.export.identity_data import identity_data
from boardgen.export.matrix_data import matrix_row
from boardgen.export.power_data import power_data
from boardgen.export.signal_data import assumptions, signal_rows
from boardgen.export.standing_data import standing_data
from boardgen.layout.history import History
from boardgen.measure.record import measured_data

NO_HISTORY = History()


@dataclass(frozen=True, slots=True)
class Check:
    """One check's verdict with what it looked at."""

    name: str
    passed: bool
    evidence: Mapping[str, object]


@dataclass(frozen=True, slots=True)
class RoutingFigures:
    """What the router did. Lengths in mm; *bound_mm* is the bound L2 of the same design."""

    connections: int
    completed: int
    vias: int
    links: int
    length_mm: float
    bound_mm: float
    unrouted: tuple[str, ...] = ()


def finding_row(finding: Finding) -> dict[str, object]:
    """Return a finding as plain data, lengths in mm."""
    at = finding.at
    return {
        "rule": finding.rule,
        "severity": str(finding.severity),
        "message": finding.message,
        "at_mm": None if at is None else [at.x.mm, at.y.mm],
        "layer": finding.layer,
        "items": list(finding.items),
        "measured_mm": None if finding.measured is None else finding.measured.mm,
        "limit_mm": None if finding.limit is None else finding.limit.mm,
        "waived": finding.waived,
    }


def _cut_out(board: Board) -> float:
    """Return the area of all cut-outs, mm2."""
    rings = [loop_points(loop) for loop in board.outline.cutouts]
    return sum(float(Polygon(ring).area) for ring in rings if len(ring) > 2) / 1e12


def _tallest(board: Board, side: Side) -> float:
    """Return how far parts stand off *side* of the board, in mm."""
    return max((part.height.mm for part in board.parts if part.placement.side is side), default=0.0)


def summary_data(
    bundle: Bundle,
    routing: RoutingFigures,
    checks: tuple[Check, ...],
    inputs: Mapping[str, str],
    files: tuple[OutFile, ...],
    history: History = NO_HISTORY,
) -> dict[str, object]:
    """Return the record; *inputs* maps each input file's name to its sha256."""
    left, top, right, bottom = outline_polygon(bundle.board.outline).bounds
    errors = sum(finding.severity == "error" for finding in bundle.findings)
    return {
        "design": bundle.board.name,
        "revision": bundle.board.revision,
        "title": bundle.board.title,
        "tool": bundle.tool,
        "for_fabrication": errors == 0,
        "inputs": dict(sorted(inputs.items())),
        "module": bundle.bound.module.id,
        "connector": bundle.bound.connector.id,
        "fab": bundle.bound.fab.id,
        "board": {
            "width_mm": round((right - left) / 1e6, 6),
            "height_mm": round((bottom - top) / 1e6, 6),
            "copper_layers": len(bundle.board.copper),
            "origin_mm": [round(left / 1e6, 6), round(bottom / 1e6, 6)],  # the fabrication files' origin
            "thickness_mm": bundle.board.thickness.mm,
            "cutouts_mm2": round(_cut_out(bundle.board), 3),
            "module_standoff_mm": max(
                (part.standoff.mm for part in bundle.board.parts if part.kind is PartKind.MODULE), default=0.0
            ),
            "tallest_mm": {side.value: _tallest(bundle.board, side) for side in Side},
        },
        "identity": identity_data(bundle),
        "errata": [
            {
                "revision": e.revision,
                "symptom": e.symptom,
                "cause": e.cause,
                "workaround": e.workaround,
                "rework": rework_steps(e),
                "checks": len(e.checks),
                "fixed_in": e.fixed_in,
            }
            for e in bundle.bound.design.errata
        ],
        "pin_map": {
            "digest": bundle.pinmap.digest(),
            "crossings": bundle.pinmap.crossings,
            "pins": [
                {"signal": c.request.signal, "pin": c.pin_name, "module_pin": c.pin_number, "why": c.why}
                for c in bundle.pinmap.choices
            ],
            "left_out": [
                {"pin": e.pin_name, "module_pin": e.pin_number, "reason": e.reason}
                for e in bundle.pinmap.exclusions
            ],
        },
        "signals": signal_rows(bundle),
        "rails": [
            {"rail": r.rail, "volts": r.volts, "load_a": r.load_a, "budget_a": r.budget_a, "net": r.net}
            for r in bundle.plan.rails
        ],
        "power": power_data(bundle.plan.power),
        "assumed": [{"text": text, "for": list(whose)} for text, whose in assumptions(bundle)],
        "matrices": [matrix_row(study) for study in bundle.plan.matrices],
        "measured": measured_data(bundle.measures),
        "routing": {
            "connections": routing.connections,
            "completed": routing.completed,
            "vias": routing.vias,
            "links": routing.links,
            "length_mm": round(routing.length_mm, 3),
            "bound_mm": round(routing.bound_mm, 3),
            "unrouted": list(routing.unrouted),
        },
        "places": places_rows(bundle.board),
        "legend": legend_rows(bundle.board),
        "references": reference_rows(bundle.board),
        "standing": standing_data(bundle.bound, bundle.board),
        **history_data(history),
        "findings": [finding_row(finding) for finding in bundle.findings],
        "checks": {
            check.name: {"passed": check.passed, "evidence": dict(check.evidence)} for check in checks
        },
        "timings_s": "timings.json",
        "files": [{"path": f.path, "bytes": len(f.data), "sha256": f.sha256} for f in files],
    }


def json_file(path: str, data: object) -> OutFile:
    """Return *data* as an indented JSON file; raises ValueError for a NaN."""
    return text_file(path, json.dumps(data, indent=2, ensure_ascii=False, allow_nan=False))
