"""The small parts we ship: pin orders typed by hand, ratings held against physics and each other."""

from __future__ import annotations

import math
import tomllib
from pathlib import Path
from typing import Any

import pytest

import boardgen.catalog
from boardgen.catalog.model import Component
from boardgen.catalog.schema import PartForm
from boardgen.electrical.eseries import farads_of
from boardgen.footprint import families

FOLDER = Path(boardgen.catalog.__file__).parent / "data" / "parts"
RAW: dict[str, dict[str, Any]] = {
    path.stem: tomllib.loads(path.read_text(encoding="utf-8")) for path in sorted(FOLDER.glob("*.toml"))
}
IDS = sorted(RAW)

PINS = {  # pads in order, as the kind's users expect them
    "resistor": {"a", "b"},
    "capacitor": {"a", "b"},
    "diode": {"cathode", "anode"},
    "led": {"cathode", "anode"},
    "transistor": {"base", "collector", "emitter"},
    "mosfet": {"gate", "drain", "source"},
    "fuse": {"a", "b"},
    "link": {"a", "b"},
}

ORDER = {  # pads 1, 2, 3; TO-92 seen from the flat, leads down, left to right
    "transistor-2n3904": "emitter base collector",
    "transistor-bc337": "collector base emitter",
    "transistor-mmbt3904": "base emitter collector",
    "mosfet-2n7000": "source gate drain",
    "mosfet-bss138": "gate source drain",
}

# Pads in order from 1, typed from the makers' pin tables; "-" is not connected
LINES_245 = "dir a1 a2 a3 a4 a5 a6 a7 a8 ground b8 b7 b6 b5 b4 b3 b2 b1 enable supply"
LINES_125 = "oe1 a1 y1 oe2 a2 y2 ground y3 a3 oe3 y4 a4 oe4 supply"
CHIPS = {  # pins, logic family, order number
    "buffer-74lvc245-dip": (LINES_245, "74lvc", "SN74LVC245AN"),
    "buffer-74lvc245-soic": (LINES_245, "74lvc", "SN74LVC245ADW"),
    "buffer-74ahct125-dip": (LINES_125, "74ahct", "SN74AHCT125N"),
    "buffer-74ahct125-soic": (LINES_125, "74ahct", "SN74AHCT125D"),
    "buffer-74hct245-dip": (LINES_245, "74hct", "SN74HCT245N"),
    "buffer-74hc4050-dip": (
        "supply y1 a1 y2 a2 y3 a3 ground a4 y4 a5 y5 - a6 y6 -",
        "74hc4050",
        "CD74HC4050E",
    ),
}

WANTED = {
    "resistor-axial-quarter",
    "resistor-0805",
    "resistor-1206",
    "capacitor-disc-5",
    "capacitor-0805",
    "capacitor-electrolytic-5",
    "capacitor-electrolytic-5-4u7",
    "diode-1n4148",
    "diode-1n5819",
    "diode-1n4007",
    "led-3mm",
    "led-5mm",
    "led-0805",
    "led-1206",
    "fuse-ptc-500ma",
    "fuse-ptc-250ma",
    "fuse-ptc-100ma",
    "fuse-ptc-750ma",
    "fuse-ptc-1100ma",
    "wire-link-10",
    *ORDER,
    *CHIPS,
}


def part(entry_id: str) -> Component:
    return PartForm.model_validate(RAW[entry_id]).frozen(f"{entry_id}.toml")


def test_the_parts_are_the_ones_described_here() -> None:
    assert set(IDS) == WANTED


@pytest.mark.parametrize("entry_id", IDS)
def test_entry_is_whole(entry_id: str) -> None:
    entry = part(entry_id)
    assert entry.id == entry_id
    assert entry.sources
    assert all(source.what for source in entry.sources)
    assert entry.height > 0
    assert RAW[entry_id]["family"]["name"]
    assert entry.kind == "link" or (entry.manufacturer and entry.mpn)


@pytest.mark.parametrize("entry_id", IDS)
def test_pins(entry_id: str) -> None:
    entry = part(entry_id)
    if entry.kind == "ic":
        order = CHIPS[entry_id][0].split()
        assert dict(entry.pins) == {n: str(i) for i, n in enumerate(order, 1) if n != "-"}
        return
    names = {name for name, _ in entry.pins}
    wanted = {"positive", "negative"} if "electrolytic" in entry_id else PINS[entry.kind]
    assert names == wanted
    assert sorted(pad for _, pad in entry.pins) == [str(n) for n in range(1, len(names) + 1)]


@pytest.mark.parametrize("entry_id", sorted(ORDER))
def test_three_legged_parts_keep_the_makers_order(entry_id: str) -> None:
    entry = part(entry_id)
    assert [entry.pad(name) for name in ORDER[entry_id].split()] == ["1", "2", "3"]


@pytest.mark.parametrize("entry_id", [i for i in IDS if i.startswith(("diode", "led"))])
def test_cathode_is_pad_one(entry_id: str) -> None:
    entry = part(entry_id)
    assert (entry.pad("cathode"), entry.pad("anode")) == ("1", "2")


