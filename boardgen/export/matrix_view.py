"""The picture of a key matrix: keys at their crossings, diodes, and how unsafe each key is."""

from __future__ import annotations

from dataclasses import dataclass

from boardgen.electrical.matrix.model import Key, MatrixStudy, UnsafeSet
from boardgen.electrical.matrix.words import listing, phantom_words, rollover_words
from boardgen.export.sheet import Sheet
from boardgen.palette import BODY, BOTTOM, FAINT, INK, MARK, PAPER, TOP

XY = tuple[float, float]

_WIDE, _HIGH = 28.0, 14.0  # of a crossing, mm
_LEFT, _ABOVE, _EDGE, _BELOW = 30.0, 26.0, 8.0, 20.0
_PAGE = 270.0
_DEEPEST = 0.62  # share of the darkest tone, so that ink stays readable on it


@dataclass(frozen=True, slots=True)
class _Plan:
    """Where lines run: rows level, columns upright, whichever of them is driven."""

    rows: tuple[str, ...]
    columns: tuple[str, ...]
    by_rows: bool
    wide: float

    def at(self, read: int, driven: int) -> XY:
        """The crossing of a read and a driven line."""
        row, column = (driven, read) if self.by_rows else (read, driven)
        return self.x(column), self.y(row)

    def x(self, column: int) -> float:
        """Where a column runs."""
        return _EDGE + _LEFT + self.wide * (column + 0.5)

    def y(self, row: int) -> float:
        """Where a row runs."""
        return _EDGE + _ABOVE + _HIGH * (row + 0.5)


def matrix_sheet(study: MatrixStudy) -> Sheet:
    """Return the picture of *study*; its size follows from the number of lines."""
    by_rows = study.drive == "rows"
    lines = study.wiring.driven, study.wiring.read
    rows, columns = lines if by_rows else lines[::-1]
    plan = _Plan(rows, columns, by_rows, max(9.0, min(_WIDE, (_PAGE - _LEFT) / max(1, len(columns)))))
    width = max(2 * _EDGE + _LEFT + plan.wide * len(columns), 190.0)
    more = bool(study.groups) + bool(study.unread)
    height = 2 * _EDGE + _ABOVE + _HIGH * len(rows) + _BELOW + 6 * more
    sheet = Sheet(f"Matrix {study.name}", width, height)
    sheet.text(_EDGE, _EDGE + 4, f"Matrix {study.name}", 4.5, bold=True)
    sheet.text(_EDGE, _EDGE + 9.5, f"{rollover_words(study)}; {phantom_words(study)}", 2.7)
    _draw_lines(sheet, study, plan)
    example = _example(study)
    if example is not None:
        _draw_way(sheet, study, plan, example)
    _draw_free(sheet, study, plan)
    for place, key in enumerate(study.wiring.keys):
        _draw_key(sheet, study, plan, place, key, example)
    _draw_notes(sheet, study, plan, example)
    return sheet


def _example(study: MatrixStudy) -> UnsafeSet | None:
    """The set to draw: one that breaks a group to be held together, else the first there is."""
    for group in study.groups:
        for fault in group.faults:
            return UnsafeSet(fault.path, fault.key, fault.diodes)
    return study.phantoms.listed[0] if study.phantoms.listed else None


def _draw_lines(sheet: Sheet, study: MatrixStudy, plan: _Plan) -> None:
    """Lines with their names: an arrow on those that are driven, a bar for the pull-up on those read."""
    right, bottom = plan.x(len(plan.columns) - 1) + plan.wide / 2, plan.y(len(plan.rows) - 1) + _HIGH / 2
    left, top = _EDGE + _LEFT - 6, _EDGE + _ABOVE - 5
    for row, name in enumerate(plan.rows):
        y = plan.y(row)
        colour = BOTTOM if plan.by_rows else TOP
        sheet.line((left, y), (right, y), stroke=colour, width=0.35)
        _end(sheet, (left, y), plan.by_rows, False, colour)
        sheet.text(left - 2.5, y + 1, name, _fit(name, 18, 2.7), "end", bold=True)
    for column, name in enumerate(plan.columns):
        x = plan.x(column)
        colour = TOP if plan.by_rows else BOTTOM
        sheet.line((x, top), (x, bottom), stroke=colour, width=0.35)
        _end(sheet, (x, top), not plan.by_rows, True, colour)
        sheet.text(x, top - 2.8, name, _fit(name, plan.wide - 1, 2.7), "middle", bold=True)


