"""Texts of the legend in a CAD board edited by hand: added, moved, changed, taken off."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, replace
from typing import Any

from boardgen.board.model import Board, LegendText, Part, Placement, Side
from boardgen.design.model import LegendWish
from boardgen.layout.labels import PINS, REVISION, pins_of, title_of
from boardgen.revision.remark import Remark, at_words
from boardgen.units import Nm, Point

NEAR = 1_500  # nm
TALLEST = 20_000_000  # nm; what a design's legend takes
LONGEST = 120  # letters
ALWAYS = "the board's name, revision and pin map are printed on every board: move it instead"


@dataclass(frozen=True, slots=True)
class Row:
    """A text the run printed, in the axes of the next board; *wish* is the design's entry it came from."""

    text: str
    at: Point
    height: Nm
    turn: float
    side: Side
    wish: LegendWish | None = None


@dataclass(frozen=True, slots=True)
class Words:
    """The texts that change from revision to revision, as the run has them, and what stands for them."""

    title: str
    title_form: str
    pins: str
    pins_form: str

    def form(self, text: str) -> str:
        """Return *text* with what changes left open."""
        return {self.title: self.title_form, self.pins: self.pins_form}.get(text, text)

    def fixed(self, text: str) -> bool:
        """Whether *text* is on every board."""
        return text in (self.title, self.pins)


def words_of(name: str, revision: str, digest: str) -> Words:
    """Return the texts of revision *revision* of the design *name*; *digest* is its pin map's."""
    return Words(title_of(name, revision), title_of(name, REVISION), pins_of(digest), pins_of(PINS))


def _length(value: object) -> Nm:
    return Nm(round(float(str(value)) * 1e6))


def _rows(
    data: Mapping[str, Any], corner: Point, wishes: Sequence[LegendWish], said: Callable[[str], str]
) -> tuple[list[Row], list[LegendWish]]:
    """Return what the run printed, and those of *wishes* it did not print."""
    left = list(wishes)
    rows = []
    for row in data["legend"]:
        at = Point(_length(row["x_mm"]), _length(row["y_mm"]))
        text, side = str(row["text"]), Side(str(row["side"]))
        wish = next(
            (w for w in left if (said(w.text), w.side) == (text, side) and w.at.distance(at) <= NEAR), None
        )
        if wish is not None:
            left.remove(wish)
        height, turn = _length(row["height_mm"]), float(row["turn"])
        rows.append(Row(text, at.minus(corner), height, turn, side, wish))
    return rows, left


def _same(item: LegendText, row: Row) -> bool:
    turn = abs((item.rotation - row.turn + 180.0) % 360.0 - 180.0)
    return (
        (item.text, item.side) == (row.text, row.side)
        and item.at.distance(row.at) <= NEAR
        and abs(item.height - row.height) <= NEAR
        and turn < 0.01
    )


def _take(item: LegendText, rows: list[Row], fits: Callable[[Row], bool]) -> Row | None:
    """Take from *rows* the nearest one that fits."""
    fitting = [row for row in rows if fits(row)]
    if not fitting:
        return None
    row = min(fitting, key=lambda row: (row.side is not item.side, row.at.distance(item.at), row.text))
    rows.remove(row)
    return row


