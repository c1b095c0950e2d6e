"""The logic families we ship: published figures typed by hand, and the verdicts of practice."""

from __future__ import annotations

import pytest

from boardgen.catalog.load import load_catalog
from boardgen.catalog.logic import Logic, LogicPoint, at_supply

FAMILIES = load_catalog().logic

# Typed from the makers' sheets, -40 C to 85 C (TTL: 0 C to 70 C):
# family, supply: VIH, VIL, then (mA, VOH) and (mA, VOL), light and full load
PUBLISHED = {
    ("74hc", 2.0): (1.5, 0.5, ((0.02, 1.9),), ((0.02, 0.1),)),
    ("74hc", 4.5): (3.15, 1.35, ((0.02, 4.4), (4, 3.84)), ((0.02, 0.1), (4, 0.33))),
    ("74hc", 6.0): (4.2, 1.8, ((0.02, 5.9), (5.2, 5.34)), ((0.02, 0.1), (5.2, 0.33))),
    ("74hct", 4.5): (2.0, 0.8, ((0.02, 4.4), (4, 3.84)), ((0.02, 0.1), (4, 0.33))),
    ("74ls", 4.75): (2.0, 0.8, ((0.4, 2.7),), ((4, 0.4), (8, 0.5))),
    ("74als", 4.5): (2.0, 0.8, ((0.4, 2.5),), ((4, 0.4), (8, 0.5))),
    ("74", 4.75): (2.0, 0.8, ((0.4, 2.4),), ((16, 0.4),)),
    ("nmos", 4.75): (2.0, 0.8, ((0.05, 2.4),), ((1.6, 0.45),)),
    ("cd4000b", 5.0): (3.5, 1.5, ((0.001, 4.95), (0.36, 4.6)), ((0.001, 0.05), (0.36, 0.4))),
    ("cd4000b", 10.0): (7.0, 3.0, ((0.001, 9.95), (0.9, 9.5)), ((0.001, 0.05), (0.9, 0.5))),
    ("cd4000b", 15.0): (11.0, 4.0, ((0.001, 14.95), (2.4, 13.5)), ((0.001, 0.05), (2.4, 1.5))),
    ("74ahc", 3.0): (2.1, 0.9, ((0.05, 2.9), (4, 2.48)), ((0.05, 0.1), (4, 0.44))),
    ("74ahc", 5.5): (3.85, 1.65, ((0.05, 4.4), (8, 3.8)), ((0.05, 0.1), (8, 0.44))),
    ("74ahct", 4.5): (2.0, 0.8, ((0.05, 4.4), (8, 3.8)), ((0.05, 0.1), (8, 0.44))),
    ("74lvc", 2.7): (2.0, 0.8, ((0.1, 2.5), (12, 2.2)), ((0.1, 0.2), (12, 0.4))),
    ("74lvc", 3.0): (2.0, 0.8, ((0.1, 2.8), (12, 2.4), (24, 2.2)), ((0.1, 0.2), (24, 0.55))),
}

# supply range; input limit powered by 5 V (or the middle of the range); unpowered
LIMITS = {
    "74": (4.75, 5.25, 5.5, 5.5),
    "74ahc": (2.0, 5.5, 5.5, 5.5),
    "74ahct": (4.5, 5.5, 5.5, 5.5),
    "74als": (4.5, 5.5, 7.0, 7.0),
    "74hc": (2.0, 6.0, 5.5, 0.5),
    "74hc4050": (2.0, 6.0, 15.0, 15.0),
    "74hct": (4.5, 5.5, 5.5, 0.5),
    "74ls": (4.75, 5.25, 7.0, 7.0),
    "74lvc": (2.7, 3.6, 5.5, 5.5),
    "cd4000b": (3.0, 15.0, 5.5, 0.5),
    "nmos": (4.75, 5.25, 7.0, 0.5),
}


def levels(family: str, volts: float) -> LogicPoint:
    return at_supply(FAMILIES[family].levels, volts)


def test_the_families_are_the_ones_described_here() -> None:
    assert sorted(FAMILIES) == sorted(LIMITS)
    assert {family for family, _ in PUBLISHED} | {"74hc4050"} == set(LIMITS)


@pytest.mark.parametrize(("family", "volts"), sorted(PUBLISHED))
def test_levels_are_the_published_ones(family: str, volts: float) -> None:
    vih, vil, high, low = PUBLISHED[family, volts]
    point = levels(family, volts)
    assert (point.vih_v, point.vil_v) == (vih, vil)
    assert point.high == tuple((pytest.approx(ma / 1e3), v) for ma, v in high)
    assert point.low == tuple((pytest.approx(ma / 1e3), v) for ma, v in low)