def _end(sheet: Sheet, at: XY, driven: bool, upright: bool, colour: str) -> None:
    """The module's end of a line: a filled arrow out of the matrix (pulled low), or a bar (pulled up)."""
    x, y = at
    if driven:
        tip = (
            ((x, y - 2.2), (x - 1.1, y), (x + 1.1, y))
            if upright
            else ((x - 2.2, y), (x, y - 1.1), (x, y + 1.1))
        )
        sheet.ring(tip, colour, 0.1, colour)
    elif upright:
        sheet.line((x - 1.6, y), (x + 1.6, y), stroke=colour, width=0.6)
    else:
        sheet.line((x, y - 1.6), (x, y + 1.6), stroke=colour, width=0.6)


def _draw_way(sheet: Sheet, study: MatrixStudy, plan: _Plan, example: UnsafeSet) -> None:
    """The current of one unsafe set, from the read line through the keys to the driven one."""
    wiring = study.wiring
    keys = [wiring.keys[wiring.place(name)] for name in example.keys]
    corners = [plan.at(key.read, key.driven) for key in keys]
    left, top = _EDGE + _LEFT - 6, _EDGE + _ABOVE - 5
    start, end = corners[0], corners[-1]
    into, out = ((start[0], top), (left, end[1])) if plan.by_rows else ((left, start[1]), (end[0], top))
    sheet.line(into, *corners, out, stroke=MARK, width=1.3)


def _draw_free(sheet: Sheet, study: MatrixStudy, plan: _Plan) -> None:
    """A ring where no key is."""
    taken = {(key.read, key.driven) for key in study.wiring.keys}
    for read in range(len(study.wiring.read)):
        for driven in range(len(study.wiring.driven)):
            if (read, driven) not in taken:
                sheet.disc(*plan.at(read, driven), 0.9, FAINT, 0.25, PAPER)


def _draw_key(
    sheet: Sheet, study: MatrixStudy, plan: _Plan, place: int, key: Key, example: UnsafeSet | None
) -> None:
    x, y = plan.at(key.read, key.driven)
    wide, high = plan.wide - 3, _HIGH - 4
    parts = study.phantoms.parts
    most = max(parts, default=0)
    fill = _tone(parts[place] / most) if most else BODY
    held = example is not None and key.name in example.keys
    ghost = example is not None and key.name == example.phantom
    sheet.box(x - wide / 2, y - high / 2, wide, high, MARK if held else INK, 0.8 if held else 0.2, fill)
    if ghost:
        corners = ((-1, -1), (1, -1), (1, 1), (-1, 1))
        ring = tuple((x + sx * (wide / 2 + 0.8), y + sy * (high / 2 + 0.8)) for sx, sy in corners)
        sheet.ring(ring, MARK, 0.5, dash=(1.4, 0.9))
    words = _wrapped(key.name)
    size = min(_fit(word, wide - 1.6, 2.6) for word in words)
    first = y - high / 2 + 1.0 + size if len(words) > 1 or most else y + size * 0.36
    for row, word in enumerate(words):
        sheet.text(x, first + row * size * 1.15, word, size, "middle")
    if most:
        sheet.text(x + wide / 2 - 0.8, y + high / 2 - 0.8, str(parts[place]), 2.1, "end", INK)
    if key.diode:
        colour = INK if key.ahead else MARK
        _draw_diode(sheet, (x - wide / 2 + 2.2, y + high / 2 - 1.9), key.ahead != plan.by_rows, colour)
    groups = [str(n) for n, group in enumerate(study.groups, 1) if key.name in group.keys]
    if groups:
        broken = any(not g.right and key.name in g.keys for g in study.groups)
        left, base = x - wide / 2 + (3.8 if key.diode else 0.8), y + high / 2 - 0.8
        tag = "g" + ",".join(groups)
        sheet.text(left, base, tag, 1.9, "start", MARK if broken else INK, bold=True)