@pytest.mark.parametrize("entry_id", [i for i in IDS if "lead_mm" in RAW[i]["figures"]])
def test_leads_enter_the_holes_even_when_drilled_small(entry_id: str) -> None:
    """Finished hole >= lead (its diagonal where square) + 0.08 mm fab tolerance."""
    family = RAW[entry_id]["family"]
    lead = RAW[entry_id]["figures"]["lead_mm"] * (math.sqrt(2) if family["name"] == "led-round" else 1)
    assert family.get("hole_mm", 0.8) >= lead + 0.08


@pytest.mark.parametrize("entry_id", [i for i in IDS if RAW[i]["family"]["name"] == "axial"])
def test_axial_pitch_leaves_room_to_bend(entry_id: str) -> None:
    """Bend at least 1 mm, and at least 1.5 lead diameters, outside the body."""
    family, lead = RAW[entry_id]["family"], RAW[entry_id]["figures"]["lead_mm"]
    straight = (family["pitch_mm"] - family["body_mm"][0]) / 2
    assert straight >= max(1.0, 1.5 * lead)


@pytest.mark.parametrize("entry_id", [i for i in IDS if i.startswith("fuse")])
def test_fuses_trip_above_what_they_hold(entry_id: str) -> None:
    entry = part(entry_id)
    assert entry.figure("trip_a") == pytest.approx(2 * entry.figure("hold_a"))
    assert 0 < entry.figure("min_ohms") < entry.figure("max_ohms")
    assert entry.figure("hold_a") * entry.figure("max_ohms") < 0.8
    assert entry.figure("max_volts") >= 6


def test_the_smaller_fuse_has_the_larger_resistance() -> None:
    fuses = sorted((part(i) for i in IDS if i.startswith("fuse")), key=lambda f: f.figure("hold_a"))
    for name in ("min_ohms", "max_ohms"):
        ohms = [fuse.figure(name) for fuse in fuses]
        assert ohms == sorted(ohms, reverse=True)


@pytest.mark.parametrize("entry_id", [i for i in IDS if i.startswith(("transistor", "mosfet"))])
def test_case_rating_agrees_with_its_thermal_resistance(entry_id: str) -> None:
    """P = (Tj,max - 25 C) / Rth(j-a); makers give 150 C and round by a tenth at most."""
    entry = part(entry_id)
    watts = (150 - 25) / entry.figure("rth_ja_k_per_w")
    assert entry.figure("max_w") == pytest.approx(watts, rel=0.1)


def test_forward_voltages() -> None:
    silicon, schottky = part("diode-1n4148"), part("diode-1n5819")
    assert schottky.figure("vf_light_v") < silicon.figure("vf_light_v") < silicon.figure("vf_v")
    for entry_id in IDS:
        if entry_id.startswith("led"):
            led = part(entry_id)
            assert 1.6 <= led.figure("vf_v") <= led.figure("vf_max_v") <= 2.6
            assert led.figure("if_wanted_a") < led.figure("if_max_a")


def test_flyback_diode_takes_a_coil_s_current_and_voltage() -> None:
    """A relay of 12 V and 0.2 A leaves room of four and more on both."""
    diode = part("diode-1n4007")
    assert diode.figure("if_max_a") >= 4 * 0.2
    assert diode.figure("vr_max_v") >= 4 * 12
    assert part("diode-1n4148").figure("vf_v") <= diode.figure("vf_v") <= 1.1


def test_level_shifter_transistor_turns_on_from_3v3() -> None:
    assert part("mosfet-bss138").figure("vgs_th_max_v") + 1.0 < 3.3
    assert part("mosfet-2n7000").figure("vgs_th_max_v") + 1.0 > 3.3


def test_link_is_far_from_fusing() -> None:
    """Preece: a copper wire of d mm fuses at 80 d^1.5 A."""
    entry = part("wire-link-10")
    assert entry.figure("max_a") < 80 * entry.figure("wire_mm") ** 1.5 / 10


def test_bulk_capacitor_keeps_the_usb_limit() -> None:
    large, small = part("capacitor-electrolytic-5"), part("capacitor-electrolytic-5-4u7")
    assert large.figure("farads") <= 10e-6
    assert small.figure("farads") + 0.1e-6 + 4.7e-6 <= 10e-6  # with a chip's own, and as much in a module
    for entry in (large, small):
        assert entry.figure("max_volts") >= 10
        assert farads_of(entry.value) == pytest.approx(entry.figure("farads"))


def test_both_bulk_capacitors_are_one_case_of_one_series() -> None:
    """Panasonic's table: 50 V, 4.7 and 10 uF: 5.0 by 11.0, lead 0.5, 2.5 apart with the letter i."""
    large, small = part("capacitor-electrolytic-5"), part("capacitor-electrolytic-5-4u7")
    assert (large.mpn, small.mpn) == ("ECA1HM100I", "ECA1HM4R7I")
    assert RAW[large.id]["family"] == RAW[small.id]["family"]
    assert RAW[small.id]["family"]["diameter_mm"] == 5.0
    assert (large.figure("lead_mm"), small.figure("lead_mm")) == (0.5, 0.5)


