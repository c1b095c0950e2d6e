"""The tables that a revision adds to its design file, and the file edited as text.

What a person wrote stays letter for letter: the value of ``revision`` changes, and our tables stand at the
end between two comment lines, by which a later revision finds and replaces them.
"""

from __future__ import annotations

import json
import re
from collections.abc import Sequence

from boardgen.board.model import Keepout, Via
from boardgen.catalog.tomlfile import TomlFile
from boardgen.design.model import HoleWish, LegendWish, StrokeWish
from boardgen.errors import InputError
from boardgen.export.files import plain_line
from boardgen.revision.hand import Frame, HandWork, Stand
from boardgen.revision.locked import Locked
from boardgen.units import Nm, Point

BEGIN = "# ---- taken over from revision"
END = "# ---- end of what was taken over"
_LINE = re.compile(r"""^(\s*revision\s*=\s*)("[A-Z]*"|'[A-Z]*')(\s*(?:#.*)?)$""")
_UNSEEN = re.compile("[\x00-\x1f\x7f]")  # TOML takes no such letters in comments
_PLAIN = ("U1", "J1")  # there is but one of each, whatever nets it is on


def mm_text(value: Nm) -> str:
    """Return a length in mm as a TOML float, exact."""
    whole, rest = divmod(abs(int(value)), 1_000_000)
    text = f"{whole}.{rest:06d}".rstrip("0")
    text = text + "0" if text.endswith(".") else text
    return f"-{text}" if value < 0 else text


def _pair(at: Point) -> str:
    return f"[{mm_text(at.x)}, {mm_text(at.y)}]"


def _turn(degrees: float) -> str:
    return f"{round(degrees, 4):.4f}".rstrip("0").rstrip(".") + (".0" if degrees == int(degrees) else "")


def _quoted(text: str) -> str:
    """Return *text* as a TOML string; JSON's escapes are TOML's, but for pairs of halves and DEL."""
    return json.dumps(text, ensure_ascii=False).replace("\x7f", "\\u007f")


def _stand(stand: Stand) -> list[str]:
    rows = [
        f"ref = {_quoted(stand.ref)}",
        f"x_mm = {mm_text(stand.place.at.x)}",
        f"y_mm = {mm_text(stand.place.at.y)}",
        f"turn = {_turn(stand.place.rotation)}",
        f'side = "{stand.place.side.value}"',
    ]
    if stand.ref not in _PLAIN:
        rows.append(f"nets = [{', '.join(map(_quoted, stand.nets))}]")
    return rows


def _table(name: str, rows: Sequence[str]) -> str:
    return "\n".join([f"[[{name}]]", *rows])


def _stays(work: HandWork, revision: str, frame: Frame | None, wish: HoleWish | None) -> str:
    rows = ["[stays]", f'revision = "{revision}"']
    if frame is not None and frame.size is not None:
        rows += [f"width_mm = {mm_text(frame.size[0])}", f"height_mm = {mm_text(frame.size[1])}"]
        rows += [f"corner_radius_mm = {mm_text(frame.radius)}"] if frame.radius else []
    elif frame is not None:
        rows.append(f"points_mm = [{', '.join(map(_pair, frame.corners))}]")
    if frame is not None and frame.cutouts:
        rings = [f"[{', '.join(map(_pair, ring))}]" for ring in frame.cutouts]
        rows.append(f"cutouts_mm = [{', '.join(rings)}]")
    if wish is not None or work.holes:
        rows.append(f"holes_mm = [{', '.join(_pair(hole.at) for hole in work.holes)}]")
    if any(wish is None or hole.diameter != wish.diameter for hole in work.holes):
        widths = ", ".join(mm_text(hole.diameter) for hole in work.holes)
        rows.append(f"hole_diameters_mm = [{widths}]")
    still = [stand for stand in work.parts if not stand.hand]
    if still:
        rows.append("parts = [")
        rows += [f"    {{ {', '.join(_stand(stand))} }}," for stand in still]
        rows.append("]")
    return "\n".join(rows)


def _track(track: Locked) -> str:
    return _table(
        "tracks",
        (
            f"net = {_quoted(track.net)}",
            f'side = "{track.side.value}"',
            f"width_mm = {mm_text(track.width)}",
            f"points_mm = [{', '.join(map(_pair, track.points))}]",
        ),
    )


