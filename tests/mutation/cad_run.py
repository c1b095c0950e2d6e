"""The same faults on the text of the CAD board: written from the mutated model, read again, compared."""

from __future__ import annotations

from contextlib import nullcontext
from dataclasses import dataclass, replace
from random import Random
from unittest.mock import patch

import shapely

from boardgen.board.geometry import pad_shape
from boardgen.errors import Finding
from boardgen.export.bundle import Bundle
from boardgen.export.cad_files import board_files
from boardgen.export.files import OutFile
from boardgen.pipeline.cad_intent import intent_of_bundle
from boardgen.readback.cad_board import Intent, against_design, read_cad_board, tree
from boardgen.rules.check import check_board
from boardgen.units import Point
from tests.mutation.boards import Ground, bare, ground_of
from tests.mutation.judge import Judge
from tests.mutation.kind import UM, Job, Kind, Planted
from tests.mutation.run import TURNS, Tally, hit, words

# What a CAD board says of a fault that the model tells against its netlist: it is held against its design.
TWICE = 3  # faults of a kind whose board is read by kicad-skip too
PADS = ("cad-contact", "cad-pin")
AGAINST_DESIGN: dict[str, tuple[str, ...]] = {
    "swapped-nets": ("cad-net",),
    "net-lost": ("cad-net",),
    "part-lost": ("cad-part",),
    "part-unknown": ("cad-part",),
    "mirrored-connector": PADS,
    "pad-off-its-pattern": PADS,
    "hole-of-another-size": PADS,
    "missing-pad": PADS,
    "wrong-plating": ("cad-net",),  # its number goes with its copper
}
# Told while reading, since no model can be made of it.
UNREAD = {"missing-drill": ("cad-unread",)}
# What the CAD board cannot carry: its keepouts bar parts only where no part of ours reaches into them.
NOT_IN_CAD = frozenset({"part-in-keepout"})


@dataclass(frozen=True)
class CadGround:
    """A clean base of a bundle: whole or bare."""

    bundle: Bundle
    ground: Ground
    intent: Intent


def cad_ground(bundle: Bundle, stripped: bool) -> CadGround:
    ground = ground_of(bundle.stem, bundle)
    ground = bare(ground) if stripped else ground
    assert ground.netlist is not None
    base = replace(bundle, board=ground.board, netlist=ground.netlist)
    return CadGround(base, ground, intent_of_bundle(base))


def cad_bundle(bundle: Bundle, ground: Ground) -> Bundle:
    """The bundle of a mutated board, its netlist made to say what the board says: that is what is written."""
    parts = {part.ref: part for part in ground.board.parts}
    wanted = tuple(
        replace(
            p,
            footprint=parts[p.ref].footprint,
            pins=tuple(replace(pin, net=parts[p.ref].net_of(pin.number)) for pin in p.pins),
        )
        for p in bundle.netlist.parts
        if p.ref in parts
    )
    return replace(bundle, board=ground.board, netlist=replace(bundle.netlist, parts=wanted))


def without_part(bundle: Bundle, ground: Ground) -> Bundle:
    """The bundle without the parts its netlist does not have."""
    assert ground.netlist is not None
    known = {part.ref for part in ground.netlist.parts}
    old = {part.ref for part in bundle.netlist.parts}
    parts = tuple(p for p in bundle.board.parts if p.ref in known or p.ref not in old)
    return replace(bundle, board=replace(bundle.board, parts=parts), netlist=ground.netlist)


def findings_of_cad(
    intent: Intent, files: tuple[OutFile, OutFile], twice: bool = True
) -> tuple[Finding, ...]:
    """All that ``check FILE`` finds in a board beside its settings, with places on the board.

    Without *twice* the text is not read a second time by kicad-skip, half the time of reading.
    """
    board, project = files
    with nullcontext() if twice else patch.object(tree, "_second_reading", lambda *_: None):
        read = read_cad_board(
            board.data,
            board.path,
            intent.fab,
            intent.kinds(),
            project.data,
            intent.name,
            intent.standoffs(),
            intent.fronts(),
            intent.serving(),
        )
    report = check_board(read.board, None, intent.fab)
    found = (*read.findings, *report.findings, *against_design(read, intent).findings)
    if read.origin is None:
        return found
    dx, dy = intent.origin[0] - read.origin.x, intent.origin[1] - read.origin.y
    return tuple(
        f if f.at is None else replace(f, at=Point(f.at.x + round(dx), f.at.y + round(dy))) for f in found
    )


def rules_in_cad(kind: Kind) -> tuple[str, ...]:
    """The rules that may name a fault of *kind* on a CAD board."""
    return AGAINST_DESIGN.get(kind.name) or UNREAD.get(kind.name) or (kind.rule,)


def plant_in_cad(kind: Kind, base: CadGround, seed: str, twice: bool = True) -> Tally | None:
    """Plant one fault in the CAD text, and the same 1 um inside its limit."""
    judge = Judge(base.ground.board, base.ground.fab)
    planted = kind.plant(Job(base.ground, judge, Random(seed), -UM, coarse=True))
    if planted is None:
        return None
    made = cad_bundle(base.bundle, planted.ground)
    files = board_files(made)
    rules = AGAINST_DESIGN.get(kind.name)
    if kind.name == "part-unknown":
        intent = intent_of_bundle(without_part(base.bundle, planted.ground))
    else:
        # A fault of the copper is looked for by the rules alone: the design is as wrong as the board.
        intent = base.intent if rules else intent_of_bundle(made)
    found = findings_of_cad(intent, files, twice)
    rules = rules_in_cad(kind)
    where = planted if kind.rule == rules[0] else spread(base.ground, planted)
    tally = Tally(f"cad-{kind.name}", planted=1, found=int(bool(found)))
    tally.right_rule = int(any(hit(f, rule, where) for f in found for rule in rules))
    if not tally.right_rule:
        tally.wrong.append(f"{base.ground.name} {seed}: {words(found)}")
    if kind.limited:
        legal = kind.plant(Job(base.ground, judge, Random(seed), UM, coarse=True))
        assert legal is not None
        made = cad_bundle(base.bundle, legal.ground)
        intent = base.intent if rules == PADS else intent_of_bundle(made)
        left = findings_of_cad(intent, board_files(made), twice)
        tally.inside, tally.false_alarms = 1, int(bool(left))
        if left:
            tally.wrong.append(f"{base.ground.name} {seed} inside: {words(left)}")
    return tally


def spread(ground: Ground, planted: Planted) -> Planted:
    """The place of the fault and of the parts it is in: what is told of a part stands at the part."""
    places = [planted.where]
    for part in ground.board.parts:
        pads = [pad_shape(part, pad).polygon() for pad in part.footprint.pads]
        if any(pad.dwithin(planted.where, 1e6) for pad in pads):
            places += [*pads, shapely.Point(part.placement.at)]
    return replace(planted, where=shapely.union_all(places).convex_hull)


def many_in_cad(kind: Kind, bases: list[CadGround], wanted: int, seed: int) -> Tally:
    """Plant *wanted* faults of one kind, on one board after the other; the first ones are read twice."""
    total = Tally(f"cad-{kind.name}")
    for turn in range(TURNS):
        for base in bases:
            if total.planted >= wanted:
                return total
            word = f"{seed}/{kind.name}/{base.ground.name}/{turn}"
            one = plant_in_cad(kind, base, word, twice=total.planted < TWICE)
            if one is not None:
                total.add(one)
    return total
