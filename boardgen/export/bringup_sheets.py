"""The bring-up sheets as pages: boxes to tick, lines to write on, stop conditions framed."""

from __future__ import annotations

from dataclasses import dataclass, field

from reportlab.pdfbase.pdfmetrics import stringWidth

from boardgen.export.bringup_model import LOOK, Plan, Stage, Test
from boardgen.export.sheet import Sheet
from boardgen.palette import BODY, FAINT, INK, MARK

WIDE, HIGH, MARGIN = 210.0, 297.0, 12.0  # A4 upright, mm
TOP, FOOT = 34.0, HIGH - 14.0
BODY_SIZE, LINE = 2.7, 3.7
# x of the columns: box, id, red lead, black lead, what it is, expected, reading
COLUMNS = (MARGIN, MARGIN + 6, MARGIN + 16, MARGIN + 32, MARGIN + 48, MARGIN + 120, MARGIN + 164)
RIGHT = WIDE - MARGIN
_POINTS = 72 / 25.4


def wrapped(text: str, width: float, size: float, bold: bool = False) -> list[str]:
    """Return *text* in lines no wider than *width* mm at *size* mm, broken between words."""
    font = "Helvetica-Bold" if bold else "Helvetica"
    lines, line = [], ""
    for word in text.split():
        longer = f"{line} {word}" if line else word
        if line and stringWidth(longer, font, size * _POINTS) / _POINTS > width:
            lines.append(line)
            longer = word
        line = longer
    return [*lines, line] if line else lines


@dataclass(slots=True)
class Pages:
    """The pages while they are being filled, from the top of one to the foot of the last."""

    plan: Plan
    tool: str
    sheets: list[Sheet] = field(default_factory=list)
    y: float = HIGH

    @property
    def sheet(self) -> Sheet:
        """The page being filled."""
        return self.sheets[-1]

    def room(self, height: float) -> None:
        """Begin a new page where *height* mm do not fit on this one."""
        if self.y + height > FOOT or not self.sheets:
            self._page()

    def _page(self) -> None:
        plan = self.plan
        sheet = Sheet(f"{plan.design} revision {plan.revision}: bring-up", WIDE, HIGH)
        self.sheets.append(sheet)
        sheet.text(MARGIN, 16, "Bring-up", 5.5, bold=True)
        sheet.text(RIGHT, 13, f"{plan.design}  rev {plan.revision}", 4, "end", bold=True)
        sheet.text(RIGHT, 18, f"{plan.title}; pin map {plan.pin_map}", 2.7, "end")
        sheet.line((MARGIN, 20), (RIGHT, 20), width=0.4)
        for x, word, length in ((MARGIN, "Serial", 40), (MARGIN + 66, "Date", 36), (MARGIN + 122, "By", 52)):
            sheet.text(x, 28, word, 3, bold=True)
            sheet.line((x + 11, 28.6), (x + 11 + length, 28.6))
        self.y = TOP

    def write(self, text: str, size: float = BODY_SIZE, bold: bool = False, colour: str = INK) -> None:
        """Write a paragraph across the page."""
        lines = wrapped(text, RIGHT - MARGIN, size, bold)
        self.room(len(lines) * LINE + 1)
        for line in lines:
            self.y += LINE
            self.sheet.text(MARGIN, self.y, line, size, colour=colour, bold=bold)
        self.y += 1

    def frame(self, head: str, text: str) -> None:
        """Write a framed paragraph with a bold word at its head."""
        lines = wrapped(text, RIGHT - MARGIN - 24, BODY_SIZE)
        height = len(lines) * LINE + 2.6
        self.room(height + 2)
        self.sheet.box(MARGIN, self.y + 1, RIGHT - MARGIN, height, MARK, 0.5)
        self.sheet.text(MARGIN + 2.5, self.y + 1 + LINE, head, 3.2, colour=MARK, bold=True)
        for number, line in enumerate(lines, 1):
            self.sheet.text(MARGIN + 20, self.y + 1 + number * LINE, line, BODY_SIZE)
        self.y += height + 2.5


