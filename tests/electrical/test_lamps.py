import pytest
from electrical_bench import MOSFET, NPN_LARGE, NPN_SMALL, RESISTOR
from hypothesis import given, settings
from hypothesis import strategies as st

from boardgen.electrical.lamps import PIN_DRIVE_A, choose_driver, size_mosfet, size_npn


def test_base_resistor_by_hand_60_ma_from_3v3():
    # gain 160 / 3 capped at 50: 60 mA / 50 = 1.2 mA; (2.64 - 0.70) V / 1.2 mA = 1617 ohm -> E12 1500.
    driver = size_npn(NPN_LARGE, RESISTOR, 0.060, 5.0, 3.3)
    assert driver.base_ohms == 1500
    assert driver.drive_a == pytest.approx(2.6 / 1500)  # (3.3 - 0.7) / 1500 = 1.73 mA
    assert driver.loss_w == pytest.approx(0.060 * 0.7 + 0.00173 * 0.7, rel=1e-3)
    assert driver.faults == ()


def test_the_gain_at_the_load_counts_not_the_headline_gain():
    # 2N3904: 100 at 10 mA but 30 at 100 mA: 30 / 3 = 10, 100 mA / 10 = 10 mA, more than a pin gives.
    driver = size_npn(NPN_SMALL, RESISTOR, 0.100, 5.0, 3.3)
    assert driver.base_ohms == 180  # (2.64 - 0.65) / 10 mA = 199 ohm -> 180
    assert any("base of transistor-2n3904 takes 14.7 mA" in fault for fault in driver.faults)


def test_mosfet_by_hand_60_ma_from_5v_logic():
    driver = size_mosfet(MOSFET, 0.060, 5.0, 5.0)
    assert driver.drop_v == pytest.approx(0.318)  # 60 mA x 5.3 ohm
    assert driver.loss_w == pytest.approx(0.01908)
    assert driver.faults == ()


def test_mosfet_is_not_trusted_at_3v3():
    assert size_mosfet(MOSFET, 0.02, 5.0, 3.3).faults == (
        "mosfet-2n7000 needs 4.5 V at its gate, the pin gives 3.3 V",
    )


def test_choice_by_logic_and_load():
    def chosen(load, logic):
        return choose_driver((MOSFET,), (NPN_SMALL, NPN_LARGE), RESISTOR, load, 5.0, logic).switch.id

    assert chosen(0.060, 5.0) == "mosfet-2n7000"
    assert chosen(0.010, 3.3) == "transistor-2n3904"
    assert chosen(0.100, 3.3) == "transistor-bc337"
    assert chosen(0.150, 5.0) == "transistor-bc337"  # the MOSFET would drop 0.80 V


def test_a_rail_above_the_rating_is_a_fault():
    assert any("blocks 40 V" in fault for fault in size_npn(NPN_SMALL, RESISTOR, 0.01, 48.0, 3.3).faults)


@settings(deadline=None)
@given(st.floats(0.001, 0.8), st.sampled_from([3.3, 5.0]))
def test_a_faultless_driver_keeps_every_limit(load, logic):
    driver = choose_driver((MOSFET,), (NPN_SMALL, NPN_LARGE), RESISTOR, load, 5.0, logic)
    if driver.faults:
        return
    figures = dict(driver.switch.figures)
    assert driver.loss_w <= figures["max_w"]
    assert load <= figures.get("ic_max_a", figures.get("id_max_a"))
    assert driver.drive_a <= PIN_DRIVE_A
    if driver.base_ohms:
        # saturation: at the loaded output the base still gets load / 50, less 10 % of rounding room
        assert (logic * 0.8 - figures["vbe_v"]) / driver.base_ohms >= load / 50 * 0.999
