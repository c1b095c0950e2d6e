"""Every rule id that the code can put into a finding is listed, and every one listed can be found."""

from __future__ import annotations

import ast
from pathlib import Path

import boardgen
from boardgen.ruleids import RULES

SOURCE = Path(boardgen.__file__).parent
MAKERS = {"Finding", "Outcome", "fault", "_about", "_level", "_finding"}


def strings_of(path: Path) -> set[str]:
    """Return every string constant in the module at *path*."""
    tree = ast.parse(path.read_text("utf-8"))
    return {n.value for n in ast.walk(tree) if isinstance(n, ast.Constant) and isinstance(n.value, str)}


def made_in(path: Path) -> set[str]:
    """Return the rule ids that calls in the module at *path* give to a maker of findings."""
    found = set()
    for node in ast.walk(ast.parse(path.read_text("utf-8"))):
        if not isinstance(node, ast.Call):
            continue
        name = node.func.attr if isinstance(node.func, ast.Attribute) else getattr(node.func, "id", "")
        given = [*node.args[:1], *(k.value for k in node.keywords if k.arg == "rule")]
        if name in MAKERS:
            found |= {a.value for a in given if isinstance(a, ast.Constant) and isinstance(a.value, str)}
    return found


def test_every_rule_a_finding_names_is_listed() -> None:
    strange = {
        f"{path.relative_to(SOURCE).as_posix()}: {rule}"
        for path in sorted(SOURCE.rglob("*.py"))
        for rule in made_in(path)
        if rule not in RULES and rule.replace("-", "").isalpha() and rule.islower()
    }
    assert strange == set()


def test_every_listed_rule_is_used_somewhere() -> None:
    used: set[str] = set()
    for path in sorted(SOURCE.rglob("*.py")):
        if path.name != "ruleids.py":
            used |= strings_of(path)
    assert set(RULES) - used == set()
