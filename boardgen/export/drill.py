"""The drill files: plated and unplated holes apart, in XNC.

Source of the syntax: the open XNC format specification (a strict subset of the
usual drill format): metric, explicit decimals, slots as routed paths.
"""

from __future__ import annotations

from collections import defaultdict

from boardgen.export.bundle import FabBundle
from boardgen.export.files import OutFile
from boardgen.export.frame import FabFrame, attribute_text, fab_frame
from boardgen.export.holes import Hole, board_holes
from boardgen.export.identity import identity_text, project_id
from boardgen.units import Nm, Point, format_mm


def _xnc(bundle: FabBundle, holes: list[Hole], frame: FabFrame, plated: bool) -> str:
    function = "Plated,1,2,PTH" if plated else "NonPlated,1,2,NPTH"
    kind = "Plated,PTH" if plated else "NonPlated,NPTH"
    groups: dict[tuple[Nm, str], list[Hole]] = defaultdict(list)
    for hole in holes:
        groups[hole.diameter, hole.role].append(hole)
    lines = [
        "M48",
        f"; #@! TF.GenerationSoftware,boardgen,{','.join(map(attribute_text, bundle.tool.split(' ')))}",
        f"; #@! TF.ProjectId,{','.join(map(attribute_text, project_id(bundle)))}",
        f"; #@! TF.FileFunction,{function}",
        f"; {attribute_text(identity_text(bundle).replace(',', ' '))}",
        "METRIC",
    ]
    order = sorted(groups)
    for index, (diameter, role) in enumerate(order, 1):
        lines.append(f"; #@! TA.AperFunction,{kind},{role}")
        lines.append(f"T{index}C{format_mm(diameter, 3)}")
    lines.append("%")

    def xy(at: Point) -> str:
        turned = frame.turn(at)
        return f"X{format_mm(turned.x, 6)}Y{format_mm(turned.y, 6)}"

    for index, key in enumerate(order, 1):
        lines.append(f"T{index}")
        drilled = [hole for hole in groups[key] if hole.start == hole.end]
        slots = [hole for hole in groups[key] if hole.start != hole.end]
        if drilled:
            lines.append("G05")
            lines.extend(xy(hole.start) for hole in drilled)
        for slot in slots:
            lines += [f"G00{xy(slot.start)}", "M15", f"G01{xy(slot.end)}", "M16"]
    lines.append("M30")
    return "\n".join(lines) + "\n"


def drill_files(bundle: FabBundle) -> tuple[OutFile, ...]:
    """Return the drill files under ``fab/``: plated and unplated, each only where it has holes."""
    frame = fab_frame(bundle.board)
    files = []
    for plated, ending in ((True, "-PTH.DRL"), (False, "-NPTH.DRL")):
        holes = [hole for hole in board_holes(bundle.board) if hole.plated is plated]
        if holes:
            text = _xnc(bundle, holes, frame, plated)
            files.append(OutFile(f"fab/{bundle.stem}{ending}", text.encode("ascii")))
    return tuple(files)
