from dataclasses import replace

import pytest
from circuit_bench import RESISTOR

from boardgen.circuit.partnumber import capacitor_code, order_number, resistor_code


@pytest.mark.parametrize(
    ("value", "code"), [("220", "220R"), ("4.7k", "4K7"), ("10k", "10K"), ("1M", "1M"), ("2.2", "2R2")]
)
def test_resistor_codes(value, code):
    assert resistor_code(value) == code


@pytest.mark.parametrize(
    ("value", "code"), [("100n", "104"), ("4.7u", "475"), ("22p", "220"), ("10u", "106")]
)
def test_capacitor_codes(value, code):
    assert capacitor_code(value) == code


@pytest.mark.parametrize("value", ["1p", "0.5p", "100", "123.4n", ""])
def test_no_capacitor_code(value):
    with pytest.raises(ValueError, match=r"capacitance|three-digit"):
        capacitor_code(value)


def test_the_code_replaces_the_star_only_where_there_is_one():
    assert order_number(RESISTOR, "10k") == "RES-10K"
    assert order_number(replace(RESISTOR, mpn="FIXED"), "10k") == "FIXED"
    assert order_number(RESISTOR, "??") == "RES-*"
    assert order_number(replace(RESISTOR, kind="led"), "red") == "RES-*"
