"""Cost per board over the number of boards, and what the chosen number's bill is made of, drawn."""

from __future__ import annotations

import math
from collections.abc import Callable

from boardgen.export.sheet import XY, Sheet
from boardgen.export.sheet_svg import sheet_svg
from boardgen.order.cost_bill import cheapest, most_boards
from boardgen.order.cost_data import share_of
from boardgen.order.cost_model import Estimate, Line, Quote, RunFacts
from boardgen.order.prices_model import Prices
from boardgen.palette import BOTTOM, FAINT, GOOD, INK, LEGEND, MARK, TOP

_WIDTH = 190.0
_LEFT, _RIGHT, _TOP, _BOTTOM = 22.0, 182.0, 24.0, 92.0
_POINTS = 60
_MOST_BARS = 14
_LABEL = (13.0, 3.2)  # room a cost takes at a point, mm
_COLOURS = {
    "boards": TOP,
    "options": "#5fa3a8",
    "parts": BOTTOM,
    "freight": LEGEND,
    "fees": FAINT,
    "work": GOOD,
}


def cost_plot(facts: RunFacts, prices: Prices, found: Estimate, chosen: Quote) -> str:
    """Return the plot as an SVG document; *chosen* is the number whose bill is drawn."""
    bars = _bars(chosen)
    sheet = Sheet(f"Cost of {facts.design} revision {facts.revision}", _WIDTH, _BOTTOM + 34 + 5.5 * len(bars))
    sheet.text(8, 9, sheet.title, 4.2, bold=True)
    said = f"{found.table}, {found.currency}"
    said += "; all of these prices are invented" if found.invented and "nvented" not in found.table else ""
    sheet.text(8, 14.5, said, 2.6, colour=FAINT)
    if found.missing:
        sheet.text(8, 19, f"INCOMPLETE: no price for {_cut('; '.join(found.missing), 90)}", 2.6, colour=MARK)
    _curve(sheet, facts, prices, found)
    _bill_bars(sheet, bars, chosen, found)
    return sheet_svg(sheet)


def _cut(text: str, most: int) -> str:
    return text if len(text) <= most else text[: most - 3] + "..."


def _counts(last: int) -> list[int]:
    """Return numbers of boards from 1 to *last*, evenly on the plot's scale."""
    if last == 1:
        return [1]
    return sorted({round(last ** (n / (_POINTS - 1))) for n in range(_POINTS)})


def _nice(value: float) -> float:
    """Return the round number (1, 2, 2.5, 5 times a power of ten) at or above *value*."""
    power = 10.0 ** math.floor(math.log10(value))
    return next(step * power for step in (1, 2, 2.5, 5, 10) if step * power >= value * (1 - 1e-12))


def _curve(sheet: Sheet, facts: RunFacts, prices: Prices, found: Estimate) -> None:
    wanted = [quote.need for quote in found.quotes]
    last = min(max(*wanted, 10), most_boards(facts, prices))
    counts = sorted({*_counts(last), *wanted})
    points = [(n, float(cheapest(facts, prices, n).unit)) for n in counts]
    dearest = max(0.01, *(cost for _n, cost in points))
    step = _nice(dearest / 6)
    top = step * math.ceil(dearest / step * (1 - 1e-12))
    span = math.log(last) or 1.0

    def at(count: float, cost: float) -> XY:
        x = _LEFT + (_RIGHT - _LEFT) * math.log(count) / span
        return round(x, 3), round(_BOTTOM - (_BOTTOM - _TOP) * cost / top, 3)

    _axes(sheet, (step, top), last, at)
    sheet.line(*(at(n, cost) for n, cost in points), stroke=TOP, width=0.5)
    shown = dict(points)
    boxes: list[tuple[float, float]] = []
    for quote in found.quotes:
        x, y = at(quote.need, shown[quote.need])
        sheet.disc(x, y, 1.1, stroke=INK, width=0.2, fill=TOP)
        end = "end" if x > _RIGHT - 20 else "start"
        left = x - _LABEL[0] if end == "end" else x + 1
        # above the curve, higher, below it; a label with no room is left out, for the command says it too
        for lift in (-2.4, -5.8, 5.0, 8.4):
            if all(abs(left - u) > _LABEL[0] or abs(y + lift - v) > _LABEL[1] for u, v in boxes):
                boxes.append((left, y + lift))
                edge = x if end == "end" else left
                sheet.text(edge, y + lift, f"{quote.best.per_board:f}", 2.8, end, bold=True)
                break


def _axes(sheet: Sheet, scale: tuple[float, float], last: int, place: Callable[[float, float], XY]) -> None:
    step, top = scale
    for n in range(round(top / step) + 1):
        value = step * n
        _x, y = place(1, value)
        sheet.line((_LEFT, y), (_RIGHT, y), stroke=FAINT, width=0.1 if n else 0.3)
        sheet.text(_LEFT - 1.5, y + 1, f"{value:g}", 2.5, "end")
    before = -99.0
    for tick in _ticks(last):
        x, _y = place(tick, 0)
        sheet.line((x, _BOTTOM), (x, _BOTTOM + 1.2), width=0.2)
        if x - before > 6.5:
            sheet.text(x, _BOTTOM + 4.5, str(tick), 2.5, "middle")
            before = x
    sheet.text((_LEFT + _RIGHT) / 2, _BOTTOM + 9, "boards (each number at its cheapest order)", 2.6, "middle")
    sheet.text(_LEFT - 14, (_TOP + _BOTTOM) / 2, "cost of a board", 2.6, "middle", turn=90)


def _ticks(last: int) -> list[int]:
    found = [base * 10**power for power in range(7) for base in (1, 2, 5)]
    return [tick for tick in found if tick <= last]


def _bars(chosen: Quote) -> list[Line]:
    """Return the bill's lines from the dearest; the small ones beyond the last bar are one."""
    lines = [line for line in chosen.best.sorted_lines() if line.amount]
    if len(lines) <= _MOST_BARS:
        return lines
    rest = lines[_MOST_BARS - 1 :]
    total = sum((line.amount for line in rest[1:]), rest[0].amount)
    return [*lines[: _MOST_BARS - 1], Line("", f"{len(rest)} smaller ones", total)]


def _bill_bars(sheet: Sheet, bars: list[Line], chosen: Quote, found: Estimate) -> None:
    y = _BOTTOM + 17
    best = chosen.best
    head = f"What {chosen.need} boards cost, {best.ordered} ordered: {best.total:f} {found.currency}"
    sheet.text(8, y, head, 3.2, bold=True)
    x = 8.0
    for group in sorted({line.group for line in bars if line.group}, key=list(_COLOURS).index):
        sheet.box(x, y + 3, 2.6, 2.6, stroke="", width=0, fill=_COLOURS[group])
        sheet.text(x + 3.6, y + 5.2, group, 2.5)
        x += 20
    largest = max((float(line.amount) for line in bars), default=1.0)
    y += 9
    for line in bars:
        width = 72 * float(line.amount) / largest
        sheet.text(76, y + 3, _cut(line.name, 40), 2.5, "end")
        sheet.box(78, y, max(width, 0.2), 3.8, stroke="", width=0, fill=_COLOURS.get(line.group, INK))
        sheet.text(79.5 + width, y + 3, f"{line.amount:f}  ({share_of(line, best)} %)", 2.5)
        y += 5.5
