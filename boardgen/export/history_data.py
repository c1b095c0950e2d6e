"""What the record tells later revisions: where everything stands, and what became of the one before."""

from __future__ import annotations

from boardgen.board.model import Board, LegendText, Serving
from boardgen.design.model import Erratum
from boardgen.layout.history import History
from boardgen.units import format_mm


def places_rows(board: Board) -> list[dict[str, object]]:
    """Return every part with its place (mm, degrees, board axes), its nets, and the chip it decouples."""
    return [
        {
            "ref": part.ref,
            "x_mm": part.placement.at.x.mm,
            "y_mm": part.placement.at.y.mm,
            "turn": part.placement.rotation,
            "side": part.placement.side.value,
            "nets": sorted({net for _, net in part.nets}),
            **({"serves": _serves(part.serves)} if part.serves is not None else {}),
        }
        for part in board.parts
    ]


def _serves(serves: Serving) -> dict[str, object]:
    return {"ref": serves.ref, "own": list(serves.own), "fed": list(serves.fed)}


def legend_rows(board: Board) -> list[dict[str, object]]:
    """Return the texts that are the board's own, none of a part's."""
    return [
        {
            "text": item.text,
            "x_mm": item.at.x.mm,
            "y_mm": item.at.y.mm,
            "height_mm": item.height.mm,
            "turn": item.rotation,
            "side": item.side.value,
        }
        for item in board.legend
        if isinstance(item, LegendText) and item.origin == "board"
    ]


def reference_rows(board: Board) -> list[dict[str, object]]:
    """Return where each part's reference is printed, from the part's own place (mm, board axes)."""
    places = {part.ref: part.placement for part in board.parts}
    return [
        {
            "ref": ref,
            "dx_mm": (item.at.x - places[ref].at.x) / 1e6,
            "dy_mm": (item.at.y - places[ref].at.y) / 1e6,
            "side": item.side.value,
        }
        for ref, item in sorted(board.references)
        if ref in places
    ]


def history_data(history: History) -> dict[str, object]:
    """Return the sections "kept" and "carried" of the record."""
    kept = history.kept
    return {
        "kept": None
        if kept is None
        else {
            "asked": kept.asked,
            "stayed": kept.asked - len(kept.changed),
            "changed": [
                {"signal": row.signal, "before": row.before, "now": row.now, "why": row.why}
                for row in kept.changed
            ],
            "vias": kept.vias,
            "length_mm": round(kept.length_mm, 3),
            "free_vias": kept.free_vias,
            "free_length_mm": None if kept.free_length_mm is None else round(kept.free_length_mm, 3),
            "cost_vias": None if kept.free_vias is None else kept.vias - kept.free_vias,
            "cost_mm": None
            if kept.free_length_mm is None
            else round(round(kept.length_mm, 3) - round(kept.free_length_mm, 3), 3),
        },
        "carried": [
            {"kind": row.kind, "thing": row.thing, "verdict": row.verdict, "reason": row.reason}
            for row in history.carried
        ],
    }


def rework_steps(erratum: Erratum) -> list[str]:
    """Return the rework as sentences, cuts first."""
    steps = [
        f"Cut the track of {cut.net} on the {cut.side.value} at "
        f"{format_mm(cut.at.x, 2)}, {format_mm(cut.at.y, 2)} mm."
        for cut in erratum.cuts
    ]
    for a, b in erratum.wires:
        steps.append(f"Solder a wire from {a[0]} pad {a[1]} to {b[0]} pad {b[1]}.")
    return steps