def _draw_diode(sheet: Sheet, at: XY, upward: bool, colour: str = INK) -> None:
    """A diode; its tip points to the column (up) or to the row (left)."""
    x, y = at
    if upward:
        sheet.ring(((x - 0.9, y + 0.8), (x + 0.9, y + 0.8), (x, y - 0.7)), colour, 0.1, colour)
        sheet.line((x - 0.9, y - 0.8), (x + 0.9, y - 0.8), stroke=colour, width=0.3)
    else:
        sheet.ring(((x + 0.8, y - 0.9), (x + 0.8, y + 0.9), (x - 0.7, y)), colour, 0.1, colour)
        sheet.line((x - 0.8, y - 0.9), (x - 0.8, y + 0.9), stroke=colour, width=0.3)


def _draw_notes(sheet: Sheet, study: MatrixStudy, plan: _Plan, example: UnsafeSet | None) -> None:
    y = _EDGE + _ABOVE + _HIGH * len(plan.rows) + 6
    driven, read = ("rows", "columns") if plan.by_rows else ("columns", "rows")
    x = _EDGE
    sheet.ring(((x, y - 0.9), (x + 2.2, y - 2.0), (x + 2.2, y + 0.2)), BOTTOM, 0.1, BOTTOM)
    sheet.text(x + 4, y, f"the module pulls these low in turn ({driven})", 2.5)
    sheet.line((x + 74, y - 2.4), (x + 74, y + 0.6), stroke=TOP, width=0.6)
    sheet.text(x + 76, y, f"pulled up and read ({read})", 2.5)
    ways = {key.ahead for key in study.wiring.keys if key.diode}
    if ways:
        seen = True in ways
        _draw_diode(sheet, (x + 126, y - 0.9), seen != plan.by_rows, INK if seen else MARK)
        sheet.text(x + 129, y, "diode, cathode at its bar", 2.5)
    if False in ways:
        y += 6
        _draw_diode(sheet, (x + 1, y - 0.9), plan.by_rows, MARK)
        sheet.text(
            x + 4, y, f"a diode that points to a line that is read ({read}): its key cannot be read", 2.5
        )
    if study.groups:
        y += 6
        sheet.text(x, y, f"g1{f' to g{len(study.groups)}' if len(study.groups) > 1 else ''}", 2.5, bold=True)
        sheet.text(x + 14, y, "groups of keys to be held together", 2.5)
    most = max(study.phantoms.parts, default=0)
    if most:
        y += 6
        for step in range(5):
            sheet.box(x + step * 5, y - 2.4, 5, 3.2, INK, 0.1, _tone(step / 4))
        sheet.text(
            x + 27, y, f"how many unsafe sets of three the key is one of: none to {most} (its number)", 2.5
        )
    if example is not None:
        y += 6
        sheet.line((x, y - 0.8), (x + 8, y - 0.8), stroke=MARK, width=1.3)
        faint = ", though not for certain" if example.diodes > max(0, study.level.series_most) else ""
        sheet.text(
            x + 10, y, f"one of them: with {listing(example.keys)} held, current takes this way "
            f"and {example.phantom} (dashed) shows{faint}", 2.5,
        )  # fmt: skip


def _fit(text: str, wide: float, most: float) -> float:
    """The size, up to *most*, at which *text* is no wider than *wide*; a letter is 0.62 of its height."""
    return min(most, wide / max(1.0, 0.62 * len(text)))


def _wrapped(name: str) -> list[str]:
    """Return *name* on one line, or on two, broken at the blank nearest its middle."""
    if len(name) <= 9 or " " not in name:
        return [name]
    blanks = [n for n, letter in enumerate(name) if letter == " "]
    best = min(blanks, key=lambda n: (abs(n - len(name) / 2), n))
    return [name[:best], name[best + 1 :]]


def _tone(share: float) -> str:
    """A colour from paper (0) toward rust (1)."""
    mixed = (
        round(low + (high - low) * share * _DEEPEST)
        for low, high in zip(_rgb(PAPER), _rgb(BOTTOM), strict=True)
    )
    return "#" + "".join(f"{value:02x}" for value in mixed)


def _rgb(colour: str) -> tuple[int, int, int]:
    red, green, blue = (int(colour[n : n + 2], 16) for n in (1, 3, 5))
    return red, green, blue
