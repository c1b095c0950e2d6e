"""The one zip a fab needs: fabrication files flat, with a readme, the same bytes every time."""

from __future__ import annotations

import io
import zipfile

from boardgen.board.geometry import outline_polygon
from boardgen.export.bundle import Bundle
from boardgen.export.files import OutFile, text_file
from boardgen.export.holes import board_holes
from boardgen.units import format_mm

ZIP_EPOCH = (1980, 1, 1, 0, 0, 0)  # the earliest date the zip format can say: no clock in the output

_KINDS = {
    "GTL": "top copper",
    "GBL": "bottom copper",
    "GTS": "mask openings, top",
    "GBS": "mask openings, bottom",
    "GTO": "legend, top",
    "GBO": "legend, bottom",
    "GTP": "paste openings, top",
    "GBP": "paste openings, bottom",
    "GKO": "profile (outline and cut-outs)",
    "IPC": "IPC-D-356A netlist for the bare-board test",
}


def _kind(path: str) -> str:
    if path.endswith("-NPTH.DRL"):
        return "unplated holes, XNC"
    if path.endswith("-PTH.DRL"):
        return "plated holes, XNC"
    return _KINDS.get(path.rsplit(".", 1)[-1], "")


def readme_text(bundle: Bundle, files: tuple[OutFile, ...]) -> str:
    """Return the order's readme: every field a fab asks for, then the file list."""
    fab, board = bundle.bound.fab, bundle.board
    left, top, right, bottom = (round(v) for v in outline_polygon(board.outline).bounds)
    holes = board_holes(board)
    plated = sum(hole.plated for hole in holes)
    errors = sum(1 for finding in bundle.findings if finding.severity == "error")
    lines = [
        f"{board.name} revision {board.revision}: {board.title}",
        "",
    ]
    if errors:
        lines += [f"NOT FOR FABRICATION: {errors} findings of severity error are open.", ""]
    lines += [
        f"Size             {format_mm(right - left, 2)} x {format_mm(bottom - top, 2)} mm, single piece",
        f"Copper layers    {fab.copper_layers}, {fab.copper_um} um finished",
        f"Thickness        {format_mm(board.thickness, 1)} mm +/- 10 %, FR-4",
        f"Finish           {fab.finish}",
        f"Mask, legend     {fab.mask_colour}, {fab.legend_colour if fab.legend else 'none'}; vias covered",
        f"Holes            {plated} plated, {len(holes) - plated} unplated;"
        f" finished diameters +/- {format_mm(fab.hole_tolerance)} mm",
        f"Rout tolerance   +/- {format_mm(fab.rout_tolerance)} mm",
        f"Smallest         track {format_mm(fab.track_min)} mm, gap {format_mm(fab.gap_min)} mm,"
        f" ring {format_mm(fab.ring_min)} mm",
        "Impedance        none",
        "X-outs           not applicable (single pieces)",
        "Read side        all files are seen from the top; mm, origin at the lower left of the outline",
        "",
        "Files",
    ]
    for file in files:
        name = file.path.rsplit("/", 1)[-1]
        lines.append(f"  {name:<40} {_kind(name)}".rstrip())
    return "\n".join(lines)


def fab_package(bundle: Bundle, files: tuple[OutFile, ...]) -> tuple[OutFile, ...]:
    """Return the readme and the zip made of the fabrication *files* (those under ``fab/``)."""
    wanted = tuple(sorted((f for f in files if f.path.startswith("fab/")), key=lambda f: f.path))
    readme = text_file(f"fab/{bundle.stem}-README.txt", readme_text(bundle, wanted))
    out = io.BytesIO()
    with zipfile.ZipFile(out, "w", zipfile.ZIP_DEFLATED, compresslevel=9) as archive:
        for file in (readme, *wanted):
            info = zipfile.ZipInfo(file.path.rsplit("/", 1)[-1], ZIP_EPOCH)
            info.compress_type = zipfile.ZIP_DEFLATED
            info.external_attr = 0o644 << 16
            archive.writestr(info, file.data)
    return readme, OutFile(f"fab/{bundle.stem}-fab.zip", out.getvalue())
