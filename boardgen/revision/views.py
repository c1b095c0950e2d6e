"""A comparison as text for people, as plain data, and as one self-contained page."""

from __future__ import annotations

from typing import Any

from boardgen.export.files import plain_line
from boardgen.revision.changelog import changelog
from boardgen.revision.model import SECTIONS, Change, Comparison

_MARKS = {"new": "+", "gone": "-", "changed": "~"}


def as_text(found: Comparison) -> str:
    """Return the comparison as lines: verdicts, then each change with + (new), - (gone) or ~ (changed)."""
    lines = [f"{found.a.design}: revision {found.a.revision} to {found.b.revision}"]
    lines.append(f"firmware: {found.firmware.verdict.value}")
    lines += [f"  {reason}" for reason in found.firmware.reasons]
    if found.firmware.lines:
        lines.append(f"  {found.firmware.file}:")
        for line in found.firmware.lines:
            lines += [f"    -{line.line_before}: {line.before}"] if line.line_before else []
            lines += [f"    +{line.line_after}: {line.after}"] if line.line_after else []
    lines.append(f"enclosure: {fits(found)}")
    lines += [f"  {reason}" for reason in found.enclosure.reasons]
    for section in SECTIONS:
        rows = found.of(section)
        if rows:
            lines.append(f"{section}:")
            lines += [f"  {_MARKS[row.kind]} {_words(row)}" for row in rows]
    if not found.changes:
        lines.append("nothing changed")
    lines += [f"not compared: {text}" for text in found.unknown]
    return "\n".join(map(plain_line, lines)) + "\n"


def fits(found: Comparison) -> str:
    """Return the enclosure's verdict in words."""
    return "fits unchanged" if found.enclosure.fits else "does not fit unchanged"


def _words(row: Change) -> str:
    if row.section == "findings" and "found" in (row.before, row.after):
        return row.thing
    if row.kind == "changed":
        return f"{row.thing}: {row.before} -> {row.after}"
    return f"{row.thing}: {row.after or row.before}"


def as_data(found: Comparison) -> dict[str, Any]:
    """Return the comparison as plain data; areas in mm2. The picture is an SVG document."""
    return {
        "a": _name(found, "a"),
        "b": _name(found, "b"),
        "firmware": {
            "verdict": found.firmware.verdict.value,
            "reasons": list(found.firmware.reasons),
            "file": found.firmware.file,
            "lines": [
                {
                    "line_before": line.line_before or None,
                    "before": line.before,
                    "line_after": line.line_after or None,
                    "after": line.after,
                }
                for line in found.firmware.lines
            ],
        },
        "enclosure": {"fits": found.enclosure.fits, "reasons": list(found.enclosure.reasons)},
        "changes": {
            section: [
                {"thing": row.thing, "kind": row.kind, "before": row.before, "after": row.after}
                for row in found.of(section)
            ]
            for section in SECTIONS
        },
        "copper": [
            {
                "side": area.side,
                "kept_mm2": area.kept_mm2,
                "gone_mm2": area.gone_mm2,
                "new_mm2": area.new_mm2,
            }
            for area in found.copper
        ],
        "not_compared": list(found.unknown),
        "changelog": changelog(found),
        "picture_svg": found.picture,
    }


def _name(found: Comparison, which: str) -> dict[str, str]:
    name = found.a if which == "a" else found.b
    return {
        "design": name.design,
        "revision": name.revision,
        "pin_map": name.pin_map,
        "tool": name.tool,
    }


def as_html(found: Comparison) -> str:
    """Return one self-contained page; every word from a file is escaped, the picture is inline."""
    from importlib import resources  # noqa: PLC0415

    from jinja2 import Environment, StrictUndefined  # noqa: PLC0415 - heavy, and only for pages
    from markupsafe import Markup  # noqa: PLC0415

    folder = resources.files("boardgen.revision")
    environment = Environment(
        autoescape=True, undefined=StrictUndefined, trim_blocks=True, lstrip_blocks=True
    )
    template = environment.from_string((folder / "compare.html.j2").read_text("utf-8"))
    return template.render(
        found=found,
        fits=fits(found),
        sections=[(s, found.of(s)) for s in SECTIONS if s != "copper" and found.of(s)],  # copper has its own
        marks=_MARKS,
        picture=Markup(found.picture),  # drawn by us; its words are escaped there
        changelog=changelog(found),
    )
