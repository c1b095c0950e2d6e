"""The CAD project's settings and library tables: the fab's limits as rules to check by."""

from __future__ import annotations

import json

from boardgen.board.model import Board, NetClass
from boardgen.catalog.model import FabClass
from boardgen.export.cad_nodes import NetNames, node, word
from boardgen.footprint.sexpr import dump

_NO_COLOUR = "rgba(0, 0, 0, 0.000)"


def rules(fab: FabClass) -> dict[str, float | int]:
    """Return the limits of *fab* (mm) under the CAD program's rule names.

    Copper keeps its distance from any hole, so the smaller of the two ways a
    hole may be met counts: a bare hole's own distance, or ring plus gap. A fab
    without a legend prints nothing, so nothing is asked of it.
    """
    printed = 1 if fab.legend else 0
    return {
        "max_error": 0.005,
        "min_clearance": fab.gap_min.mm,
        "min_connection": 0.0,
        "min_copper_edge_clearance": fab.edge_copper_min.mm,
        "min_hole_clearance": min(fab.npth_copper_min, fab.ring_min + fab.gap_min).mm,
        "min_hole_to_hole": fab.hole_gap_min.mm,
        "min_resolved_spokes": 2,
        "min_silk_clearance": fab.legend_pad_gap_min.mm * printed,
        "min_text_height": fab.legend_height_min.mm * printed,
        "min_text_thickness": fab.legend_stroke_min.mm * printed,
        "min_through_hole_diameter": fab.hole_min.mm,
        "min_track_width": fab.track_min.mm,
        "min_via_annular_width": fab.ring_min.mm,
        "min_via_diameter": fab.via_diameter_min.mm,
    }


def _net_class(item: NetClass, fab: FabClass, name: str, rank: int) -> dict[str, object]:
    return {
        "bus_width": 12,
        # the limit: a class's own spacing is what the router prefers, pads of one part may be closer
        "clearance": min(item.spacing, fab.gap_min).mm,
        "diff_pair_gap": item.spacing.mm,
        "diff_pair_via_gap": item.spacing.mm,
        "diff_pair_width": item.width.mm,
        "line_style": 0,
        "microvia_diameter": fab.via_diameter.mm,
        "microvia_drill": fab.via_hole.mm,
        "name": name,
        "pcb_color": _NO_COLOUR,
        "priority": rank,
        "schematic_color": _NO_COLOUR,
        "track_width": item.width.mm,
        "via_diameter": fab.via_diameter.mm,
        "via_drill": fab.via_hole.mm,
        "wire_width": 6,
    }


def project_text(board: Board, fab: FabClass, root: str, names: NetNames) -> str:
    """Return NAME.kicad_pro: rules, net classes with their nets, and the root sheet's uuid.

    The first class of the board is the default; nets of the others are named one by one.
    """
    first = board.classes[0] if board.classes else NetClass("signal", fab.track, fab.gap)
    classes = [_net_class(first, fab, "Default", 2**31 - 1)]
    classes += [_net_class(item, fab, item.name, rank) for rank, item in enumerate(board.classes[1:])]
    others = {item.name for item in board.classes[1:]}
    patterns = [
        {"netclass": net.net_class, "pattern": names.spell(net.name)}
        for net in sorted(board.nets, key=lambda net: net.name)
        if net.net_class in others
    ]
    widths = sorted({item.width.mm for item in (first, *board.classes)})
    content = {
        "board": {
            "3dviewports": [],
            "design_settings": {
                "defaults": {
                    "board_outline_line_width": 0.1,
                    "copper_line_width": fab.track.mm,
                    "silk_line_width": max(fab.legend_stroke_min.mm, 0.15),
                    "silk_text_size_h": max(fab.legend_height_min.mm, 1.0),
                    "silk_text_size_v": max(fab.legend_height_min.mm, 1.0),
                    "silk_text_thickness": max(fab.legend_stroke_min.mm, 0.15),
                    "zones": {"min_clearance": fab.pour_gap.mm},
                },
                "diff_pair_dimensions": [],
                "drc_exclusions": [],
                "meta": {"version": 2},
                "rules": rules(fab),
                "track_widths": [0.0, *widths],
                "via_dimensions": [
                    {"diameter": 0.0, "drill": 0.0},
                    {"diameter": fab.via_diameter.mm, "drill": fab.via_hole.mm},
                ],
            },
            "layer_presets": [],
            "viewports": [],
        },
        "boards": [],
        "libraries": {"pinned_footprint_libs": [], "pinned_symbol_libs": []},
        "meta": {"filename": f"{board.name}.kicad_pro", "version": 1},
        "net_settings": {
            "classes": classes,
            "meta": {"version": 3},
            "net_colors": None,
            "netclass_assignments": None,
            "netclass_patterns": patterns,
        },
        "pcbnew": {"last_paths": {}, "page_layout_descr_file": ""},
        "schematic": {"meta": {"version": 1}, "page_layout_descr_file": ""},
        "sheets": [[root, ""]],
        "text_variables": {},
    }
    return json.dumps(content, indent=2, sort_keys=True, allow_nan=False)


def library_table(kind: str, name: str, suffix: str, description: str) -> str:
    """Return a library table with the project's one library; *kind* is "fp" or "sym"."""
    row = node(
        "lib",
        node("name", name),
        node("type", "KiCad"),
        node("uri", f"${{KIPRJMOD}}/{name}.{suffix}"),
        node("options", ""),
        node("descr", description),
    )
    return dump(node(f"{kind}_lib_table", node("version", word("7")), row))
