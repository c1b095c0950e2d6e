"""What a power tree says that is wrong: back-powering, budgets, heat, dropout, inrush."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from boardgen.catalog.power import Regulator
from boardgen.design.model import BoundDesign, ContactKind
from boardgen.electrical.incoming import Incoming
from boardgen.electrical.power.model import PowerTree
from boardgen.electrical.rails import logic_rail
from boardgen.errors import Finding, Severity

USB_LIMIT_A = 0.5  # USB 2.0, section 7.2.1.3: five unit loads of a configured device
# USB 2.0, section 7.2.4.1: a device's bypass capacitors and what shows through its regulator, beside 44 ohm
INRUSH_MOST_UF = 10.0
WARM_C = 25.0  # a regulator this near to its limit is warned about
LOGIC_LEAST = 0.95  # share of the logic supply below which data sheets stop promising levels


def power_findings(
    bound: BoundDesign, tree: PowerTree, regulators: Sequence[Regulator], incoming: Sequence[Incoming]
) -> tuple[Finding, ...]:
    """Return what is wrong with *tree*, most dangerous first."""
    return (
        *_back_power(bound, tree),
        *_tied(bound, incoming),
        *_usb(bound, tree),
        *_regulators(tree, regulators),
        *_dropout(bound, tree),
        *_inrush(tree),
    )


def _back_power(bound: BoundDesign, tree: PowerTree) -> Iterator[Finding]:
    for path in tree.back_paths:
        if not path.blocked_by:
            way = ", ".join(path.steps)
            yield Finding(
                "back-power",
                Severity.ERROR,
                f"{path.source} drives current into {path.target} through {way}: nothing there blocks it. "
                f"Feed another rail of {bound.module.name}, or leave the device's supply apart "
                '(source = "device")',
                items=(path.source, path.target),
            )


def _tied(bound: BoundDesign, incoming: Sequence[Incoming]) -> Iterator[Finding]:
    """Yield rails that both the board and the device's own supply feed, outside the tree."""
    design = bound.design
    given = {
        c.rail.casefold(): c for c in design.contacts if c.kind is ContactKind.SUPPLY and c.source == "board"
    }
    own = {logic.rail.casefold(): logic for logic in design.logic if logic.own_supply and logic.rail}
    for rail in sorted(given.keys() & own.keys()):
        contact, logic = given[rail], own[rail]
        yield Finding(
            "back-power",
            Severity.ERROR,
            f"the board feeds {contact.rail} at contact {contact.number}, and the device's {logic.name} has "
            f"a supply of its own on it: two sources would be tied together. Make the contact "
            'source = "device", or take own_supply out',
            items=(contact.signal, logic.name),
        )
    fed = {item.rail.casefold() for item in incoming}
    for rail in sorted(given.keys() & fed):
        contact = given[rail]
        yield Finding(
            "back-power",
            Severity.ERROR,
            f"contact {contact.number} gives {contact.rail} to the device, and another contact takes it from "
            "the device: the current would run in a circle",
            items=(contact.signal,),
        )


def _usb(bound: BoundDesign, tree: PowerTree) -> Iterator[Finding]:
    if tree.usb_a is not None and tree.usb_a > USB_LIMIT_A + 1e-9:
        parts = ", ".join(f"{load.name} {load.amps * 1000:.0f} mA" for load in tree.loads if load.amps > 0)
        yield Finding(
            "usb-budget",
            Severity.ERROR,
            f"{tree.usb_a * 1000:.0f} mA would be taken from USB, a host gives {USB_LIMIT_A * 1000:.0f} mA: "
            f"{(tree.usb_a - USB_LIMIT_A) * 1000:.0f} mA too much ({parts})",
            items=(bound.module.name,),
        )
    elif tree.usb_a is not None and tree.radio_a and tree.usb_a + tree.radio_a > USB_LIMIT_A:
        peak = (tree.usb_a + tree.radio_a) * 1000
        yield Finding(
            "usb-budget",
            Severity.NOTE,
            f"with its radio on, {bound.module.name} would take {peak:.0f} mA from USB in bursts, a host "
            f"gives {USB_LIMIT_A * 1000:.0f} mA: leave the radio off while it runs from USB",
            items=(bound.module.name,),
        )


def _regulators(tree: PowerTree, regulators: Sequence[Regulator]) -> Iterator[Finding]:
    amps = {node.name: node.amps for node in tree.nodes}
    for regulator, heat in zip(regulators, tree.heats, strict=True):
        load = amps.get(regulator.output_rail, 0.0)
        if regulator.max_a is not None and load > regulator.max_a + 1e-9:
            yield Finding(
                "regulator-load",
                Severity.ERROR,
                f"{heat.part} gives {regulator.max_a:.2f} A, {regulator.output_rail} takes {load:.2f} A with "
                "the module's own draw",
                items=(heat.part,),
            )
        if heat.junction_c is None or heat.junction_c <= heat.most_c - WARM_C:
            continue
        over = heat.junction_c > heat.most_c
        yield Finding(
            "regulator-heat",
            Severity.ERROR if over else Severity.WARNING,
            f"{heat.part} turns {heat.watts:.2f} W into heat and reaches {heat.junction_c:.0f} C in a closed "
            f"case at 40 C; {heat.most_c:.0f} C are allowed",
            items=(heat.part,),
        )


def _dropout(bound: BoundDesign, tree: PowerTree) -> Iterator[Finding]:
    logic = logic_rail(bound.module)
    fed = {node.name for node in tree.nodes}
    regulated = {s.end for s in tree.steps if s.holds is not None and s.ratio == 1.0 and s.start in fed}
    for node in tree.nodes:
        if node.name not in regulated:  # straight from the bus: the chip is made for what the bus gives
            continue
        if logic is None or node.name != logic.name or node.least_v >= LOGIC_LEAST * logic.volts:
            continue
        # at the steady load and the worst cable; common modules of this kind are sold so, hence a note
        yield Finding(
            "dropout",
            Severity.NOTE,
            f"{node.name} may fall to {node.least_v:.2f} V where the USB host gives no more than 4.40 V: "
            "use a short cable and no unpowered hub",
            items=(node.name,),
        )


def _inrush(tree: PowerTree) -> Iterator[Finding]:
    """Yield what is over the limit itself, without allowance: the specification gives none.

    Values are nominal. A note, since hosts in use take several times as much.
    """
    if tree.inrush_uf is not None and tree.inrush_uf > INRUSH_MOST_UF + 1e-6:
        yield Finding(
            "inrush",
            Severity.NOTE,
            f"{tree.inrush_uf:.1f} uF are charged at once when USB is plugged in, {INRUSH_MOST_UF:.0f} uF "
            "are allowed: a host may switch the port off; plug the device in after the host's start",
            items=("USB",),
        )
