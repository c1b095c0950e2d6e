"""Random but sensible designs over the whole catalogue, as design files."""

from __future__ import annotations

import random
import tempfile
from dataclasses import dataclass, replace
from pathlib import Path

from boardgen.catalog.load import Catalog
from boardgen.circuit.assign import usable_pins
from boardgen.design.bind import bind
from boardgen.design.load import load_design
from boardgen.design.model import BoundDesign, Design, FixedPin, OutlineKind, OutlineWish
from boardgen.design.needs import rails_given
from boardgen.electrical.plan import plan_signals
from boardgen.units import mm

FABS = ("economy-2l", "economy-2l", "economy-2l", "fine-2l", "home-etch-1l")
FIXED = (0.0, 0.0, 0.1, 0.2, 0.3)
FAMILIES = {
    3.3: ("74hc", "74lvc", "cd4000b"),
    5.0: ("74hc", "74hct", "74ls", "cd4000b"),
}  # by the rail's volts


@dataclass(frozen=True)
class Drawn:
    """One drawn design before it is bound."""

    name: str
    text: str
    fixed_share: float
    slack_mm: float | None
    seed: int


def _contacts(draw: random.Random, numbers: list[str], rails: dict[str, float], pins: int) -> list[str]:
    """Tables of contacts: ground, perhaps a rail, then a mix of signals on most of the rest."""
    spare = numbers[:]
    draw.shuffle(spare)
    tables = {spare.pop(): 'kind = "ground"'}
    volts = draw.choice(sorted(rails)) if rails and len(spare) > 3 and draw.random() < 0.6 else ""
    if volts:
        tables[spare.pop()] = (
            f'kind = "supply"\nrail = "{volts}"\ncurrent_a = {draw.choice([0.01, 0.02, 0.03])}'
        )
    most = min(len(spare), pins)
    count = max(1, round(most * draw.uniform(0.5, 1.0)))
    style = draw.choice(["switches", "matrix", "mixed"])
    rows = max(1, count // 2)
    families = FAMILIES.get(rails.get(volts, 0.0), ())
    lamps = 0
    for i in range(count):
        number = spare.pop()
        if style == "matrix" and count >= 4:
            kind = "row" if i < rows else "column"
            tables[number] = f'kind = "{kind}"\nsignal = "{"R" if kind == "row" else "C"}{i}"'
            continue
        pick = draw.random() if style == "mixed" else 0.0
        if pick < 0.6:
            tables[number] = f'kind = "switch"\nsignal = "S{i}"'
        elif pick < 0.65:
            tables[number] = f'kind = "analog"\nsignal = "A{i}"\nohms = 10000'
        elif pick < 0.85 and families:
            way = draw.choice(["in", "out"])
            tables[number] = f'kind = "digital"\nsignal = "D{i}"\ndirection = "{way}"'
        elif volts and lamps < 3:
            lamps += 1
            tables[number] = f'kind = "lamp"\nsignal = "L{i}"\nrail = "{volts}"\ncurrent_a = 0.03'
        else:
            tables[number] = f'kind = "switch"\nsignal = "S{i}"'
    for number in spare:
        tables[number] = 'kind = "unused"'
    listed = [f'[[contacts]]\nnumber = "{n}"\n{tables[n]}\n' for n in numbers if n in tables]
    if any('"digital"' in text for text in listed):
        listed.append(f'[[logic]]\nfamily = "{draw.choice(families)}"\nrail = "{volts}"\n')
    return listed


def draw_design(catalog: Catalog, seed: int) -> Drawn:
    """Draw a design; the same seed gives the same text."""
    draw = random.Random(seed)
    modules, connectors = list(catalog.modules.values()), list(catalog.connectors.values())
    module, connector = draw.choice(modules), draw.choice(connectors)
    while len(connector.contacts) < 3:
        connector = draw.choice(connectors)
    fab = draw.choice(FABS)
    drills = catalog.fab(fab).drills
    prints = [catalog.footprint(item.footprint) for item in (module, connector)]
    pads = [pad for f in prints for pad in f.pads]
    if drills:
        # a class without such a drill, with a contact on the side it lacks, or with a third
        # row no track of its width can leave, makes no sense here
        rows = {int(pad.at.y) for pad in prints[1].pads if pad.number not in connector.shell and pad.number}
        odd = any(pad.hole and {pad.hole.w, pad.hole.h} - set(drills) for pad in pads)
        if odd or any(pad.hole is None for pad in pads) or (connector.family == "dsub-hd" and len(rows) > 2):
            fab = FABS[0]
    pins = sum(1 for pin in module.pins if pin.kind == "gpio" and not pin.strap and not pin.shared)
    shell = set(connector.shell)
    numbers = [n for n in connector.numbers() if n not in shell]
    tables = _contacts(draw, numbers, rails_given(module), max(1, pins - 1))
    slack = draw.choice([None, None, 0.0, 3.0, 8.0])
    head = [
        f'name = "corpus-{seed}"',
        f'module = "{module.id}"',
        f'connector = "{connector.id}"',
        f'fab = "{fab}"',
    ]
    tail = [
        "[board]",
        f"socketed = {str(draw.random() < 0.8).lower()}",
        f"ground_pour = {str(draw.random() < 0.9).lower()}",
    ]
    if draw.random() < 0.4:
        tail = ["[holes]", "diameter_mm = 3.2", *tail]
    name = f"{module.id} {connector.id} {fab}"
    return Drawn(name, "\n".join([*head, "", *tables, *tail, ""]), draw.choice(FIXED), slack, seed)


def bind_drawn(drawn: Drawn, catalog: Catalog) -> BoundDesign:
    """Read the drawn text as a design file, tie some signals to pins, and bind it.

    Raises InputError(s) where the draw makes no sense to the tool.
    """
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / "design.toml"
        path.write_text(drawn.text, encoding="utf-8")
        design = load_design(path)
    bound = bind(design, catalog)
    if drawn.fixed_share:
        bound = bind(_with_fixed(drawn, bound, catalog), catalog)
    return bound


def _with_fixed(drawn: Drawn, bound: BoundDesign, catalog: Catalog) -> Design:
    draw = random.Random(drawn.seed + 1)
    plan = plan_signals(bound, catalog)
    taken: set[str] = set()
    fixed: list[FixedPin] = []
    for request in plan.requests:
        if draw.random() >= drawn.fixed_share:
            continue
        pins = [p.number for p in usable_pins(bound.module, request, ()) if p.number not in taken]
        if pins:
            pin = draw.choice(pins)
            taken.add(pin)
            fixed.append(FixedPin(request.signal, f"#{pin}"))
    return replace(bound.design, fixed=tuple(fixed))


def with_slack(bound: BoundDesign, slack_mm: float | None, width: int, height: int) -> BoundDesign:
    """Ask for a rectangle *slack_mm* larger than the derived one (nm); None leaves it derived."""
    if slack_mm is None:
        return bound
    wish = OutlineWish(OutlineKind.SIZE, mm(slack_mm) + width, mm(slack_mm) + height)
    return replace(bound, design=replace(bound.design, outline=wish))
