"""The report's part about key matrices."""

from __future__ import annotations

from importlib import resources

from jinja2 import Environment, StrictUndefined

from boardgen.electrical.matrix.model import GroupVerdict, MatrixStudy
from boardgen.electrical.matrix.words import (
    against_words,
    fault_words,
    high_words,
    level_words,
    listing,
    mending_words,
    phantom_words,
    rollover_words,
    share_words,
    timing_words,
)
from boardgen.export.matrix_view import matrix_sheet
from boardgen.export.sheet_svg import sheet_svg

LISTED = 12  # unsafe sets in the table; summary.json has more


def matrix_html(studies: tuple[MatrixStudy, ...]) -> str:
    """Return the part of the report about *studies* ("" for none); every name is escaped."""
    if not studies:
        return ""
    environment = Environment(autoescape=True, undefined=StrictUndefined, trim_blocks=True)
    text = resources.files("boardgen.export").joinpath("report_matrix.html.j2").read_text("utf-8")
    return environment.from_string(text).render(matrices=[_part(study) for study in studies])


def _part(study: MatrixStudy) -> dict[str, object]:
    sets = study.phantoms.listed[:LISTED]
    total = study.phantoms.total
    return {
        "study": study,
        "verdict": _verdict(study),
        "picture": sheet_svg(matrix_sheet(study), whole=False),
        "rows": _rows(study),
        "groups": [_group(group, study.level.series_most) for group in study.groups],
        "sets": sets,
        "counted": f"The first {len(sets)} of {total}." if total > len(sets) else f"All {total}.",
        "lines": _lines(study),
    }


def _verdict(study: MatrixStudy) -> str:
    broken = sum(1 for group in study.groups if not group.right)
    if study.unread and not study.fitting_drive:
        return f"Not every key can be read: {listing(study.unread)}. {against_words(study)}"
    if study.unread:
        return f"Not every key can be read: the diodes want drive = {study.fitting_drive}."
    if broken:
        return f"{broken} of {len(study.groups)} groups of keys to be held together do not read right."
    text = rollover_words(study)
    if study.groups:
        text += "; every group of keys to be held together reads right"
    return f"{text[0].upper()}{text[1:]}."


def _rows(study: MatrixStudy) -> list[tuple[str, str]]:
    timing = study.timing
    rows = [
        ("How many keys at once", rollover_words(study)),
        *((f"Any {share.keys} keys", share_words(share)) for share in study.rollover.shares),
        ("Phantom keys", phantom_words(study)),
    ]
    if study.phantoms.faint:
        most = 3 if study.unread else 2  # a key held against its diode adds that one
        rows.append(
            (
                "Through two diodes" + (" or three" if most == 3 else ""),
                f"{study.phantoms.faint} of the sets of three: "
                + (
                    "the phantom still reads"
                    if study.level.series_most >= most
                    else "the phantom's level is not low for certain, so it may come and go"
                ),
            )
        )
    rows += [("What would mend it", text) for text in mending_words(study)]
    rows += [
        ("Low level", level_words(study)),
        ("High level", high_words(study)),
        ("Diodes in series that still read", _series(study)),
        ("Scan", timing_words(study)),
        ("Debounce", f"{timing.debounce_ms} ms, for {study.key_kind} contacts"),
        (
            "Board's part of the capacitance",
            "computed from the routed copper" if timing.measured else "assumed, see below",
        ),
    ]
    return rows


def _series(study: MatrixStudy) -> str:
    most = study.level.series_most
    return "none, not even a bare key reads" if most < 0 else f"{most} at {study.levels.drop_v:.2f} V each"


def _group(group: GroupVerdict, series_most: int) -> dict[str, str]:
    why = listing((fault_words(fault, series_most) for fault in group.faults), 4)
    if group.unread:
        why = f"{listing(group.unread)} cannot be read" + (f"; {why}" if why else "")
    return {"keys": ", ".join(group.keys), "right": "yes" if group.right else "NO", "why": why}


def _lines(study: MatrixStudy) -> list[dict[str, str]]:
    loads = {load.line: load for load in study.loads}
    rows = []
    for line in study.timing.lines:
        load = loads[line.line]
        rows.append(
            {
                "name": line.line,
                "pull": f"{line.pull_ohms / 1000:.1f} kohm",
                "own": f"{load.cable_pf:.0f} + {load.board_pf:.1f} + {load.pin_pf:.0f} pF",
                "joined": f"{line.joined_pf:.0f} pF",
                "rise": f"{line.rise_us:.1f} us",
                "fall": f"{line.fall_us:.2f} us",
            }
        )
    return rows
