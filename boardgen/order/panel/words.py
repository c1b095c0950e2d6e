"""What a fab is told of a panel, as values and in words."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any

from boardgen.catalog.making import PanelLimits
from boardgen.catalog.model import FabClass
from boardgen.order.panel.build import Panel
from boardgen.order.panel.layout import Joint
from boardgen.order.panel.tabs import bite_places
from boardgen.units import format_mm


def _limits(fab: FabClass) -> PanelLimits:
    if fab.panel is None:
        raise ValueError(f"the fab class {fab.id} makes no panels")
    return fab.panel


def _count(panel: Panel, letters: str) -> int:
    return sum(part.ref.startswith(letters) and "-" not in part.ref for part in panel.board.parts)


def panel_values(panel: Panel, fab: FabClass, panels: int, quantity: int) -> Mapping[str, Any]:
    """Return the panel's part of the order form, lengths in mm."""
    grid, limits = panel.grid, _limits(fab)
    rails = [line.rail for line in (*grid.columns, *grid.rows) if line.kind is Joint.RAIL]
    bites = len(bite_places(limits, fab))
    return {
        "panels": panels,
        "rows": len(grid.turns),
        "columns": len(grid.turns[0]),
        "boards_per_panel": grid.count,
        "boards": panels * grid.count,
        "boards_over": panels * grid.count - quantity,
        "width_mm": grid.width.mm,
        "height_mm": grid.height.mm,
        "turns": [list(row) for row in grid.turns],
        "places": list(panel.places),
        "score_lines": len(panel.board.scores),
        "score_web_mm": limits.score_web.mm if panel.board.scores else None,
        "tabs": panel.tabs,
        "tab_mm": limits.tab.mm if panel.tabs else None,
        "bites": sum(len(p.footprint.pads) for p in panel.board.parts if p.ref.startswith("MB")),
        "bites_per_row": bites if panel.tabs else 0,
        "slot_mm": limits.cutter.mm if panel.tabs else None,
        "rails": len(rails),
        "rail_mm": min(rails, default=0) / 1e6,
        "tooling_holes": _count(panel, "TH"),
        "fiducials": _count(panel, "FID"),
    }


def panel_lines(panel: Panel, fab: FabClass, panels: int) -> Sequence[tuple[str, str]]:
    """Return the panel's fields in words."""
    grid, limits = panel.grid, _limits(fab)
    rows, columns = len(grid.turns), len(grid.turns[0])
    many = "panel" if panels == 1 else "panels"
    found = [
        ("Panels", f"{panels} {many} of {grid.count} boards, {rows} x {columns}"),
        ("Size", f"{format_mm(grid.width, 2)} x {format_mm(grid.height, 2)} mm"),
    ]
    if panel.board.scores:
        web = f"{format_mm(limits.score_web)} mm of the thickness left"
        found.append(
            ("Score lines", f"{len(panel.board.scores)}, straight across the panel, from both faces, {web}")
        )
    if panel.tabs:
        bites = len(bite_places(limits, fab))
        found.append(
            (
                "Tabs",
                f"{panel.tabs} of {format_mm(limits.tab)} mm over slots of {format_mm(limits.cutter)} mm, "
                f"{bites} unplated holes of {format_mm(limits.bite_hole)} mm in a row at each board's edge",
            )
        )
    rails = sorted({line.rail for line in (*grid.columns, *grid.rows) if line.rail})
    if rails:
        widths = ", ".join(format_mm(rail) for rail in rails)
        found.append(("Rails", f"{widths} mm wide; break them off first, plugs need their room"))
    holes, dots = _count(panel, "TH"), _count(panel, "FID")
    if holes:
        found.append(("Tooling", f"{holes} unplated holes of {format_mm(limits.tooling_hole)} mm"))
    if dots:
        opening = format_mm(limits.fiducial_opening)
        found.append(
            (
                "Fiducials",
                f"{dots} dots of {format_mm(limits.fiducial)} mm in openings of {opening} mm, no paste",
            )
        )
    found.append(("X-outs", "no: every board of a panel is good"))
    return tuple(found)
