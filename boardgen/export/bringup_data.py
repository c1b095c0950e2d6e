"""The plan as plain data for ``bringup/plan.json``, and back."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import asdict
from typing import Any

from boardgen.export.bringup_model import (
    FORM,
    KINDS,
    Circuit,
    Close,
    Element,
    Leak,
    Plan,
    Spot,
    Stage,
    Test,
    Turn,
)


def plan_data(plan: Plan, tool: str) -> dict[str, object]:
    """Return *plan* as plain data; "form" says which form of it this is."""
    return {"form": FORM, "tool": tool, **asdict(plan)}


def plan_from(data: Mapping[str, Any]) -> Plan:
    """Return the plan that *data* holds; raises KeyError, TypeError or ValueError where it holds none."""
    if data["form"] != FORM:
        raise ValueError(f"plan of form {data['form']!r}, this tool reads form {FORM}")
    raw = data["circuit"]
    circuit = Circuit(
        tuple(Spot(**row) for row in raw["spots"]),
        tuple(Element(**row) for row in raw["elements"]),
        tuple(Leak(**row) for row in raw["leaks"]),
        tuple(Turn(**{**row, "moves": tuple((a, b) for a, b in row["moves"])}) for row in raw["turns"]),
        tuple(
            Close(**{**row, "at_mm": (row["at_mm"][0], row["at_mm"][1]), "items": tuple(row["items"])})
            for row in raw["near"]
        ),
    )
    stages = tuple(Stage(**{**row, "steps": tuple(row["steps"])}) for row in data["stages"])
    tests = tuple(Test(**row) for row in data["tests"])
    for test in tests:
        if test.kind not in KINDS:
            raise ValueError(f"test {test.id} is of kind {test.kind!r}")
    known = {spot.name for spot in circuit.spots}
    for name in [name for test in tests for name in (test.a, test.b) if name]:
        if name not in known:
            raise ValueError(f"a test names {name!r}, which is no spot of the board")
    return Plan(
        str(data["design"]),
        str(data["revision"]),
        str(data["pin_map"]),
        str(data["title"]),
        stages,
        tests,
        circuit,
        tuple(data["cautions"]),
    )
