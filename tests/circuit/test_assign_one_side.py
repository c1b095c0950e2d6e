"""Pin choice for boards with one copper side: nothing passes under a track or between close pads."""

from dataclasses import replace
from types import SimpleNamespace

import assign_inputs as made
import numpy as np
import pytest

from boardgen.circuit.assign import assign_pins
from boardgen.circuit.assign_one_side import blocked, unfolded
from boardgen.units import mm

MM = 1_000_000.0


def test_a_pad_in_the_way_is_counted_and_its_own_is_not():
    starts = np.array([[0.0, 20.0]]) * MM
    ends = np.array([[0.0, 0.0], [0.0, 10.0], [2.54, 10.0]]) * MM
    radii = np.full(3, 0.85 * MM)
    counts = blocked(starts, ends, radii, 0.8 * MM)
    assert counts.tolist() == [[1.0, 0.0, 0.0]]
    wide = blocked(starts, ends, radii, 1.8 * MM)
    assert wide[0, 0] == 2.0


def test_a_line_that_passes_just_clear_is_free():
    starts = np.array([[0.0, 20.0]]) * MM
    ends = np.array([[0.0, 0.0], [1.66, 10.0]]) * MM
    radii = np.full(2, 0.85 * MM)
    assert blocked(starts, ends, radii, 0.8 * MM)[0, 0] == 0.0
    assert blocked(starts, ends, radii, 0.82 * MM)[0, 0] == 1.0


def two_rows():
    near = [[2.54 * k, 0.0] for k in range(5)]
    far = [[2.54 * k, 2.54] for k in range(5)]
    return np.array(near + far) * MM


def test_the_row_behind_unfolds_about_the_ends_of_the_near_row():
    contacts = two_rows()
    ends = np.array([[5.0, -20.0]]) * MM
    seen = unfolded(contacts, contacts, ends, 1.6 * MM, 0.85 * MM) / MM
    assert seen[:5] == pytest.approx(contacts[:5] / MM)
    assert np.all(seen[5:, 1] == pytest.approx(0.0))
    # The end contacts come out nearest, in the order in which their tracks nest.
    assert seen[5:8, 0] == pytest.approx([-2.54, -5.08, -7.62])
    assert seen[8:, 0] == pytest.approx([15.24, 12.7])


def test_contacts_with_room_between_them_stay_where_they_are():
    contacts = two_rows()
    ends = np.array([[5.0, -20.0]]) * MM
    assert unfolded(contacts, contacts, ends, 0.65 * MM, 0.85 * MM) is contacts


def test_one_side_sends_the_far_contacts_outward():
    pins = [made.gpio(k + 1, f"GP{k}") for k in range(16)]
    requests = [made.request(f"S{i}", str(i + 1)) for i in range(8)]
    contacts = [(i + 1, 2.54 * (i % 4), 2.54 * (i // 4)) for i in range(8)]
    row = [(k + 1, 2.54 * (k - 6), 0.0) for k in range(16)]
    both = made.bound_of(made.module_of(pins))
    one = replace(both, fab=SimpleNamespace(copper_layers=1, track=mm("0.6"), gap=mm("0.5")))
    plan, floor, prints = made.plan_of(requests), made.floor_of(), made.prints(row, contacts)
    for bound in (both, one):
        pinmap = assign_pins(bound, plan, floor, prints)
        places = {c.request.signal: row[int(c.pin_number) - 1][1] for c in pinmap.choices}
        near = [places[f"S{i}"] for i in range(4)]
        far = [places[f"S{i}"] for i in range(4, 8)]
        outside = all(x < min(near) or x > max(near) for x in far)
        assert outside is (bound is one)
        assert pinmap.bound_nm <= pinmap.length_nm + 1
    # Nested: the end contacts of the far row take the inner of the outer pins.
    assert places["S5"] < places["S4"] < min(near)
    assert places["S6"] > places["S7"] > max(near)
