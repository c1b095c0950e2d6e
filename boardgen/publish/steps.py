"""The order in which a board is put together: low parts first, what is in the way of an iron last."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

from boardgen.board.model import Board, Part, PartKind, Side
from boardgen.catalog.model import Component
from boardgen.export.bom import natural
from boardgen.publish.model import Step
from boardgen.units import mm

LOW = mm(6)  # parts up to this height are fitted before the sockets, which are 8.5 mm high
_POLAR = {"cathode": "cathode", "positive": "plus"}  # function of the pad marked, as a person calls it


def assembly_steps(
    board: Board, components: Mapping[str, Component], strips: Sequence[str], face: str
) -> tuple[Step, ...]:
    """Return the steps. *strips*: the module's socket strips in words, empty where it is soldered down.

    *face*: what is said of the connector's fit. Every part but mounting holes is in exactly one step, the
    module in that which plugs it in.
    """
    parts = sorted(board.parts, key=lambda part: natural(part.ref))
    small = [part for part in parts if part.kind is PartKind.COMPONENT]
    through = [part for part in small if part.footprint.through_hole]
    low = [part for part in through if _height(part, components) <= LOW]
    steps = _of(
        "Wire links",
        ("Bare tinned wire, straight and flat on the board, in place of copper.",),
        [part for part in parts if part.kind is PartKind.LINK],
        components,
    )
    steps += _of(
        "Surface-mounted parts",
        (
            "Tin one pad, slide the part in with the iron on it, solder the others, then the first again.",
            "An iron at 320 to 350 C with a fine tip; no longer than three seconds on a joint.",
        ),
        [part for part in small if not part.footprint.through_hole],
        components,
    )
    steps += _of(
        "Low parts",
        (
            "Bring the leads to the holes' distance, without bending them right at the body; push the "
            "part down to the board, solder, cut the leads.",
        ),
        low,
        components,
    )
    module = [part for part in parts if part.kind is PartKind.MODULE]
    if strips:
        words = (
            f"Fit {' and '.join(strips)}.",
            "Plug the strips onto the module first: it holds them upright and in line. Solder one contact of "
            "each, look that both stand flat, then the rest. Take the module out again before the next step.",
        )
        steps += [
            Step("The module's sockets", words, (part.ref,), part.placement.side, sockets=True)
            for part in module
        ]
    steps += _of(
        "Tall parts",
        ("Push each down as far as its leads let it without force, solder, cut the leads.",),
        [part for part in through if part not in low],
        components,
    )
    steps += _of(
        "The connector",
        (
            face,
            "Push it down until it sits on the board all along. Solder one contact at each end, look again, "
            "then the others, then shell and board locks.",
        ),
        [part for part in parts if part.kind is PartKind.CONNECTOR],
        {},
    )
    steps.append(
        Step(
            "Look and measure, still without module and device",
            (
                "Follow the run's bring-up sheets from the first line: look, resistance of the rails, first "
                "power at a limited current, then signal by signal.",
                "Stop where a sheet says so. Nothing below this line is done before it passes.",
            ),
        )
    )
    steps += _of(
        "The module",
        (
            (
                "Power off. The printing shows which way round; pin 1 is marked in the picture. Press on "
                "both rows at once, not on the USB jack."
            )
            if strips
            else "Power off. It is soldered down: pin 1 is marked in the picture; look twice, it does not "
            "come off again. Solder two opposite corners, look, then the rest.",
        ),
        module,
        {},
    )
    return tuple(steps)


def _height(part: Part, components: Mapping[str, Component]) -> int:
    known = components.get(part.ref)
    return int(part.height or (known.height if known else 0))


def _of(
    title: str, words: tuple[str, ...], parts: Sequence[Part], components: Mapping[str, Component]
) -> list[Step]:
    """Return a step for each side that *parts* stand on, none where there are none."""
    found = []
    for side in (Side.TOP, Side.BOTTOM):
        here = [part for part in parts if part.placement.side is side]
        if not here:
            continue
        marks, said = _marks(here, components)
        where = f", on the {side.value}" if side is Side.BOTTOM else ""
        refs = tuple(part.ref for part in here)
        found.append(Step(f"{title}{where}", (*words, *said), refs, side, marks=marks))
    return found


def _marks(
    parts: Sequence[Part], components: Mapping[str, Component]
) -> tuple[tuple[tuple[str, str], ...], tuple[str, ...]]:
    """Return the pads that tell which way round a part goes, and what that means in words."""
    marks: list[tuple[str, str]] = []
    ways: dict[str, list[str]] = {}
    for part in parts:
        known = components.get(part.ref)
        pins = dict(known.pins) if known else {}
        function = next((name for name in sorted(_POLAR) if name in pins), None)
        if function is not None:
            marks.append((part.ref, pins[function]))
            ways.setdefault(f"{_POLAR[function]} at the marked pad", []).append(part.ref)
        elif len(part.footprint.numbers()) > 2:
            first = "1" if "1" in part.footprint.numbers() else part.footprint.numbers()[0]
            marks.append((part.ref, first))
            what = "contact" if part.kind is PartKind.CONNECTOR else "pin"
            ways.setdefault(f"{what} {first} at the marked pad", []).append(part.ref)
    said = tuple(f"Which way round: {', '.join(refs)}: {words}." for words, refs in sorted(ways.items()))
    return tuple(marks), said
