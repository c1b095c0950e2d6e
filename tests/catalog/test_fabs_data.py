"""The fab classes we ship, held against the comparison of fabs they come from."""

from __future__ import annotations

import tomllib
from pathlib import Path
from typing import Any

import pytest

import boardgen.catalog
from boardgen.catalog.model import FabClass
from boardgen.catalog.schema import FabForm
from boardgen.footprint import families
from boardgen.footprint.model import PadKind
from boardgen.units import mm

FOLDER = Path(boardgen.catalog.__file__).parent / "data" / "fabs"
RAW: dict[str, dict[str, Any]] = {
    path.stem: tomllib.loads(path.read_text(encoding="utf-8")) for path in sorted(FOLDER.glob("*.toml"))
}
IDS = sorted(RAW)
DRAWN = {
    path.stem: tomllib.loads(path.read_text(encoding="utf-8"))["family"]
    for folder in ("modules", "parts")
    for path in sorted((FOLDER.parent / folder).glob("*.toml"))
}
POOLED = ["economy-2l", "fine-2l"]

# What the compared pages make; edge of the finer class: two published pages say 0.25.
FLOOR = {
    "economy-2l": {
        "track_min": 0.127,
        "gap_min": 0.127,
        "hole_min": 0.3,
        "ring_min": 0.15,
        "edge_copper_min": 0.3,
    },
    "fine-2l": {"track_min": 0.1, "gap_min": 0.1, "hole_min": 0.2, "ring_min": 0.1, "edge_copper_min": 0.25},
    "home-etch-1l": {
        "track_min": 0.38,
        "gap_min": 0.38,
        "hole_min": 0.8,
        "ring_min": 0.3,
        "edge_copper_min": 1.0,
    },
}

# Pads every board has: module socket, D-sub contact, D-sub screw; hole and pad in mm.
STANDARD = [(1.0, 1.7), (1.0, 1.6), (3.2, 0.0)]


def fab(entry_id: str) -> FabClass:
    return FabForm.model_validate(RAW[entry_id]).frozen(f"{entry_id}.toml")


def test_the_classes_are_the_ones_described_here() -> None:
    assert sorted(FLOOR) == IDS


@pytest.mark.parametrize("entry_id", IDS)
def test_entry_is_whole(entry_id: str) -> None:
    entry = fab(entry_id)
    assert entry.id == entry_id
    assert entry.sources
    assert all(source.what for source in entry.sources)
    assert entry.description


@pytest.mark.parametrize("entry_id", IDS)
def test_no_limit_is_finer_than_the_fabs(entry_id: str) -> None:
    entry = fab(entry_id)
    for name, least in FLOOR[entry_id].items():
        assert getattr(entry, name) >= mm(least), name


@pytest.mark.parametrize("entry_id", IDS)
def test_preferred_is_never_below_the_limit(entry_id: str) -> None:
    entry = fab(entry_id)
    assert entry.track_min <= entry.track <= entry.supply_track
    assert entry.gap_min <= entry.gap
    assert entry.gap_min <= entry.pour_gap
    assert entry.gap_min <= entry.thermal_gap
    assert entry.track_min <= entry.thermal_spoke
    assert entry.track_min <= entry.pour_min_width
    assert entry.via_diameter_min <= entry.via_diameter
    assert entry.hole_min <= entry.via_hole < entry.via_diameter
    assert entry.via_diameter - entry.via_hole >= 2 * entry.ring_min
    assert entry.hole_min < entry.hole_max
    assert entry.board_min.w < entry.board_max.w
    assert entry.board_min.h < entry.board_max.h


@pytest.mark.parametrize("entry_id", IDS)
@pytest.mark.parametrize(("hole", "pad"), STANDARD)
def test_standard_pads_can_be_made(entry_id: str, hole: float, pad: float) -> None:
    entry = fab(entry_id)
    assert entry.hole_min <= mm(hole) <= entry.hole_max
    assert not entry.drills or mm(hole) in entry.drills
    if pad:
        assert mm(pad) - mm(hole) >= 2 * entry.ring_min


@pytest.mark.parametrize("entry_id", IDS)
def test_pins_in_a_row_do_not_run_into_each_other(entry_id: str) -> None:
    """2.54 pitch with 1.0 holes and 1.7 pads, the socket every board has."""
    entry = fab(entry_id)
    assert mm(2.54) - mm(1.0) >= entry.hole_gap_min
    assert mm(2.54) - mm(1.7) >= entry.gap_min


@pytest.mark.parametrize("entry_id", POOLED)
def test_a_preferred_track_passes_between_socket_pins(entry_id: str) -> None:
    entry = fab(entry_id)
    assert mm(2.54) - mm(1.7) >= entry.track + 2 * entry.gap


