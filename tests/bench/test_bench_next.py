"""What was not measured is asked for; what was taken for granted is said."""
# ruff: noqa: E501 - messages are held whole

from __future__ import annotations

import random

import pytest
from bench_device import Device, Notebook, notes
from bench_sheets import (
    CATALOG,
    DIODES,
    HEAD,
    IDLE,
    KEYS,
    MATRIX,
    WIRES,
    lines_of,
    messages,
    of_rule,
    table,
    tell,
)
from hypothesis import given
from hypothesis import strategies as st

from boardgen.bench.tomltext import device_toml
from boardgen.errors import Severity


def test_missing_polarity_is_asked_for() -> None:
    found = tell(table(KEYS, *DIODES[:-1]))
    assert found.matrices[0].diodes == "cathode-to-column"
    assert messages(found, "measure-next")[:1] == [
        "measure with the leads exchanged, whether there are diodes: 'K38' (+ on 8, - on 3)"
    ]


def test_diodes_that_point_both_ways_are_written_and_asked_for_again() -> None:
    turned = {"K27": ("K27, 7, 2, 0.6 V", "K27, 2, 7, open"), "K38": ("K38, 8, 3, 0.6 V", "K38, 3, 8, open")}
    readings = [line for line in DIODES if line.split(",")[0] not in turned]
    bare = [f"K16, {plus}, {minus}, 2.0" for plus, minus in ((1, 6), (6, 1))]
    found = tell(table(KEYS, *readings[2:], *bare, *turned["K27"], *turned["K38"]))
    assert not found.contradictions
    [matrix] = found.matrices
    assert (matrix.drive, matrix.diodes) == ("columns", "cathode-to-column")
    assert matrix.cathode_to_row == ("K27", "K38")
    assert matrix.cathode_to_column == ()
    assert matrix.diode_keys == ("K17", "K18", "K26", "K27", "K28", "K36", "K37", "K38")
    [said] = of_rule(found, "diodes-both-ways")
    assert said.severity is Severity.WARNING
    assert said.message == (
        "diodes point both ways: 6 keys cathode to column, but 'K27', 'K38' cathode to row; one drive does not read both"
    )
    assert lines_of(said) == [19, 21, 5]
    assert messages(found, "measure-next")[0] == (
        "measure 'K27', 'K38' again in both polarities: were the leads exchanged?"
    )
    assert (
        'diodes = "cathode-to-column"\nkeys = [\n  ["K16", "K17", "K18"],\n  ["K26", "K27", "K28"],\n'
        '  ["K36", "K37", "K38"],\n]\ndiode_keys = ["K17", "K18", "K26", "K27", "K28", "K36", "K37", "K38"]\n'
        'cathode_to_row = ["K27", "K38"]\ndiode_vf_v = 0.6\n'
    ) in device_toml(found)


def test_two_keys_of_one_crossing_point_as_the_most_do() -> None:
    found = tell(table(KEYS, *DIODES, "TWIN, 7, 2, 0.6 V", "TWIN, 2, 7, open"))
    assert [clash.message for clash in found.contradictions] == [
        "keys 'K27' and 'TWIN' close the same contacts 2 and 7, each one way: their diodes tell them apart, but not in one matrix with one drive"
    ]
    [matrix] = found.matrices
    assert (matrix.diodes, matrix.cathode_to_row, matrix.diode_keys) == ("cathode-to-column", (), None)
    assert "K27 / TWIN" in matrix.key_diodes()


def test_low_ohms_one_way_need_no_second_polarity() -> None:
    found = tell(table(KEYS, *MATRIX))
    assert found.matrices[0].diodes == "none"
    assert messages(found, "measure-next") == ["nobody touched contacts 4, 5, 9: is there a wire?"]


def test_high_ohms_one_way_do() -> None:
    readings = [line.replace("2.0", "700") for line in MATRIX]
    asked = messages(tell(table(KEYS, *readings)), "measure-next")
    assert asked[0].startswith(
        "measure with the leads exchanged, whether there are diodes: 'K16' (+ on 6, - on 1)"
    )


