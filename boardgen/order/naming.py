"""Fabrication files under the names a fab wants, in its one flat zip: the same bytes every time."""

from __future__ import annotations

import io
import zipfile
from collections.abc import Sequence

from boardgen.catalog.model import FabClass
from boardgen.errors import InputError
from boardgen.export.files import OutFile
from boardgen.export.package import ZIP_EPOCH

# What a file is, by the ending that our own fabrication files bear.
KINDS = (
    ("-NPTH.DRL", "unplated-holes"),
    ("-PTH.DRL", "plated-holes"),
    ("-README.txt", "readme"),
    (".GTL", "top-copper"),
    (".GBL", "bottom-copper"),
    (".GTS", "top-mask"),
    (".GBS", "bottom-mask"),
    (".GTO", "top-legend"),
    (".GBO", "bottom-legend"),
    (".GTP", "top-paste"),
    (".GBP", "bottom-paste"),
    (".GKO", "profile"),
    (".GVC", "score-lines"),
    (".IPC", "netlist"),
)
WORDS = {
    "unplated-holes": "unplated holes, XNC",
    "plated-holes": "plated holes, XNC",
    "readme": "this text",
    "top-copper": "top copper",
    "bottom-copper": "bottom copper",
    "top-mask": "mask openings, top",
    "bottom-mask": "mask openings, bottom",
    "top-legend": "legend, top",
    "bottom-legend": "legend, bottom",
    "top-paste": "paste openings, top",
    "bottom-paste": "paste openings, bottom",
    "profile": "profile (outline and cut-outs)",
    "score-lines": "score lines (V-cut), from both faces",
    "netlist": "IPC-D-356A netlist for the bare-board test",
}


def kind_of(path: str) -> str:
    """Return what the fabrication file at *path* is; "" for none of them."""
    return next((kind for ending, kind in KINDS if path.endswith(ending)), "")


def fab_name(path: str, fab: FabClass, name: str, revision: str) -> str:
    """Return the name, without folder, that *fab* wants for the file at *path*; ours where it has no wish."""
    pattern = dict(fab.files).get(kind_of(path), "")
    if not pattern:
        return path.rsplit("/", 1)[-1]
    return pattern.replace("{name}", name).replace("{revision}", revision)


def renamed(files: Sequence[OutFile], fab: FabClass, name: str, revision: str) -> tuple[OutFile, ...]:
    """Return *files* under the fab's names, sorted; raises InputError where two would bear one name."""
    made: dict[str, OutFile] = {}
    for file in files:
        own = fab_name(file.path, fab, name, revision)
        if own.casefold() in made:
            raise InputError("the fab class gives two files one name", fab.origin, "files", found=own)
        made[own.casefold()] = OutFile(own, file.data)
    return tuple(made[key] for key in sorted(made))


def zipped(path: str, files: Sequence[OutFile]) -> OutFile:
    """Return a zip of *files* under their paths, in the order given, without a clock in it."""
    out = io.BytesIO()
    with zipfile.ZipFile(out, "w", zipfile.ZIP_DEFLATED, compresslevel=9) as archive:
        for file in files:
            info = zipfile.ZipInfo(file.path, ZIP_EPOCH)
            info.compress_type = zipfile.ZIP_DEFLATED
            info.create_system = 3  # the attributes below are Unix ones, whatever machine wrote this
            info.external_attr = 0o644 << 16
            archive.writestr(info, file.data)
    return OutFile(path, out.getvalue())