def test_economy_figures() -> None:
    entry = fab("economy-2l")
    assert (entry.track, entry.gap, entry.supply_track) == (mm(0.25), mm(0.2), mm(0.5))
    assert (entry.via_diameter, entry.via_hole) == (mm(0.6), mm(0.3))
    assert (entry.hole_gap_min, entry.npth_copper_min) == (mm(0.45), mm(0.25))
    assert (entry.legend_stroke_min, entry.legend_height_min) == (mm(0.15), mm(0.8))
    assert (entry.copper_layers, entry.plated, entry.copper_um, entry.thickness) == (2, True, 35, mm(1.6))
    assert entry.drills == ()


def test_the_finer_class_is_finer() -> None:
    economy, fine = fab("economy-2l"), fab("fine-2l")
    for name in ("track_min", "gap_min", "hole_min", "ring_min", "via_diameter_min", "edge_copper_min"):
        assert getattr(fine, name) < getattr(economy, name), name


def test_home_etch_is_one_bare_layer() -> None:
    entry = fab("home-etch-1l")
    assert (entry.copper_layers, entry.plated, entry.legend) == (1, False, False)
    assert entry.drills == (mm(0.8), mm(1.0), mm(1.3), mm(3.2))
    assert entry.hole_min == entry.drills[0]
    assert entry.hole_max == entry.drills[-1]
    assert "50 mm" in entry.description


@pytest.mark.parametrize("fab_id", IDS)
@pytest.mark.parametrize("entry_id", sorted(DRAWN))
def test_every_module_and_part_of_ours_can_be_made(entry_id: str, fab_id: str) -> None:
    """Holes, rings and gaps inside each footprint keep the class's limits."""
    entry = fab(fab_id)
    pads = list(families.build(DRAWN[entry_id], entry_id).footprint.pads)
    assert pads
    for pad in pads:
        if pad.kind is PadKind.PLATED:
            assert pad.hole is not None
            assert entry.hole_min <= pad.hole.w <= entry.hole_max
            assert not entry.drills or pad.hole.w in entry.drills
            assert min(pad.size.w, pad.size.h) - pad.hole.w >= 2 * entry.ring_min
    for i, one in enumerate(pads):
        for other in pads[i + 1 :]:
            dx = abs(one.at.x - other.at.x) - (one.size.w + other.size.w) // 2
            dy = abs(one.at.y - other.at.y) - (one.size.h + other.size.h) // 2
            assert max(dx, dy) >= entry.gap_min, (one.number, other.number)


# Published capability pages, typed again: the finest each makes in the class (A: Angus Technology,
# N: Nanotech typical and advanced; what a page does not state is left out).
PAGES = {
    "economy-2l": {
        "A": {
            "track_min": 0.15,
            "gap_min": 0.15,
            "ring_min": 0.15,
            "hole_min": 0.3,
            "legend_height_min": 0.8,
        },
        "N": {"track_min": 0.15, "gap_min": 0.15, "hole_min": 0.3, "edge_copper_min": 0.25},
    },
    "fine-2l": {
        "A": {"track_min": 0.1, "gap_min": 0.1, "hole_min": 0.2, "legend_height_min": 0.8},
        "N": {
            "track_min": 0.1,
            "gap_min": 0.1,
            "hole_min": 0.2,
            "edge_copper_min": 0.25,
            "mask_web_min": 0.1,
        },
    },
}


@pytest.mark.parametrize("entry_id", POOLED)
def test_two_published_pages_make_the_class(entry_id: str) -> None:
    entry = fab(entry_id)
    for page, figures in PAGES[entry_id].items():
        for name, least in figures.items():
            assert getattr(entry, name) >= mm(least), (page, name)


@pytest.mark.parametrize("entry_id", POOLED)
def test_preferred_vias_and_component_rings_suit_the_strictest_page(entry_id: str) -> None:
    """Rings: 0.15 round vias everywhere, 0.18 round component holes at one fab."""
    entry = fab(entry_id)
    assert entry.via_diameter - entry.via_hole >= 2 * mm(0.15)
    rings = [
        min(pad.size.w, pad.size.h) - pad.hole.w
        for key, family in DRAWN.items()
        for pad in families.build(family, key).footprint.pads
        if pad.kind is PadKind.PLATED and pad.hole
    ]
    assert min(rings) >= 2 * mm(0.25)


@pytest.mark.parametrize("entry_id", IDS)
def test_unread_figures_are_marked_as_house_rules(entry_id: str) -> None:
    for source in fab(entry_id).sources:
        if "not confirmed" in source.what:
            assert source.document == "boardgen house rule"