def test_a_tester_that_only_beeps() -> None:
    both = [f"K{r}{c}, {x}, {y}, beep" for r in (1, 2) for c in (6, 7) for x, y in ((r, c), (c, r))]
    found = tell(table(IDLE, "4, 9, closed"), table(KEYS, *both))
    assert found.matrices[0].diodes == "none"
    assert not [m for m in messages(found, "measure-next") if "exchanged" in m]
    half = [line if n % 2 == 0 else line.replace("beep", "open") for n, line in enumerate(both)]
    assert tell(table(KEYS, *half)).matrices[0].diodes == "cathode-to-column"
    asked = messages(tell(table(KEYS, *both[::2])), "measure-next")
    assert asked[0].startswith(
        "measure with the leads exchanged, whether there are diodes: 'K16' (+ on 6, - on 1)"
    )


def test_big_lamps_and_joined_contacts() -> None:
    found = tell(table(IDLE, "4, 9, 1.6"))
    assert (
        "1.6 ohm between contacts 4 and 9 is taken as joined: zero the meter's leads and measure again, "
        "a big lamp or a coil reads like that when cold"
    ) in messages(found, "measure-next")


def test_dead_key_names_the_crossings_that_are_free() -> None:
    found = tell(table(KEYS, *MATRIX[:4], *MATRIX[5:], "K27, 1, 7, open", "K27, 7, 1, open"))
    assert messages(found, "measure-next")[0] == (
        "key 'K27' closes nothing that was tested: try the crossings without a key, both polarities: 2-7"
    )


def test_dead_key_with_one_polarity() -> None:
    found = tell(table(KEYS, *MATRIX[:8], "K38, 3, 8, open"))
    assert messages(found, "measure-next")[0] == (
        "key 'K38' closes nothing that was tested: exchange the leads (+8 -3)"
    )


def test_empty_crossings_are_asked_for() -> None:
    found = tell(table(KEYS, *MATRIX[:4], *MATRIX[5:]))
    assert messages(found, "measure-next")[0] == (
        "1 crossing has no key (2-7): is there a key that was not measured?"
    )


def test_wires_that_say_nothing() -> None:
    found = tell(table(WIRES, "4, pink", "5, -", "9, blue"), table(KEYS, *MATRIX))
    assert messages(found, "measure-next") == [
        "nothing was found on the wires at 4 (pink), 9 (blue): test each against the others, with each key held"
    ]
    notes = {c.number: (c.kind, c.sure, c.note) for c in found.contacts if c.kind == "unused"}
    assert notes == {
        "4": ("unused", "guessed", "wire not measured"),
        "5": ("unused", "measured", "no wire"),
        "9": ("unused", "guessed", "wire not measured"),
    }


def test_lone_worn_contact_and_series_resistor() -> None:
    worn = tell(table(KEYS, *MATRIX[:8], "K38, 3, 8, 1500"))
    assert messages(worn, "worn-contact") == [
        "key 'K38' reads 1.5 kohm, more than 1 kohm: a worn contact, or a resistor in series"
    ]
    assert (
        "press 'K38' harder, ten times, and measure 3-8: a worn contact wanders, a series resistor stays"
        in messages(worn, "measure-next")
    )
    assert (worn.matrices[0].key_kind, worn.matrices[0].contact_ohms) == ("worn", 1500.0)
    line = tell(table(KEYS, *MATRIX[:6], "K36, 3, 6, 2k2", "K37, 3, 7, 2.21k", "K38, 3, 8, 2200"))
    assert messages(line, "worn-contact") == []
    assert messages(line, "series-resistor") == [
        "all 3 keys on ROW3 (contact 3) read about 2.203 kohm: a series resistor in that line rather than worn contacts"
    ]


def test_a_leak_is_no_closed_key() -> None:
    found = tell(table(KEYS, *MATRIX, "K16, 2, 7, 400k"))
    assert [f.severity for f in of_rule(found, "leak")] == [Severity.WARNING]
    assert len(found.matrices[0].keys) == 9
    assert not found.contradictions