@pytest.mark.parametrize("family", sorted(LIMITS))
def test_limits_are_the_published_ones(family: str) -> None:
    logic = FAMILIES[family].levels
    least, most, powered, idle = LIMITS[family]
    assert (logic.supply_min_v, logic.supply_max_v) == (least, most)
    assert logic.most_v(5.0) == powered
    assert logic.idle_max_v == idle


@pytest.mark.parametrize("family", sorted(LIMITS))
def test_points_are_sane_and_cover_the_supply(family: str) -> None:
    logic = FAMILIES[family].levels
    assert logic.points[0].supply_v <= logic.supply_min_v
    assert logic.points[-1].supply_v == logic.supply_max_v
    for point in logic.points:
        assert 0 < point.vil_v < point.vih_v < point.supply_v
        drops = [v for _, v in point.high]
        assert drops == sorted(drops, reverse=True)
        rises = [v for _, v in point.low]
        assert rises == sorted(rises)
        # a family reads its own output, lightly loaded with any margin, low with full load too
        assert drops[0] >= point.vih_v + 0.2
        assert rises[-1] <= point.vil_v


@pytest.mark.parametrize("family", sorted(LIMITS))
def test_a_step_of_supply_never_makes_a_level_jump(family: str) -> None:
    """Between the points levels move with the supply, never by more than it does."""
    logic = FAMILIES[family].levels
    volts, step = logic.supply_min_v, 0.01
    while volts + step <= logic.supply_max_v:
        a, b = at_supply(logic, volts), at_supply(logic, volts + step)
        assert -1e-9 <= b.vih_v - a.vih_v <= step
        assert -1e-9 <= b.vil_v - a.vil_v <= step
        volts += step


def test_input_currents_of_bipolar_families() -> None:
    """A low TTL input gives out 1.6, 0.4 and 0.1 mA: the driver has to sink it."""
    assert [FAMILIES[f].levels.low_a for f in ("74", "74ls", "74als")] == [0.0016, 0.0004, 0.0001]
    assert FAMILIES["cd4000b"].levels.points[1].low[-1][0] < FAMILIES["74ls"].levels.low_a


# What practice says of each path: noise margins in V, a 3.3 V module pin being 2.62 / 0.5 / 2.0 / 0.8

PIN_HIGH, PIN_LOW = 2.62, 0.5


def test_3v3_pins_drive_ttl_inputs_at_5_v() -> None:
    for family in ("74hct", "74ls", "74ahct"):
        point = levels(family, 5.0)
        assert PIN_HIGH - point.vih_v == pytest.approx(0.62)
        assert point.vil_v - PIN_LOW == pytest.approx(0.3)


def test_3v3_pins_do_not_drive_cmos_inputs_at_5_v() -> None:
    for family in ("74hc", "cd4000b", "74ahc"):
        assert PIN_HIGH - levels(family, 5.0).vih_v == pytest.approx(-0.88)


def test_hc_at_3v3_is_as_practice_interpolates_it() -> None:
    point = levels("74hc", 3.3)
    assert (point.vih_v, point.vil_v) == (pytest.approx(2.36, abs=0.005), pytest.approx(0.94, abs=0.005))
    assert point.high[0] == (20e-6, pytest.approx(3.2))
    assert levels("cd4000b", 3.3).vih_v == pytest.approx(2.31)


def test_ls_reaches_an_esp32_by_0v22() -> None:
    """0.75 of 3.3 V is 2.475 V."""
    assert levels("74ls", 5.0).high[-1][1] - 0.75 * 3.3 == pytest.approx(0.225)


def test_what_brings_5_v_down_takes_5_v_at_3v3_and_unpowered() -> None:
    for family in ("74lvc", "74ahc", "74hc4050"):
        logic = FAMILIES[family].levels
        assert logic.most_v(3.3) >= 5.25
        assert logic.idle_max_v >= 5.25
    for family in ("74hc", "cd4000b"):
        logic = FAMILIES[family].levels
        assert logic.most_v(3.3) < 4
        assert logic.idle_max_v < 1
    with pytest.raises(ValueError, match=r"a supply of 3\.3 V is outside 4\.5 V to 5\.5 V"):
        levels("74hct", 3.3)


def test_the_4050_is_an_hc_part_but_for_its_inputs() -> None:
    odd, family = FAMILIES["74hc4050"].levels, FAMILIES["74hc"].levels
    assert odd.points == family.points
    assert isinstance(odd, Logic)
    assert odd.over_supply_v is None
    assert family.over_supply_v == 0.5


@pytest.mark.parametrize("family", sorted(LIMITS))
def test_sources_are_two_and_say_what_they_were_used_for(family: str) -> None:
    sources = FAMILIES[family].sources
    assert sum(s.document != "boardgen house rule" for s in sources) >= 2
    for source in sources:
        assert source.what
        if "not confirmed" in source.what:
            assert source.document == "boardgen house rule"
            assert source.what.endswith("measure before relying on it")