@pytest.mark.parametrize("entry_id", IDS)
def test_the_drawn_footprint_has_the_pads(entry_id: str) -> None:
    pads = families.build(RAW[entry_id]["family"], entry_id).footprint.pads
    open_pads = {"13", "16"} if "4050" in entry_id else set()
    assert sorted({p.number for p in pads} - open_pads) == sorted(pad for _, pad in part(entry_id).pins)


def test_one_footprint_name_means_one_drawing() -> None:
    tables: dict[str, dict[str, Any]] = {}
    for entry_id in IDS:
        raw = RAW[entry_id]
        assert tables.setdefault(raw["footprint"], raw["family"]) == raw["family"]


def test_resettable_fuses_match_the_makers_table() -> None:
    """Rows of the maker's table as printed by a distributor.

    Hold, trip, least ohm new, most ohm after a trip, seconds, at A, W tripped, V.
    """
    rows = {
        "fuse-ptc-100ma": (0.1, 0.2, 2.5, 7.5, 4.0, 0.5, 0.38, 60),
        "fuse-ptc-250ma": (0.25, 0.5, 1.0, 3.0, 2.5, 1.25, 0.45, 60),
        "fuse-ptc-500ma": (0.5, 1.0, 0.41, 1.17, 4.0, 2.5, 0.75, 60),
        "fuse-ptc-750ma": (0.75, 1.5, 0.18, 0.6, 6.3, 3.75, 0.9, 60),
        "fuse-ptc-1100ma": (1.1, 2.2, 0.1, 0.27, 6.6, 5.5, 0.7, 30),
    }
    assert sorted(rows) == [i for i in IDS if i.startswith("fuse")]
    names = (
        "hold_a",
        "trip_a",
        "min_ohms",
        "max_ohms",
        "trip_s",
        "trip_s_at_a",
        "tripped_w",
        "max_volts",
    )
    for entry_id, row in rows.items():
        assert tuple(part(entry_id).figure(name) for name in names) == row


def test_capacitors_are_ordered_with_the_lead_spacing_of_their_footprint() -> None:
    """KEMET: C320 has its leads 2.54 mm apart, C322 5.08; Panasonic: suffix I is formed to 2.5."""
    disc, bulk = part("capacitor-disc-5"), part("capacitor-electrolytic-5")
    assert (disc.mpn[:4], RAW[disc.id]["family"]["pitch_mm"]) == ("C322", 5.08)
    assert (bulk.mpn[-1], RAW[bulk.id]["family"]["pitch_mm"]) == ("I", 2.5)


def test_diode_bodies_cover_other_makers_outlines() -> None:
    """Largest seen in other makers' drawings: DO-35 4.2 by 2.0, DO-41 5.2 by 2.7 (length, diameter)."""
    outlines = (("diode-1n4148", 4.2, 2.0), ("diode-1n5819", 5.2, 2.7), ("diode-1n4007", 5.2, 2.7))
    for entry_id, length, diameter in outlines:
        body = RAW[entry_id]["family"]["body_mm"]
        assert body[0] >= length
        assert body[1] >= diameter
        assert RAW[entry_id]["height_mm"] >= diameter


@pytest.mark.parametrize("entry_id", sorted(CHIPS))
def test_chips_carry_every_line_one_way(entry_id: str) -> None:
    entry = part(entry_id)
    order, family, mpn = CHIPS[entry_id]
    lines = {"245": 8, "125": 4, "4050": 6}[entry.value.removesuffix("A").lstrip("74").lstrip("ACHLTV")]
    out = "b" if "245" in entry.value else "y"
    assert [(g.input, g.output) for g in entry.gates] == [(f"a{n}", f"{out}{n}") for n in range(1, lines + 1)]
    assert (entry.logic, entry.mpn) == (family, mpn)
    pads = families.build(RAW[entry_id]["family"], entry_id).footprint.pads
    assert len(pads) == len(order.split())
    tied = {name for gate in entry.gates for name, _ in gate.ties} | {name for name, _ in entry.ties}
    carried = {name for gate in entry.gates for name in (gate.input, gate.output)}
    assert tied | carried | {"supply", "ground"} == {name for name, _ in entry.pins}
    assert entry.figure("io_max_a") <= entry.figure("supply_max_a")


def test_245_sends_from_a_to_b_and_125_is_enabled_low() -> None:
    """Function tables: direction high is A to B, enables work when low."""
    for entry_id in CHIPS:
        entry = part(entry_id)
        if "245" in entry_id:
            assert dict(entry.ties) == {"dir": "supply", "enable": "ground"}
        elif "125" in entry_id:
            assert [g.ties for g in entry.gates] == [((f"oe{n}", "ground"),) for n in range(1, 5)]
        else:
            assert not entry.ties


@pytest.mark.parametrize("entry_id", IDS)
def test_no_source_promises_a_reading_that_was_not_made(entry_id: str) -> None:
    """A figure nobody could look up is marked so, in a house rule, not under a document's name."""
    for source in part(entry_id).sources:
        assert "to be confirmed" not in source.what
        if "not confirmed" in source.what:
            assert source.document == "boardgen house rule"
            assert source.what.endswith("measure before relying on it")
