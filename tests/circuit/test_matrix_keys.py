"""Keys of a matrix as the board's side meets them: which way a held one lets current through."""

from __future__ import annotations

import pytest
from pins_bench import bound, contact, gpio, module

from boardgen.circuit.device_side import matrix_keys
from boardgen.circuit.model import PinChoice
from boardgen.circuit.network import Branch
from boardgen.circuit.reading import read_states
from boardgen.circuit.surroundings import Surroundings
from boardgen.design.model import Matrix
from boardgen.electrical.model import PinRequest

LINES = {"R0": "ROW", "C0": "COL_A", "C1": "COL_B", "C2": "COL_C"}


def held(matrix: Matrix) -> dict[str, Branch]:
    """The branch of each key while it is held."""
    found = {}
    for element in matrix_keys(matrix, LINES):
        rest, closed = element.options
        assert rest.branches == ()
        (found[element.name],) = closed.branches
    return found


@pytest.mark.parametrize("drive", ["rows", "columns"])
def test_current_runs_to_each_keys_own_cathode(drive: str) -> None:
    keys = held(
        Matrix(
            "keys", ("R0",), ("C0", "C1", "C2"), drive, "cathode-to-row", diode_keys=("R0/C0", "R0/C1"),
            cathode_to_column=("R0/C1",), diode_vf_v=0.9,
        )
    )  # fmt: skip
    ways = {name: (branch.start, branch.end, branch.way, branch.drop) for name, branch in keys.items()}
    assert ways == {
        "R0/C0": ("COL_A", "ROW", "forward", (0.3, 0.9)),
        "R0/C1": ("ROW", "COL_B", "forward", (0.3, 0.9)),
        "R0/C2": ("ROW", "COL_C", "both", (0.0, 0.0)),
    }


def test_a_key_may_have_the_only_diode() -> None:
    keys = held(Matrix("keys", ("R0",), ("C0", "C1"), cathode_to_row=("R0/C0",)))
    assert {name: branch.way for name, branch in keys.items()} == {"R0/C0": "forward", "R0/C1": "both"}
    assert (keys["R0/C0"].start, keys["R0/C0"].end) == ("COL_A", "ROW")


def pressed(**more: object) -> list[tuple[str, tuple[str, ...]]]:
    """What the row has to read as, with which key held."""
    item = Matrix("keys", ("R0",), ("C0", "C1", "C2"), **more)  # type: ignore[arg-type]
    contacts = [contact(1, "R0", "row"), *(contact(n, f"C{n - 2}", "column") for n in (2, 3, 4))]
    there = bound(module(gpio(5)), {"R0": "GP5"}, contacts, matrices=[item])
    choice = PinChoice(PinRequest("R0", "ROW", reads=True, drives=False, pull="up"), "5", "GP5", True, "")
    elements = Surroundings((), tuple(matrix_keys(item, LINES)))
    return [(wants, state.words) for wants, state in read_states(there, choice, elements)]


def test_a_row_reads_low_through_a_bare_key_and_through_a_diode_but_not_against_one() -> None:
    assert pressed() == [("high", ()), ("low", ("R0/C0 held",))]
    one = pressed(cathode_to_column=("R0/C1",))
    assert one == [("high", ()), ("low", ("R0/C0 held",)), ("low", ("R0/C1 held",))]
    assert pressed(cathode_to_row=("R0/C0",), diodes="cathode-to-column") == [
        ("high", ()), ("low", ("R0/C1 held",)),
    ]  # fmt: skip
    assert pressed(diodes="cathode-to-row") == [("high", ())]