def bringup_sheets(plan: Plan, tool: str) -> tuple[Sheet, ...]:
    """Return the pages of *plan*, A4 upright; *tool* stands at their foot."""
    pages = Pages(plan, tool)
    pages.room(HIGH)
    pages.write("Cautions", 3.4, bold=True)
    for text in plan.cautions:
        pages.write(f"- {text}")
    for number, stage in enumerate(plan.stages, 1):
        _stage(pages, number, stage)
    for number, sheet in enumerate(pages.sheets, 1):
        sheet.line((MARGIN, FOOT + 2), (RIGHT, FOOT + 2), stroke=FAINT)
        words = "Type the readings into bringup/readings.csv: boardgen bringup RUN --serial S --readings FILE"
        sheet.text(MARGIN, FOOT + 6, words, 2.5)
        sheet.text(RIGHT, FOOT + 6, f"{tool}  page {number} of {len(pages.sheets)}", 2.5, "end")
    return tuple(pages.sheets)


def _stage(pages: Pages, number: int, stage: Stage) -> None:
    tests = pages.plan.of_stage(stage.id)
    pages.y += 3
    pages.room(46)
    pages.write(f"{number}. {stage.title}", 3.8, bold=True)
    for step in stage.steps:
        pages.write(step)
    pages.frame("STOP if", stage.stop)
    looks = all(test.kind == LOOK for test in tests)
    _heads(pages, looks)
    for test in tests:
        before = len(pages.sheets)
        pages.room(_height(test) + 1)
        if len(pages.sheets) > before:
            pages.write(f"{number}. {stage.title}, continued", BODY_SIZE, bold=True)
            _heads(pages, looks)
        _row(pages, test)


def _heads(pages: Pages, looks: bool) -> None:
    words = (
        ("", "", "", "", "", "", "")
        if looks
        else ("", "id", "red on", "black on", "what", "expected", "reading")
    )
    if looks:
        return
    pages.room(LINE + 6)
    pages.sheet.box(MARGIN, pages.y + 0.6, RIGHT - MARGIN, LINE + 0.8, BODY, 0.1, BODY)
    pages.y += LINE
    for x, word in zip(COLUMNS, words, strict=True):
        pages.sheet.text(x, pages.y, word, BODY_SIZE, bold=True)
    pages.y += 1.6


def _cells(test: Test) -> tuple[list[str], list[str]]:
    if test.kind == LOOK:
        return wrapped(test.label, RIGHT - COLUMNS[2], BODY_SIZE), []
    return (
        wrapped(test.label, COLUMNS[5] - COLUMNS[4] - 2, BODY_SIZE),
        wrapped(test.expected, COLUMNS[6] - COLUMNS[5] - 2, BODY_SIZE),
    )


def _height(test: Test) -> float:
    return max(len(cell) for cell in _cells(test)) * LINE + 1.8


def _row(pages: Pages, test: Test) -> None:
    label, expected = _cells(test)
    y, height = pages.y, _height(test)
    sheet = pages.sheet
    sheet.box(COLUMNS[0], y + 1.1, 3.2, 3.2, INK, 0.25)
    base = y + LINE
    sheet.text(COLUMNS[1], base, test.id, BODY_SIZE, bold=True)
    if test.kind == LOOK:
        for number, line in enumerate(label):
            sheet.text(COLUMNS[2], base + number * LINE, line, BODY_SIZE)
    else:
        sheet.text(COLUMNS[2], base, test.a, BODY_SIZE)
        sheet.text(COLUMNS[3], base, test.b, BODY_SIZE)
        for x, lines in ((COLUMNS[4], label), (COLUMNS[5], expected)):
            for number, line in enumerate(lines):
                sheet.text(x, base + number * LINE, line, BODY_SIZE)
        sheet.line((COLUMNS[6], base + 0.8), (RIGHT, base + 0.8), stroke=INK, width=0.15)
    sheet.line((MARGIN, y + height), (RIGHT, y + height), stroke=BODY, width=0.15)
    pages.y = y + height
