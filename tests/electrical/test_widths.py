import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from boardgen.electrical.widths import ipc2221_width
from boardgen.units import mm


@pytest.mark.parametrize(("amps", "width"), [(0.5, 0.12), (1.0, 0.30), (0.88, 0.25)])
def test_published_figures_at_ten_kelvin_on_35_um(amps, width):
    assert ipc2221_width(amps).mm == pytest.approx(width, abs=0.005)


def test_no_current_needs_no_width():
    assert ipc2221_width(0.0) == 0


@settings(deadline=None)
@given(st.floats(0.01, 5.0), st.floats(0.01, 5.0))
def test_more_current_needs_more_width(a, b):
    low, high = sorted((a, b))
    assert ipc2221_width(low) <= ipc2221_width(high)


def test_half_the_copper_needs_twice_the_width():
    assert abs(ipc2221_width(1.0, copper_um=17.5) - ipc2221_width(1.0) * 2) <= mm("0.000001") * 2


def test_a_negative_current_is_refused():
    with pytest.raises(ValueError, match="must not be negative"):
        ipc2221_width(-0.1)
