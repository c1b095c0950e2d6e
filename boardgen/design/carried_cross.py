"""What the tables of a revision's history say wrong about themselves and about the contacts."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence

from shapely import Polygon

from boardgen.catalog.tomlfile import KeyPath
from boardgen.design import schema
from boardgen.design.keys import Say
from boardgen.errors import InputError, suggestion

# Each kind of condition: the key that says what is wanted, and the one it needs beside it.
_WANTS = {
    "joins": None,
    "apart": None,
    "pins": "signal",
    "not_pins": "signal",
    "way": "signal",
    "margin_v": "signal",
    "edge_mm": "part",
    "inside": "part",
    "distance_mm": "part",
    "hole_mm": "at_mm",
}
_BESIDE = {"net": ("joins",), "other": ("distance_mm",), "at_mm": ("hole_mm",)}
_SUBJECTS = {"signal": ("pins", "not_pins", "way", "margin_v"), "part": ("edge_mm", "inside", "distance_mm")}


def carried_problems(form: schema.DesignForm, say: Say, kinds: Mapping[str, str]) -> Iterator[InputError]:
    """Yield what is wrong with errata, kept pins, placed parts and what stays; *kinds* are the contacts'."""
    yield from _errata(form, say, kinds)
    yield from _keep(form, say, kinds)
    yield from _placed(form, say)
    stays = form.stays
    if stays is not None:
        if (stays.width_mm is None) != (stays.height_mm is None):
            yield say("width_mm and height_mm go together", ("stays",))
        if stays.points_mm is not None and stays.width_mm is not None:
            yield say("the outline is given twice", ("stays", "points_mm"), allowed="points_mm or width_mm")
        holes, widths = stays.holes_mm or (), stays.hole_diameters_mm
        if widths and len(widths) != len(holes):
            found, allowed = f"{len(widths)} diameters", f"{len(holes)}, one for each of holes_mm"
            yield say(
                "diameters and holes do not go together", ("stays", "hole_diameters_mm"), found, allowed
            )
    yield from _drawn(form, say)


def _drawn(form: schema.DesignForm, say: Say) -> Iterator[InputError]:
    for n, text in enumerate(form.legend):
        if not text.text and not text.instead_of:
            yield say("a table of the legend needs a text, or instead_of", ("legend", n))
    for n, stroke in enumerate(form.strokes):
        if stroke.filled and not _simple(stroke.points_mm):
            allowed = "three corners or more, of a line that does not cross itself"
            yield say("these points enclose no area to fill", ("strokes", n, "points_mm"), allowed=allowed)
    for n, area in enumerate(form.keepouts):
        if not _simple(area.points_mm):
            allowed = "three corners or more, of a line that does not cross itself"
            yield say(
                "these points enclose no area to keep free", ("keepouts", n, "points_mm"), allowed=allowed
            )


def _simple(points: Sequence[tuple[float, float]]) -> bool:
    """Whether *points* go once round an area."""
    ring = points[:-1] if len(points) > 1 and points[0] == points[-1] else points
    return len(ring) > 2 and bool((area := Polygon(ring)).is_valid) and float(area.area) > 1e-6


def _errata(form: schema.DesignForm, say: Say, kinds: Mapping[str, str]) -> Iterator[InputError]:
    for n, erratum in enumerate(form.errata):
        fixed = erratum.fixed_in
        if fixed and not later(fixed, erratum.revision):
            yield say(
                f"a fault of revision {erratum.revision} cannot be fixed in {fixed}",
                ("errata", n, "fixed_in"),
                fixed,
                f"a revision after {erratum.revision}",
            )
        if erratum.check and not fixed:
            yield say("a check needs fixed_in, the revision it holds from", ("errata", n, "check"))
        for k, check in enumerate(erratum.check):
            yield from _condition(check, ("errata", n, "check", k), say, kinds)


def _condition(
    check: schema.ConditionForm, at: KeyPath, say: Say, kinds: Mapping[str, str]
) -> Iterator[InputError]:
    said = [key for key in schema.ConditionForm.model_fields if getattr(check, key) is not None]
    wants = [key for key in said if key in _WANTS]
    if len(wants) != 1:
        yield say(
            "a check states one condition", at, found=", ".join(wants) or "none", allowed=", ".join(_WANTS)
        )
        return
    want = wants[0]
    needed = _WANTS[want]
    if needed is not None and needed not in said:
        yield say(f"{want} needs {needed} beside it", at)
    for key in said:
        if key in (want, needed):
            continue
        allowed = _BESIDE.get(key) or _SUBJECTS.get(key, ())
        if want not in allowed:
            yield say(f"{key} does not go with {want}", (*at, key))
    if want == "distance_mm" and check.other is None:
        yield say("distance_mm needs other, the second part", at)
    if want == "inside" and check.inside is False:
        yield say("a part can only be asked to stand inside", (*at, "inside"), "false", "true")
    if check.signal is not None and check.signal not in kinds:
        hint = suggestion(check.signal, kinds)
        yield say(f"there is no signal {check.signal!r} on the contacts{hint}", (*at, "signal"))


def later(revision: str, than: str) -> bool:
    """Return whether *revision* comes after *than*: A to Z, then AA, AB and so on."""
    return (len(revision), revision) > (len(than), than)


def _keep(form: schema.DesignForm, say: Say, kinds: Mapping[str, str]) -> Iterator[InputError]:
    signals: dict[str, int] = {}
    pins: dict[str, int] = {}
    for n, keep in enumerate(form.keep):
        if keep.signal in signals:
            first = say.line(("keep", signals[keep.signal]))
            yield say(f"{keep.signal} is already kept in {first}", ("keep", n, "signal"))
        elif keep.pin in pins:
            other = form.keep[pins[keep.pin]].signal
            yield say(f"pin {keep.pin} is kept for both {other} and {keep.signal}", ("keep", n, "pin"))
        if kinds.get(keep.signal) in ("ground", "supply", "shield"):
            yield say(f"{keep.signal} is a {kinds[keep.signal]} contact and gets no pin", ("keep", n))
        signals.setdefault(keep.signal, n)
        pins.setdefault(keep.pin, n)


def _placed(form: schema.DesignForm, say: Say) -> Iterator[InputError]:
    stays = form.stays.parts if form.stays is not None else ()
    for where, parts in ((("placed",), form.placed), (("stays", "parts"), stays)):
        seen: dict[str, int] = {}
        for n, part in enumerate(parts):
            if part.ref in seen:
                yield say(f"{part.ref} is placed twice", (*where, n, "ref"))
            seen.setdefault(part.ref, n)