def printed_texts(
    items: Sequence[LegendText],
    data: Mapping[str, Any],
    words: Words,
    earlier: tuple[Sequence[LegendWish], Callable[[str], str]],
    corner: Point,
    remarks: list[Remark],
) -> tuple[LegendWish, ...]:
    """Return the texts that the next design asks for; what a person did is told in *remarks*.

    *items* are the board's own texts as they stand, *data* is the record; *earlier* are the entries of the
    design with what fills their words in. All places in the axes of the next board, of which *corner* is the
    top left in those of the record.
    """
    wishes, said = earlier
    rows, unprinted = _rows(data, corner, wishes, said)
    found = [replace(wish, at=wish.at.minus(corner)) for wish in unprinted]
    new: list[LegendText] = []
    for item in items:
        row = _take(item, rows, lambda row, item=item: _same(item, row))  # type: ignore[misc]
        if row is None:
            new.append(item)
        elif row.wish is not None:
            found.append(replace(row.wish, at=row.at))
    moved, rest = [], []
    for item in new:  # what says the same elsewhere goes before what says something else there
        row = _take(item, rows, lambda row, item=item: row.text == item.text)  # type: ignore[misc]
        (rest.append(item) if row is None else moved.append((item, row)))
    for item, row in moved:
        wish = _wish(item, words.form(item.text) if row.wish is None else row.wish.text, remarks)
        if wish is not None:
            done = (
                "moved" if item.at.distance(row.at) > NEAR or item.side is not row.side else "changed in form"
            )
            found.append(wish if row.wish is None else replace(wish, instead_of=row.wish.instead_of))
            remarks.append(Remark(f"text {item.text!r} on the legend, {done} at {at_words(item.at)}"))
    for item in rest:
        row = _take(
            item,
            rows,
            lambda row, item=item: row.side is item.side and row.at.distance(item.at) <= NEAR,  # type: ignore[misc]
        )
        wish = _wish(item, item.text, remarks)
        if row is None or words.fixed(row.text):
            if row is not None:
                remarks.append(Remark(f"text {row.text!r} on the legend, changed", ALWAYS))
            if wish is not None:
                found.append(wish)
                remarks.append(Remark(f"text {item.text!r} on the legend, added at {at_words(item.at)}"))
        elif wish is not None:
            instead = row.text if row.wish is None else row.wish.instead_of
            found.append(replace(wish, instead_of=instead))
            remarks.append(Remark(f"text {row.text!r} on the legend, now {item.text!r}"))
    for row in rows:
        found += _gone(row, words, remarks)
    return tuple(sorted(found, key=lambda wish: (wish.side.value, wish.text, wish.at, wish.instead_of)))


def _gone(row: Row, words: Words, remarks: list[Remark]) -> list[LegendWish]:
    """Return what keeps a text off that was taken off."""
    thing = f"text {row.text!r} on the legend, taken off"
    if words.fixed(row.text):
        remarks.append(Remark(thing, ALWAYS))
        return []
    remarks.append(Remark(thing))
    instead = row.text if row.wish is None else row.wish.instead_of
    if not instead and row.wish is not None:  # it may have stood for a label that says the same
        instead = row.text
    return [LegendWish("", row.at, row.height, 0.0, row.side, None, instead)]


def _wish(item: LegendText, text: str, remarks: list[Remark]) -> LegendWish | None:
    thing = f"text {item.text[:40]!r} on the legend at {at_words(item.at)}"
    if item.height > TALLEST or len(text) > LONGEST or not text.isprintable():
        why = (
            f"a design takes texts of at most {LONGEST} letters on one line, up to {TALLEST / 1e6:g} mm high"
        )
        remarks.append(Remark(thing, f"{why}: set it so, or draw it as lines"))
        return None
    return LegendWish(text.strip(), item.at, item.height, item.rotation, item.side)


def tell_references(board: Board, data: Mapping[str, Any], remarks: list[Remark]) -> None:
    """Tell of reference texts that no longer stand where they stood from their parts."""
    rows = {str(row["ref"]): row for row in data.get("references", ())}
    now = dict(board.references)
    for part in board.parts:
        row = rows.get(part.ref)
        if row is None:
            continue
        thing = f"reference text of {part.ref}"
        why = "references are printed anew where there is room on each board"
        text = now.get(part.ref)
        if text is None:
            remarks.append(Remark(f"{thing}, taken off", why))
            continue
        off = text.at.minus(part.placement.at)
        turned = any(r["ref"] == part.ref and _turned(part, r) for r in data["places"])
        if not turned and max(abs(off.x.mm - row["dx_mm"]), abs(off.y.mm - row["dy_mm"])) > NEAR / 1e6:
            remarks.append(Remark(f"{thing}, moved", why))


def place_of(row: Mapping[str, Any]) -> Placement:
    """Return a place of the record, in its own axes."""
    at = Point(_length(row["x_mm"]), _length(row["y_mm"]))
    return Placement(at, float(row["turn"]) % 360.0, Side(str(row["side"])))


def _turned(part: Part, row: Mapping[str, Any]) -> bool:
    """Whether the part was turned or changed sides, and its reference with it."""
    was = place_of(row)
    return was.side is not part.placement.side or abs(was.rotation - part.placement.rotation) % 360 > 0.01
