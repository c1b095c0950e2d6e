"""Plant, check, judge: one fault at a time."""

from __future__ import annotations

from dataclasses import dataclass, field
from random import Random

import shapely

from boardgen.errors import Finding
from boardgen.export.bundle import Bundle
from boardgen.rules.check import check_board
from tests.mutation.boards import Ground, bare
from tests.mutation.judge import Judge
from tests.mutation.kind import UM, Job, Kind, Planted
from tests.mutation.text_kinds import Text, TextKind, examined, files_of

NEAR = 1e6  # nm: how far a finding may stand from the fault
TURNS = 12  # how often a board may take the same kind of fault


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
    for turn in range(TURNS):
        for ground in grounds:
            if total.planted >= wanted:
                return total
            one = plant_and_check(kind, ground, f"{seed}/{kind.name}/{ground.name}/{turn}")
            if one is not None:
                total.add(one)
    return total


@dataclass(frozen=True)
class Written:
    """A board with its files as they were written."""

    bundle: Bundle
    files: dict[str, str]


def written(bundle: Bundle) -> Written:
    return Written(bundle, files_of(bundle))


def plant_in_text(kind: TextKind, on: Written, seed: str) -> Tally | None:
    """Plant one fault in the files, and the same where it must pass."""
    files = dict(on.files)
    where = kind.plant(Text(files, on.bundle, Random(seed), -1))
    if where is False:
        return None
    found = examined(files, on.bundle).findings
    tally = Tally(kind.name, planted=1, found=int(bool(found)))
    tally.right_rule = int(any(text_hit(f, kind.rule, where) for f in found))
    if not tally.right_rule:
        tally.wrong.append(f"{on.bundle.stem} {seed}: {words(found)}")
    if kind.limited:
        files = dict(on.files)
        kind.plant(Text(files, on.bundle, Random(seed), 1))
        left = examined(files, on.bundle).findings
        tally.inside, tally.false_alarms = 1, int(bool(left))
        if left:
            tally.wrong.append(f"{on.bundle.stem} {seed} inside: {words(left)}")
    return tally


def text_hit(finding: Finding, rule: str, where: object) -> bool:
    if finding.rule != rule:
        return False
    if finding.at is None or where is None:
        return True
    return float(shapely.distance(where, shapely.Point(finding.at))) <= NEAR


def many_in_text(kind: TextKind, boards: list[Written], wanted: int, seed: int) -> Tally:
    """Plant *wanted* faults of one kind in files, on one board after the other."""
    total = Tally(kind.name)
    for turn in range(TURNS):
        for board in boards:
            if total.planted >= wanted:
                return total
            one = plant_in_text(kind, board, f"{seed}/{kind.name}/{board.bundle.stem}/{turn}")
            if one is not None:
                total.add(one)
    return total
