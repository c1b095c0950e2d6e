import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from boardgen.electrical.eseries import E12, E24, at_least, at_most, farads_text, ohms_text


@pytest.mark.parametrize(
    ("ohms", "series", "below", "above"),
    [
        (1050, E12, 1000, 1200),
        (1000, E12, 1000, 1000),
        (4600, E12, 3900, 4700),
        (4600, E24, 4300, 4700),
        (99.9, E24, 91, 100),
        (8.3, E12, 8.2, 10),
    ],
)
def test_neighbours_in_the_series(ohms, series, below, above):
    assert at_most(ohms, series) == pytest.approx(below)
    assert at_least(ohms, series) == pytest.approx(above)


def test_every_decade_of_e12_has_twelve_steps_in_order():
    assert len(E12) == 12
    assert len(E24) == 24
    assert list(E24) == sorted(E24)
    assert set(E12) <= set(E24)


@settings(deadline=None)
@given(st.floats(1.0, 9e6))
def test_neighbours_enclose_and_stand_close(ohms):
    low, high = at_most(ohms, E24), at_least(ohms, E24)
    assert low <= ohms * (1 + 1e-8)
    assert high >= ohms * (1 - 1e-8)
    assert high / low <= 1.16  # no step of E24 is wider (1.3 to 1.5 is 15.4 %)


@pytest.mark.parametrize("ohms", [0.0, -3.0, float("nan"), float("inf")])
def test_no_value_where_there_is_none(ohms):
    with pytest.raises(ValueError, match=r"resistance must be finite|no preferred value"):
        at_most(ohms)


@pytest.mark.parametrize(
    ("ohms", "text"), [(220, "220"), (4700, "4.7k"), (10_000, "10k"), (1e6, "1M"), (8.2, "8.2")]
)
def test_resistances_as_written(ohms, text):
    assert ohms_text(ohms) == text


@pytest.mark.parametrize(("farads", "text"), [(1e-7, "100n"), (4.7e-6, "4.7u"), (22e-12, "22p")])
def test_capacitances_as_written(farads, text):
    assert farads_text(farads) == text