def _via(via: Via) -> str:
    return _table(
        "vias",
        (
            f"net = {_quoted(via.net)}",
            f"x_mm = {mm_text(via.at.x)}",
            f"y_mm = {mm_text(via.at.y)}",
            f"diameter_mm = {mm_text(via.diameter)}",
            f"hole_mm = {mm_text(via.hole)}",
        ),
    )


def _text(text: LegendWish) -> str:
    return _table(
        "legend",
        (
            *([f"text = {_quoted(text.text)}"] if text.text else []),
            *([f"instead_of = {_quoted(text.instead_of)}"] if text.instead_of else []),
            f"x_mm = {mm_text(text.at.x)}",
            f"y_mm = {mm_text(text.at.y)}",
            f"height_mm = {mm_text(text.height)}",
            f"turn = {_turn(text.rotation)}",
            f'side = "{text.side.value}"',
        ),
    )


def _stroke(stroke: StrokeWish) -> str:
    return _table(
        "strokes",
        (
            f'side = "{stroke.side.value}"',
            f"width_mm = {mm_text(stroke.width)}",
            *(["filled = true"] if stroke.filled else []),
            f"points_mm = [{', '.join(map(_pair, stroke.points))}]",
        ),
    )


def _keepout(area: Keepout) -> str:
    return _table(
        "keepouts",
        (
            f"reason = {_quoted(area.reason)}",
            *(["parts_too = true"] if area.parts_too else []),
            f"points_mm = [{', '.join(map(_pair, area.ring))}]",
        ),
    )


def _left(work: HandWork) -> list[str]:
    """Return what could not be carried as one block of comments, [] for nothing."""
    rows = [f"{remark.thing}: {remark.reason}" for remark in work.remarks if remark.reason]
    lines = (f"# impossible: {_UNSEEN.sub('?', plain_line(row)).replace('----', '-')}" for row in rows)
    return ["\n".join(lines)] if rows else []


def tables(work: HandWork, keep: Sequence[tuple[str, str]], revision: str, wish: HoleWish | None) -> str:
    """Return the block of tables taken over from *revision*; *keep* are (signal, pin).

    *wish* are the mounting holes of the design.
    """
    blocks = [
        f"{BEGIN} {revision} by `boardgen revise`: pins and places stay unless a change forces otherwise",
        *_left(work),
    ]
    blocks += [
        _table("keep", (f"signal = {_quoted(signal)}", f"pin = {_quoted(pin)}")) for signal, pin in keep
    ]
    blocks += [_table("placed", _stand(stand)) for stand in work.parts if stand.hand]
    blocks.append(_stays(work, revision, work.frame, wish))
    blocks += [_track(track) for track in work.tracks]
    blocks += [_via(via) for via in work.vias]
    blocks += [_text(text) for text in work.texts]
    blocks += [_stroke(stroke) for stroke in work.strokes]
    blocks += [_keepout(area) for area in work.keepouts]
    return "\n\n".join([*blocks, END]) + "\n"


def revised_text(file: TomlFile, revision: str, block: str) -> str:
    """Return the design's text with *revision* and with *block* at its end, all else as it was written.

    An earlier block of ours is replaced. Raises InputError where the file's revision does not stand on a line
    of its own, or where it has such tables that are not ours.
    """
    text = file.text
    start, end = text.find(BEGIN), text.find(END)
    if (start < 0) != (end < 0) or end < start:
        raise InputError("the comment lines round what was taken over are not both there", file.where)
    if start >= 0:
        rest = text[end:].partition("\n")[2]
        text = text[:start].rstrip("\n") + "\n" + (f"\n{rest.lstrip()}" if rest.strip() else "")
    line = file.lines.get(("revision",))
    rows = text.split("\n")
    if line is None:
        at = file.lines[("name",)]
        rows.insert(at, f'revision = "{revision}"')
    else:
        found = _LINE.match(rows[line - 1])
        if found is None:
            raise InputError("the revision does not stand on a line of its own", file.where, "revision", line)
        rows[line - 1] = f'{found[1]}"{revision}"{found[3]}'
    return "\n".join(rows).rstrip("\n") + "\n\n" + block
