"""Matrices whose diodes point both ways: what is found, what mends them, and a circuit simulator's word."""

import random
from dataclasses import replace
from shutil import which

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from matrix_oracle import Simulated, matrix
from test_matrix_spice import SWITCHING_DIODE, levels, simulate
from test_matrix_study import messages, study

from boardgen.electrical.matrix.groups import judge_group
from boardgen.electrical.matrix.level import low_level
from boardgen.electrical.matrix.mending import group_diodes, mending
from boardgen.electrical.matrix.reading import readings
from boardgen.electrical.matrix.wiring import unread_keys, wiring_of
from boardgen.electrical.matrix.words import mending_words
from boardgen.errors import Severity

TURNED = ("R0C1", "R1C0")


def test_keys_that_the_scan_cannot_read_are_named_with_what_mends_it():
    item = matrix(3, 3, diodes="cathode-to-column", cathode_to_row=TURNED, together=(("R0C0", "R0C1"),))
    found = study(item)
    assert (found.unread, found.fitting_drive, found.diodes) == (TURNED, "", "both-ways")
    assert messages(found, "matrix-diodes") == [
        (
            Severity.ERROR,
            "matrix keys: 2 keys with a diode (R0C1 and R1C0) cannot be read: the cathodes are on the rows, "
            "but the columns are pulled low, so no current flows. The diodes point both ways, so that no "
            'drive reads every key: drive = "columns" misses R0C1 and R1C0, "rows" misses R0C0, R0C2, R1C1, '
            'R1C2, R2C0, R2C1 and 1 more. With drive = "columns", turn the diodes of R0C1 and R1C0 round.',
        )
    ]
    assert found.rollover.guaranteed == 0
    assert found.groups[0].unread == ("R0C1",)
    assert mending_words(found) == (
        "turn the diodes of R0C1 and R1C0 round; what follows takes that as done",
    )


def test_the_drive_that_misses_fewer_is_named():
    item = matrix(2, 2, diodes="cathode-to-column", cathode_to_row=TURNED, drive="columns")
    ((_, tie),) = messages(study(item), "matrix-diodes")
    assert tie.endswith('With drive = "columns", turn the diodes of R0C1 and R1C0 round.')
    other = replace(item, cathode_to_row=("R0C0", *TURNED))
    text = (
        'misses R0C0, R0C1 and R1C0, "rows" misses R1C1. With drive = "rows", turn the diode of R1C1 round.'
    )
    ((_, message),) = messages(study(other), "matrix-diodes")
    assert message.endswith(text)
    assert mending_words(study(other)) == ()


def test_keys_all_of_one_direction_are_no_mixture_however_they_are_written():
    plain = study(matrix(2, 3, diodes="cathode-to-row"))
    names = tuple(name for _, _, name in matrix(2, 3).keys)
    for item in (
        matrix(2, 3, cathode_to_row=names),
        replace(matrix(2, 3, cathode_to_row=names), diodes="cathode-to-column"),
    ):
        assert study(item) == plain


@settings(deadline=None, max_examples=60)
@given(st.integers(0, 10**6), st.sampled_from([0.6, 1.0]), st.sampled_from([0.4, 0.8]), st.data())
def test_what_is_offered_mends_the_groups_once_diodes_are_turned(seed, share, diode_share, data):
    item = matrix(4, 4, share=share, diodes="both-ways", diode_share=diode_share, seed=seed)
    names = [name for _, _, name in item.keys]
    if len(names) < 4:
        return
    group = tuple(data.draw(st.lists(st.sampled_from(names), unique=True, min_size=3, max_size=5)))
    wiring = wiring_of(item)
    plan = mending(wiring, (judge_group(wiring, group),))
    ways = item.key_diodes()
    against = [key for key, way in ways.items() if way == "cathode-to-row"]
    if 2 * len(against) > len(ways):  # the other drive comes first
        assert plan == type(plan)()
        return
    assert set(plan.turned) == set(against)
    turned = replace(item, diodes="none", diode_keys=None, cathode_to_row=(), cathode_to_column=tuple(ways))
    mended = replace(turned, cathode_to_column=(*ways, *plan.diodes))
    parts = [frozenset(k for n, k in enumerate(group) if bits >> n & 1) for bits in range(1, 1 << len(group))]
    assert all(Simulated(mended).shows(held) == held for held in parts)
    assert (plan.diodes == ()) == all(Simulated(turned).shows(held) == held for held in parts)


def test_single_diodes_are_not_sought_before_the_turned_ones_are():
    wiring = wiring_of(matrix(2, 2, cathode_to_row=("R0C0",)))
    assert unread_keys(wiring) == (0,)
    with pytest.raises(ValueError, match="points against the scan"):
        group_diodes(wiring, ((0, 1, 2),))


@pytest.mark.skipif(which("ngspice") is None, reason="no circuit simulator here")
@pytest.mark.parametrize("seed", range(4))
def test_a_simulated_matrix_reads_as_told(tmp_path, seed):
    """Every row's level with one column low after the other, through diodes of either direction."""
    rng = random.Random(seed)
    item = matrix(3, 3, diodes="both-ways", diode_share=0.6, seed=seed)
    simulated, figures = Simulated(item), levels()
    wiring = wiring_of(item)
    held = rng.sample(sorted(simulated.keys), 5)
    shown = {(one.read, one.driven): one.diodes for one in readings(wiring, [wiring.place(k) for k in held])}
    netlist, measures = SWITCHING_DIODE + "Vdd vdd 0 3.3\n", []
    for column, strobe in enumerate(item.columns):
        for line in item.rows:
            netlist += f"Rup_{line}_{strobe} vdd {line}_{strobe} 50k\n"
            measures.append(f"tran {line}_{strobe} find v({line}_{strobe}) at=1u".lower())
        netlist += f"Vlow{column} {strobe}_{strobe} 0 {figures.vol_v}\n"
        netlist += "".join(f"Rfree_{c}_{strobe} {c}_{strobe} 0 1g\n" for c in item.columns if c != strobe)
        for key in held:
            ends = [f"{end}_{strobe}" for end in simulated.keys[key]]
            way = simulated.wires[key]
            if len(way) == 2:
                netlist += f"Rkey_{key}_{strobe} {ends[0]} {ends[1]} 100\n"
            else:
                start, end = (f"{line}_{strobe}" for line in way[0])
                netlist += f"Rkey_{key}_{strobe} {start} {key}_{strobe} 100\n"
                netlist += f"D_{key}_{strobe} {key}_{strobe} {end} dsw\n"
    found = simulate(tmp_path, netlist, ".tran 1u 2u", *measures)
    for row, line in enumerate(item.rows):
        for column, strobe in enumerate(item.columns):
            volts, diodes = found[f"{line}_{strobe}".lower()], shown.get((row, column))
            if diodes is None:
                assert volts > figures.vih_v
            else:
                # lines joined by bare keys add their pull-ups' currents, three times that of one at most
                most = low_level(replace(figures, pull_least=figures.pull_least / 3), diodes).low_v
                assert 0.6 * low_level(figures, diodes).low_v < volts <= most + 0.05 * diodes
