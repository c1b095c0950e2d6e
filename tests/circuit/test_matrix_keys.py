"""Keys of a matrix as the board's side meets them: which way a held one lets current through."""

from __future__ import annotations

import pytest

from boardgen.circuit.device_side import matrix_keys
from boardgen.circuit.network import Branch
from boardgen.design.model import Matrix

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
