"""Holes for the drills there are: rings, gaps and walls judged from the pads themselves."""

from __future__ import annotations

import math
from dataclasses import replace

import pytest
from hypothesis import given
from hypothesis import strategies as st

from boardgen.catalog.drills import drill_changes, fit_drills, undrillable
from boardgen.catalog.load import load_catalog
from boardgen.catalog.model import FabClass
from boardgen.footprint.model import Footprint, Pad, PadKind, PadShape
from boardgen.units import Nm, Size, mm, nm, point_mm

CATALOG = load_catalog()
HOME = CATALOG.fab("home-etch-1l")


def two(hole: Nm, pad: Nm, pitch: float, kind: PadKind = PadKind.PLATED) -> Footprint:
    size, drill = Size(pad, pad), Size(hole, hole)
    number = ("1", "2") if kind is PadKind.PLATED else ("", "")
    return Footprint(
        "two",
        tuple(Pad(number[i], kind, PadShape.CIRCLE, point_mm(pitch * i, 0), size, drill) for i in (0, 1)),
    )


def test_a_fab_that_drills_any_size_changes_nothing() -> None:
    footprint = two(mm("1.1"), mm("1.8"), 2.77)
    free = CATALOG.fab("economy-2l")
    assert fit_drills(footprint, free) is footprint
    assert undrillable(footprint, free) == ()


def test_the_next_drill_is_taken_and_the_pad_keeps_its_ring() -> None:
    fitted = fit_drills(two(mm("1.1"), mm("1.8"), 2.77), HOME)
    assert [pad.hole for pad in fitted.pads] == [Size(mm("1.3"), mm("1.3"))] * 2
    assert [pad.size for pad in fitted.pads] == [Size(mm("1.9"), mm("1.9"))] * 2
    assert tuple(drill_changes(two(mm("1.1"), mm("1.8"), 2.77), fitted)) == (
        "2 holes drilled 1.3 mm in place of 1.1 mm, the pad 1.9 mm in place of 1.8 mm",
    )


@pytest.mark.parametrize(("pitch", "fits"), [(2.3, True), (2.299, False)])
def test_pads_grow_no_nearer_than_the_least_gap(pitch: float, fits: bool) -> None:
    tight = replace(HOME, hole_gap_min=Nm(0))  # 1.9 wide pads and a gap of 0.4
    footprint = two(mm("1.1"), mm("1.8"), pitch)
    assert (fit_drills(footprint, tight) != footprint) is fits
    assert undrillable(footprint, tight) == (() if fits else (mm("1.1"),))


@pytest.mark.parametrize(("pitch", "fits"), [(2.3, True), (2.299, False)])
def test_walls_between_holes_stay_thick(pitch: float, fits: bool) -> None:
    loose = replace(HOME, gap_min=Nm(0))  # holes of 1.3 and a wall of 1.0
    footprint = two(mm("1.1"), mm("1.8"), pitch)
    assert (fit_drills(footprint, loose) != footprint) is fits


@pytest.mark.parametrize(
    ("hole", "kind", "drill"),
    [
        ("2.8", PadKind.PLATED, "3.2"),
        ("2.7", PadKind.PLATED, None),  # more than 0.4 wider: no solder would bridge it
        ("2.2", PadKind.UNPLATED, "3.2"),
        ("2.1", PadKind.UNPLATED, None),
        ("3.3", PadKind.UNPLATED, None),
    ],
)
def test_no_hole_grows_further_than_a_lead_or_peg_holds(hole: str, kind: PadKind, drill: str | None) -> None:
    footprint = two(mm(hole), mm(5) if kind is PadKind.PLATED else mm(hole), 20, kind)
    fitted = fit_drills(footprint, HOME)
    want = mm(hole if drill is None else drill)
    assert {pad.hole for pad in fitted.pads} == {Size(want, want)}
    assert undrillable(footprint, HOME) == ((mm(hole),) if drill is None else ())


@given(st.integers(500, 3400), st.integers(0, 2000), st.integers(1200, 9000))
def test_what_is_fitted_keeps_the_class(hole: int, land: int, pitch: int) -> None:
    before = two(Nm(hole * 1000), Nm((hole + land) * 1000), pitch / 1000)
    after = fit_drills(before, HOME)
    for old, new in zip(before.pads, after.pads, strict=True):
        assert new.hole is not None
        assert old.hole is not None
        assert new.hole.w >= old.hole.w
        assert new.size.w >= old.size.w
        if new != old:
            assert new.hole.w in HOME.drills
            assert new.size.w - new.hole.w >= 2 * HOME.ring_min
            away = math.dist(new.at, after.pads[1 if new is after.pads[0] else 0].at)
            assert away - new.size.w >= HOME.gap_min
            assert away - new.hole.w >= HOME.hole_gap_min
    assert fit_drills(after, HOME) == after


def _fits(entry: str, fab: FabClass) -> tuple[str, ...]:
    connector = CATALOG.connector(entry)
    return tuple(f"{nm(w) / 1e6}" for w in undrillable(CATALOG.footprint(connector.footprint), fab))


def test_the_catalogue_in_a_kitchen() -> None:
    assert _fits("dsub-25-socket-right-angle", HOME) == ()
    assert _fits("dsub-37-plug-right-angle", HOME) == ()
    assert _fits("modular-8p8c-jack-right-angle", HOME) == ()
    assert _fits("header-396-1x10", HOME) == ("1.7",)
    assert _fits("mini-din-6-socket-right-angle", HOME)[-1] == "2.3"


def test_a_drilled_catalogue_gives_the_wider_holes_and_leaves_the_other_alone() -> None:
    name = CATALOG.connector("dsub-9-plug-right-angle").footprint
    drilled = CATALOG.drilled(HOME)
    assert {pad.hole.w for pad in drilled.footprint(name).pads if pad.hole} <= set(HOME.drills)
    assert mm("1.1") in {pad.hole.w for pad in CATALOG.footprint(name).pads if pad.hole}
    assert CATALOG.drilled(CATALOG.fab("fine-2l")) is CATALOG
