"""Every field of a fab's order form, as plain values and as lines for people."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any

from boardgen.catalog.model import FabClass
from boardgen.order.figures import BoardFigures
from boardgen.order.model import Ordered
from boardgen.units import Nm, Size, format_mm

Values = Mapping[str, Any]


def order_values(ordered: Ordered, figures: BoardFigures, quantity: int, panel: Values | None) -> Values:
    """Return the values of the order form, lengths in mm.

    *figures* are those of one board; *panel* the panel's own values, None for boards sent one by one.
    """
    fab, board = ordered.fab, ordered.board
    masked = fab.mask_colour not in ("", "none")
    return {
        "name": ordered.record.design,
        "revision": ordered.record.revision,
        "title": board.title,
        "quantity": quantity,
        "delivery": "single boards" if panel is None else "panels",
        "width_mm": figures.size.w.mm,
        "height_mm": figures.size.h.mm,
        "copper_layers": fab.copper_layers,
        "material": "FR-4",
        "thickness_mm": board.thickness.mm,
        "thickness_tolerance_percent": 10,
        "copper_um": fab.copper_um,
        "finish": fab.finish,
        "mask_colour": fab.mask_colour,
        "mask_sides": len(board.copper) if masked else 0,
        "legend_colour": fab.legend_colour if fab.legend else "none",
        "via_treatment": "covered by mask" if figures.vias and masked else "none",
        "vias": figures.vias,
        "plated_holes": figures.plated_holes,
        "unplated_holes": figures.unplated_holes,
        "slots": figures.slots,
        "cutouts": figures.cutouts,
        "smallest_track_mm": _mm(figures.smallest_track),
        "smallest_gap_mm": _mm(figures.smallest_gap),
        "smallest_hole_mm": _mm(figures.smallest_hole),
        "smallest_ring_mm": _mm(figures.smallest_ring),
        "class_track_mm": fab.track_min.mm,
        "class_gap_mm": fab.gap_min.mm,
        "class_hole_mm": fab.hole_min.mm,
        "hole_tolerance_mm": fab.hole_tolerance.mm,
        "outline_tolerance_mm": fab.rout_tolerance.mm,
        "surface_pads": figures.surface_pads,
        "impedance_control": False,
        "edge_connector": False,
        "castellated_holes": False,
        "x_outs_allowed": False,
        "electrical_test": fab.plated,
        "fab_class": fab.id,
        "panel": None if panel is None else dict(panel),
    }


def _mm(length: Nm | None) -> float | None:
    return None if length is None else length.mm


def size_words(size: Size) -> str:
    """Return width by height in mm."""
    return f"{format_mm(size.w, 2)} x {format_mm(size.h, 2)} mm"


def order_lines(values: Values, figures: BoardFigures, fab: FabClass) -> Sequence[tuple[str, str]]:
    """Return the fields in words, in the order most forms ask for them."""

    def least(length: Nm | None, limit: Nm) -> str:
        own = "none" if length is None else f"{format_mm(length, 3)} mm"
        return f"{own} (class limit {format_mm(limit)} mm)"

    tests = "bare-board test against the netlist" if fab.plated else "none"
    return (
        ("Quantity", f"{values['quantity']} boards, as {values['delivery']}"),
        ("Board size", size_words(figures.size)),
        ("Copper layers", str(fab.copper_layers)),
        ("Material", "FR-4"),
        ("Thickness", f"{values['thickness_mm']:g} mm finished, +/- 10 %"),
        ("Copper", f"{fab.copper_um} um finished"),
        ("Finish", fab.finish),
        ("Mask", f"{fab.mask_colour}, {_sides(values['mask_sides'])}"),
        ("Legend", values["legend_colour"]),
        ("Vias", f"{figures.vias}, {values['via_treatment']}" if figures.vias else "none"),
        ("Plated holes", f"{figures.plated_holes}, finished +/- {format_mm(fab.hole_tolerance)} mm"),
        ("Unplated holes", f"{figures.unplated_holes}, finished +/- {format_mm(fab.hole_tolerance)} mm"),
        ("Slots", f"{figures.slots} in the drill files" if figures.slots else "none"),
        ("Cut-outs", str(figures.cutouts) if figures.cutouts else "none"),
        ("Outline", f"routed, +/- {format_mm(fab.rout_tolerance)} mm"),
        ("Smallest track", least(figures.smallest_track, fab.track_min)),
        ("Smallest gap", least(figures.smallest_gap, fab.gap_min)),
        ("Smallest hole", least(figures.smallest_hole, fab.hole_min)),
        ("Smallest ring", least(figures.smallest_ring, fab.ring_min)),
        ("Impedance", "no"),
        ("X-outs", "no"),
        ("Edge fingers", "no"),
        ("Half holes", "no"),
        ("Test", tests),
    )


def _sides(count: int) -> str:
    return {0: "none", 1: "one side", 2: "both sides"}[count]
