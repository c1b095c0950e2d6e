"""Bring-up of one board revision: stages in order, each with what to do, what to read and what stops."""

from __future__ import annotations

from boardgen.export.bringup_circuit import circuit_of
from boardgen.export.bringup_model import LOOK, Plan, Stage, Test
from boardgen.export.bringup_power import (
    BARE,
    DEVICE,
    MODULE,
    bare_tests,
    feeds,
    powered_tests,
    usb_limit,
    usb_without_device,
)
from boardgen.export.bringup_tests import INSIDE, OPEN, RAILS, SIGNALS, unpowered_tests
from boardgen.export.bundle import Bundle
from boardgen.export.cautions import cautions
from boardgen.export.identity_data import board_code

EYES = "look"
_POLAR = ("diode", "led", "transistor", "mosfet", "ic")


def plan_of(bundle: Bundle) -> Plan:
    """Return the whole plan; the same board gives the same plan."""
    circuit = circuit_of(bundle)
    looks = _looks(bundle)
    tests = (
        *looks,
        *unpowered_tests(bundle, circuit),
        *bare_tests(bundle, circuit),
        *powered_tests(bundle, circuit, MODULE),
        *_code(bundle),
        *powered_tests(bundle, circuit, DEVICE),
    )
    fed = feeds(bundle, circuit)
    stages = [_eyes(), _rails(bundle)]
    if fed and any(test.stage == BARE for test in tests):
        stages.append(
            Stage(
                BARE,
                "First power, without device and without module",
                (
                    *(
                        f"Set a bench supply to {f.volts:g} V limited to {f.limit_a * 1000:g} mA;"
                        f" plus to {f.at}, minus to ground."
                        f" {f.net} alone takes at most {f.amps * 1000:.2g} mA ({f.why})."
                        for f in fed
                    ),
                    "One rail at a time. Touch the parts: nothing may grow warm.",
                ),
                "the supply goes into its limit, a part grows warm or smells, or a rail reads outside its"
                " limits. Switch off, let the capacitors empty, and find the cause before anything else.",
            )
        )
    stages += [_signals(), _inside(), _open(), _module(bundle), _device(bundle)]
    stages = [stage for stage in stages if any(test.stage == stage.id for test in tests)]
    order = {stage.id: i for i, stage in enumerate(stages)}
    board = bundle.board
    return Plan(
        board.name,
        board.revision,
        bundle.pinmap.digest(),
        board.title,
        tuple(stages),
        tuple(sorted(tests, key=lambda test: order[test.stage])),
        circuit,
        cautions(bundle),
    )


def _looks(bundle: Bundle) -> tuple[Test, ...]:
    polar = [
        p.ref
        for p in bundle.plan.parts
        if p.component.kind in _POLAR or {"positive", "negative"} & dict(p.component.pins).keys()
    ]
    items = [
        "Every joint wetted all round, no balls, whiskers or bridges of solder",
        "Flux washed off between the contacts of connector and module",
        "Name and revision on the board are those at the head of this sheet",
        f"Connector J1 ({bundle.bound.connector.name}) on its side of the board, mating face as drawn",
        "Module socket strips straight, USB end where the legend shows it; module not plugged in",
        "Values as in the parts list",
    ]
    if polar:
        items.append(f"The right way round: {', '.join(polar)}")
    return tuple(Test(f"K{i:02d}", EYES, LOOK, text, "yes") for i, text in enumerate(items, 1))


def _code(bundle: Bundle) -> tuple[Test, ...]:
    """The code that firmware reads from the straps, looked at once the module runs."""
    code = board_code(bundle)
    if code is None:
        return ()
    label = f"Firmware reads the board's code {code.code}: {code.reads}, each pull-{code.pull} on"
    return (Test("C01", MODULE, LOOK, label, "yes"),)


def _eyes() -> Stage:
    return Stage(
        EYES,
        "Look, 10 to 30 times enlarged",
        ("Under a lens or microscope and a slanting light, both sides.",),
        "one line is not right. Mend it first: a bridge seen now costs nothing.",
    )


def _rails(bundle: Bundle) -> Stage:
    return Stage(
        RAILS,
        "Resistance of rails: to ground, to each other, to every neighbour",
        (
            "U1 is the module's socket, J1 the connector; the number is that of the pin or contact.",
            "No power, device and module unplugged. Short the leads first and take off what they read.",
            "Red lead on the first place named, black on the second.",
            "Capacitors charge: wait until the reading settles.",
        ),
        "a rail reads below what is expected. Do not apply power: look for the bridge first.",
    )


def _signals() -> Stage:
    return Stage(
        SIGNALS,
        "Signal by signal: from the contact to the module's socket",
        (
            "Power off, capacitors empty, device and module unplugged.",
            "The probe goes into the contact itself: so its joint is measured as well.",
        ),
        "a contact leads nowhere or to another place: compare the plug with the mating face first.",
    )


def _inside() -> Stage:
    return Stage(
        INSIDE,
        "Parts: the remaining joints and values",
        ("The probe goes on the leg of the part, above its joint: so the joint is measured as well.",),
        "a leg is open or a value is off: heat the joint again, or change the part.",
    )


def _open() -> Stage:
    return Stage(
        OPEN,
        "Pairs that must be open, nearest neighbours first",
        ("Still without power. A finger on a probe reads about 1 Mohm.",),
        "a pair reads low: it is bridged. The first place to look is named beside it.",
    )


def _module(bundle: Bundle) -> Stage:
    tree = bundle.plan.power
    amps = usb_without_device(tree)
    if amps is not None and tree is not None:
        limit = usb_limit(amps, tree.radio_a)
        feed = (
            f"Feed USB through a meter or a supply limited to {limit * 1000:.0f} mA;"
            f" {amps * 1000:.3g} mA are expected."
        )
    else:
        feed = "What the module itself draws is not known: feed USB through a meter and note the reading."
    return Stage(
        MODULE,
        "With the module, without the device",
        (
            "Compare the USB end with the legend, then plug the module in, power off.",
            feed,
            "Then load the firmware; its pin file must carry the pin map of this sheet.",
        ),
        "a rail reads outside its limits, the current is above what is expected, or the module grows hot.",
    )


def _device(bundle: Bundle) -> Stage:
    own = [s for s in (bundle.plan.power.sources if bundle.plan.power is not None else ()) if s.node != "USB"]
    steps = [
        "Hold the device's plug beside the mating-face drawing once more, then plug it in, power off.",
        "One part of the device at a time: one key, one lamp, one axis.",
        "Then everything for 5 minutes; feel for heat.",
        "Write the readings down: this is the record of a good board.",
    ]
    if own:
        steps.insert(
            1, "The device brings a supply of its own: switch it on after the board, never two on one rail."
        )
    return Stage(
        DEVICE,
        "With the device",
        tuple(steps),
        "a rail leaves its limits, a fuse or part grows hot, or the device does what nobody asked for.",
    )