def test_key_with_two_contacts_is_kept_at_both_crossings() -> None:
    found = tell(table(KEYS, *MATRIX[:8], "K16, 3, 8, 2.0"))
    assert [key for _, _, key in found.matrices[0].keys].count("K16") == 1
    assert "K16 (2)" in [key for _, _, key in found.matrices[0].keys]
    assert messages(found, "several-contacts") == [
        "key 'K16' closes 1-6 and 3-8: it has more than one contact, or another key was held"
    ]


def test_missing_pairs_of_a_pot() -> None:
    found = tell(table(IDLE, "1, 2, 4000", "2, 3, 6000"))
    assert "measure at rest 1-3: only all pairs together tell what hangs where" in messages(
        found, "measure-next"
    )
    assert (
        "turn the control and measure 1-2 at rest again (column at): a wiper's reading moves; without that contact 2 is a guess"
        in messages(found, "measure-next")
    )
    assert {c.number: str(c.kind) for c in found.contacts if c.kind != "unused"} == {
        "1": "supply",
        "2": "analog",
        "3": "ground",
    }
    assert {c.sure for c in found.contacts} == {"guessed"}


def test_lamp_current_is_asked_for() -> None:
    found = tell(table(WIRES, "5, red, 5V"), table(IDLE, "1, 5, 8.0"))
    [lamp] = [c for c in found.contacts if c.kind == "lamp"]
    assert (lamp.number, lamp.rail, lamp.current_a, lamp.sure) == ("1", "5V", 0.062, "guessed")
    assert (
        "feed the lamp at 1 from a supply with a current limit and read its current; taken: 62 mA (5V over 10 times the cold 8 ohm)"
        in messages(found, "measure-next")
    )


def test_lamp_to_ground_is_named() -> None:
    found = tell(table(WIRES, "5, black, GND"), table(IDLE, "1, 5, 8.0"))
    assert messages(found, "high-side-load")[0].startswith(
        "the lamp between 1 and 5 has its other end at ground"
    )


def test_star_is_switches_and_said() -> None:
    found = tell(table(KEYS, "UP, 1, 9, 2", "DOWN, 9, 2, 2", "FIRE, 3, 9, 2"))
    assert {c.number: (str(c.kind), c.signal) for c in found.contacts if c.kind != "unused"} == {
        "1": ("switch", "UP"),
        "2": ("switch", "DOWN"),
        "3": ("switch", "FIRE"),
        "9": ("ground", ""),
    }
    assert messages(found, "taken") == [
        "3 keys all meet contact 9: taken as switches to a common return, not as a matrix of 1 x 3; "
        "the board ties contact 9 to ground"
    ]


def test_single_key_needs_its_return() -> None:
    found = tell(table(KEYS, "FIRE, 3, 4, 2"))
    assert "find which of contacts 3 and 4 leads to the device's ground or case" in messages(
        found, "measure-next"
    )
    black = tell(table(WIRES, "3, black", "4, red"), table(KEYS, "FIRE, 3, 4, 2"))
    assert [c.number for c in black.contacts if c.kind == "ground"] == ["3"]


def test_normally_closed_key() -> None:
    found = tell(table(IDLE, "3, 9, 0.4"), table(KEYS, "STOP, 3, 9, open", "GO, 4, 9, 2"))
    by_number = {c.number: c for c in found.contacts}
    assert not found.contradictions
    assert (by_number["3"].kind, by_number["3"].note) == ("switch", "opens when pressed")
    assert by_number["9"].kind == "ground"


def test_switch_to_ground_through_a_diode() -> None:
    wires = table(WIRES, "9, black, GND")
    good = tell(wires, table(KEYS, "A, 1, 9, 0.6 V", "A, 9, 1, open"))
    assert [(c.kind, c.note) for c in good.contacts if c.number == "1"] == [("switch", "through a diode")]
    assert not good.contradictions
    wrong = tell(wires, table(KEYS, "A, 9, 1, 0.6 V", "A, 1, 9, open"))
    assert [c.message for c in wrong.contradictions] == [
        "key 'A' closes to ground through a diode: it conducts from ground only, so a pull-up sees nothing"
    ]


