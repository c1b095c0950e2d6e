"""A comparison as the entry a person puts at the top of a changelog, in Markdown."""

from __future__ import annotations

from boardgen.export.files import plain_line
from boardgen.revision.model import SECTIONS, Change, Comparison

_QUIET = ("levels", "nets", "signals")  # follow from what is told already; counted, not listed


def changelog(found: Comparison) -> str:
    """Return the entry: verdicts first, then what changed, section by section."""
    design, before, after = (_plain(w) for w in (found.b.design, found.a.revision, found.b.revision))
    lines = [f"## {design} revision {after} (from {before})", ""]
    lines += [f"- Firmware: **{found.firmware.verdict.value}**{_why(found.firmware.reasons)}."]
    fits = "fits unchanged" if found.enclosure.fits else "does not fit unchanged"
    lines += [f"- Enclosure: **{fits}**{_why(found.enclosure.reasons)}."]
    lines += [f"- Pin map {_plain(found.a.pin_map)} before, {_plain(found.b.pin_map)} now."]
    if not found.changes:
        return "\n".join([*lines, "- Nothing else changed."]) + "\n"
    for section in SECTIONS:
        rows = found.of(section)
        if not rows:
            continue
        lines += ["", f"### {section.capitalize()}", ""]
        if section in _QUIET:
            lines.append(f"- {len(rows)} changed: {', '.join(_plain(row.thing) for row in rows)}.")
        else:
            lines += [f"- {_line(row)}" for row in rows]
    return "\n".join(lines) + "\n"


def _why(reasons: tuple[str, ...]) -> str:
    if not reasons:
        return ""
    more = f" and {len(reasons) - 4} more" if len(reasons) > 4 else ""
    return f" ({_plain('; '.join(reasons[:4]))}{more})"


def _line(change: Change) -> str:
    thing = _plain(change.thing)
    if change.section == "findings" and "found" in (change.before, change.after):
        return f"{'Gone' if change.after is None else 'New'}: {thing}."
    if change.before is None:
        return f"New: {thing} ({_plain(change.after or '')})."
    if change.after is None:
        return f"Gone: {thing} (was {_plain(change.before)})."
    return f"{thing}: {_plain(change.before)} before, {_plain(change.after)} now."


def _plain(text: str) -> str:
    """Return *text* with what Markdown would take for its own marked as text."""
    return "".join(
        f"\\{letter}" if letter in "\\`*_[]<>#|" else letter for letter in plain_line(" ".join(text.split()))
    )
