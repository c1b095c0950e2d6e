"""The readme of an order: every field a fab asks for, then what each file is."""

from __future__ import annotations

from collections.abc import Sequence

from boardgen.export.files import OutFile, text_file
from boardgen.order.naming import WORDS


def readme_file(
    path: str,
    heading: str,
    fields: Sequence[tuple[str, str]],
    panel: Sequence[tuple[str, str]],
    files: Sequence[tuple[str, str]],
) -> OutFile:
    """Return the readme; *files* are names with their kinds, *panel* the fields of the panel, if any."""
    lines = [heading, "", *_table(fields)]
    if panel:
        lines += ["", "Panel", *_table(panel)]
    lines += [
        "",
        "All files are seen from the top; mm; one origin, the lower left of the outline in the profile.",
        "Inside corners of the profile may be as round as the cutter.",
        "Ask before changing anything: copper, holes, sizes and colours are as wanted.",
        "",
        "Files",
    ]
    wide = max((len(name) for name, _kind in files), default=0)
    lines += [f"  {name:<{wide}}  {WORDS.get(kind, '')}".rstrip() for name, kind in files]
    return text_file(path, "\n".join(lines))


def _table(rows: Sequence[tuple[str, str]]) -> list[str]:
    wide = max(len(name) for name, _ in rows)
    return [f"{name:<{wide}}  {words}" for name, words in rows]
