"""The warnings that go with every sheet and page a person works from."""

from __future__ import annotations

from boardgen.export.bundle import Bundle


def cautions(bundle: Bundle) -> tuple[str, ...]:
    """Return the cautions that belong on every sheet a person takes to the bench."""
    own = (
        "Do not connect a device whose supply or plug you have not measured; compare the mating-face"
        " drawing with the plug in your hand first.",
        "Power the board for the first time without device and module, from a supply with a current limit.",
        "An old device with a mains supply of its own stays unplugged and closed; work on mains belongs to"
        " a licensed electrician and follows your local codes.",
        "Never let two supplies feed one rail. Solder in a ventilated place; the iron and fresh joints burn.",
    )
    return (
        *own,
        *bundle.bound.design.cautions,
        *bundle.bound.module.cautions,
        *bundle.bound.connector.cautions,
    )
