"""Plant, check, judge: one fault at a time."""

from __future__ import annotations

from dataclasses import dataclass, field
from random import Random

import shapely

from boardgen.errors import Finding
from boardgen.rules.check import check_board
from tests.mutation.boards import Ground, bare
from tests.mutation.judge import Judge
from tests.mutation.kind import UM, Job, Kind, Planted

NEAR = 1e6  # nm: how far a finding may stand from the fault


@dataclass
class Tally:
    """What came of one kind."""

    kind: str
    planted: int = 0
    found: int = 0
    right_rule: int = 0
    inside: int = 0
    false_alarms: int = 0
    wrong: list[str] = field(default_factory=list)

    def add(self, other: Tally) -> None:
        self.planted += other.planted
        self.found += other.found
        self.right_rule += other.right_rule
        self.inside += other.inside
        self.false_alarms += other.false_alarms
        self.wrong += other.wrong


def words(findings: tuple[Finding, ...]) -> str:
    return "; ".join(f"{f.rule}: {f.message}" for f in findings[:4]) or "nothing"


def findings_of(ground: Ground) -> tuple[Finding, ...]:
    return check_board(ground.board, ground.netlist, ground.fab).findings


def hit(finding: Finding, rule: str, planted: Planted) -> bool:
    """Whether *finding* names the rule, at the place where it has one."""
    if finding.rule != rule:
        return False
    return finding.at is None or planted.where.distance(shapely.Point(finding.at)) <= NEAR


def plant_and_check(kind: Kind, ground: Ground, seed: str) -> Tally | None:
    """Plant one fault, and the same 1 um inside its limit; None where there is no room for it."""
    base = bare(ground) if kind.bare else ground
    judge = Judge(base.board, base.fab)
    planted = kind.plant(Job(base, judge, Random(seed), -UM))
    if planted is None:
        return None
    found = findings_of(planted.ground)
    tally = Tally(kind.name, planted=1, found=bool(found))
    tally.right_rule = int(any(hit(f, kind.rule, planted) for f in found))
    if not tally.right_rule:
        tally.wrong.append(f"{ground.name} {seed}: {words(found)}")
    if kind.limited:
        legal = kind.plant(Job(base, judge, Random(seed), UM))
        if legal is not None:
            left = findings_of(legal.ground)
            tally.inside = 1
            tally.false_alarms = int(bool(left))
            if left:
                tally.wrong.append(f"{ground.name} {seed} inside: {words(left)}")
        else:
            tally.wrong.append(f"{ground.name} {seed}: not planted inside the limit")
            tally.false_alarms = 1
    return tally


def many(kind: Kind, grounds: list[Ground], wanted: int, seed: int) -> Tally:
    """Plant *wanted* faults of one kind, on one board after the other."""
    total = Tally(kind.name)
    for turn in range(4):
        for ground in grounds:
            if total.planted >= wanted:
                return total
            one = plant_and_check(kind, ground, f"{seed}/{kind.name}/{ground.name}/{turn}")
            if one is not None:
                total.add(one)
    return total
