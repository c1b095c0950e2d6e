"""The plan as plain data for ``bringup/plan.json``, and back."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import asdict, fields
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

MOST = 20_000  # tests, spots or parts of a plan


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
    for row in (
        *circuit.spots,
        *circuit.elements,
        *circuit.leaks,
        *circuit.turns,
        *circuit.near,
        *stages,
        *tests,
    ):
        _check_types(row)
    for test in tests:
        if test.kind not in KINDS:
            raise ValueError(f"test {test.id} is of kind {test.kind!r}")
    known = {spot.name for spot in circuit.spots}
    named = [name for test in tests for name in (test.a, test.b) if name]
    named += [name for element in circuit.elements for name in (element.a, element.b)]
    named += [name for leak in circuit.leaks for name in (leak.a, leak.b)]
    named += [name for turn in circuit.turns for move in turn.moves for name in move]
    for name in named:
        if name not in known:
            raise ValueError(f"{name!r} is no spot of the board")
    if len(tests) > MOST or len(known) > MOST or len(circuit.elements) > MOST:
        raise ValueError(f"more than {MOST} tests, spots or parts")
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


def _check_types(row: object) -> None:
    """Raise TypeError or ValueError where a value of *row* is not of its field's type."""
    for field in fields(row):  # type: ignore[arg-type]
        value, kind = getattr(row, field.name), str(field.type)
        if kind == "str":
            fits = isinstance(value, str)
        elif kind in ("float", "float | None"):
            number = isinstance(value, int | float) and not isinstance(value, bool)
            fits = (value is None and kind != "float") or (number and math.isfinite(value))
        else:  # pairs and lists, made tuples above
            flat = [word for item in value for word in (item if isinstance(item, tuple) else (item,))]
            numbers = "float" in kind
            fits = all(isinstance(word, int | float) if numbers else isinstance(word, str) for word in flat)
        if not fits:
            raise TypeError(f"{type(row).__name__}.{field.name} is {str(value)[:40]!r}, not {kind}")