def test_two_matrices() -> None:
    keys = [f"A{r}{c}, {r}, {c}, 2" for r in (1, 2) for c in (14, 15)]
    keys += [f"B{r}{c}, {r}, {c}, 2" for r in (3, 4, 5) for c in (16, 17)]
    found = tell(table(KEYS, *keys), connector="dsub-25-socket-right-angle")
    assert messages(found, "measure-next")[0] == (
        "the keys fall into 2 groups that no key joins (contacts 1, 2, 14, 15 / 3, 4, 5, 16, 17): if it is one "
        "matrix, keys are missing; measure the others"
    )
    assert [(m.name, m.rows, m.columns) for m in found.matrices] == [
        ("keys", ("ROW1", "ROW2"), ("COL1", "COL2")),
        ("keys2", ("ROW3", "ROW4", "ROW5"), ("COL3", "COL4")),
    ]


def test_stated_rows_hold() -> None:
    found = tell(table(KEYS, *MATRIX), head=HEAD + "rows, 6, 7, 8\n")
    assert [c.number for c in found.contacts if c.kind == "row"] == ["6", "7", "8"]


def test_diode_on_the_return_side_is_a_matrix() -> None:
    keys = [line for n in (1, 2, 3) for line in (f"K{n}, {n}, 9, 0.6 V", f"K{n}, 9, {n}, open")]
    found = tell(table(KEYS, *keys))
    [matrix] = found.matrices
    assert (matrix.rows, matrix.columns, matrix.diodes) == (
        ("ROW1", "ROW2", "ROW3"),
        ("COL1",),
        "cathode-to-column",
    )


@given(st.sets(st.integers(0, 8), min_size=1, max_size=5), st.randoms(use_true_random=False))
def test_whatever_is_missing_is_asked_for(lost: set[int], rnd: random.Random) -> None:
    """Take keys out of a full matrix: each empty crossing between lines still known is asked for."""
    left = [line for n, line in enumerate(MATRIX) if n not in lost]
    rnd.shuffle(left)
    found = tell(table(KEYS, *left))
    asked = " ".join(messages(found, "measure-next"))
    lines = {c.number for c in found.contacts if c.kind in ("row", "column")}
    pairs = {(m, r, c) for m in found.matrices for r in m.rows for c in m.columns}
    empty = pairs - {(m, r, c) for m in found.matrices for r, c, _ in m.keys}
    number = {c.signal: c.number for c in found.contacts}
    assert all(f"{number[r]}-{number[c]}" in asked for _, r, c in empty)
    untouched = set("12345678") - {end for line in left for end in line.split(", ")[1:3]} - {"4", "5"}
    assert all(contact in asked for contact in untouched)
    assert lines.isdisjoint(untouched)


@pytest.mark.parametrize("turn", [True, False])
def test_pots_side_by_side(turn: bool) -> None:
    """Two pots on one rail read 5 kohm from end to end; each is found to be 10 kohm."""
    device = Device(CATALOG.connector("din-8-262-socket-right-angle"))
    device.pots = [("2", "1", "SH", 10000.0), ("3", "1", "SH", 10000.0)]
    device.signals = {"SH": "GND"}
    device.wires = {"SH": "screen"}
    text = notes(device, Notebook("mating-face", "plug", "printed"), random.Random(1), turn)
    found = tell(text, connector=device.connector.id, head="")
    by_number = {c.number: c for c in found.contacts}
    assert [by_number[n].kind for n in ("1", "2", "3", "SH")] == ["supply", "analog", "analog", "ground"]
    assert [round((by_number[n].ohms or 0) / 1000) for n in ("2", "3")] == [10, 10]
    assert {by_number[n].sure for n in ("2", "3")} == {"measured" if turn else "guessed"}
