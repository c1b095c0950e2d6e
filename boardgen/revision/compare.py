"""Two runs compared, from their files alone."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from pathlib import Path

from boardgen.revision.model import SECTIONS, Change, Comparison
from boardgen.revision.rows import changes
from boardgen.revision.runs import OpenedRun, check_alike, guarded, open_run

# Costs of a run in the words of a price table, each with a number and its unit: {"board": "4.20 EUR"}.
Costs = Callable[[Path], Mapping[str, str]]


def compare_runs(a: Path, b: Path, costs: Costs | None = None) -> Comparison:
    """Return what changed from the run at *a* to the run at *b*.

    Every file is held to its recorded digest first. *costs* prices a run; without it cost is not compared.
    Raises InputError for what is no run, for runs of different designs, of another tool version, or with
    files that are not as recorded; MachineError where reading is forbidden.
    """
    one, two = open_run(a), open_run(b)
    check_alike(one, two)
    priced: list[Change] = []
    if costs is not None:
        rows = [{thing: {"": value} for thing, value in costs(path).items()} for path in (a, b)]
        priced = changes("cost", rows[0], rows[1])
    unknown = () if costs is not None else ("cost: no price table was given",)
    return guarded(two, lambda: _compared(one, two, priced, unknown))


def _compared(a: OpenedRun, b: OpenedRun, priced: list[Change], unknown: tuple[str, ...]) -> Comparison:
    from boardgen.revision.body import body_changes, enclosure_verdict  # noqa: PLC0415 - loads the readers
    from boardgen.revision.firmware import firmware_verdict  # noqa: PLC0415
    from boardgen.revision.geometry import board_files, copper_changes, side_pictures  # noqa: PLC0415
    from boardgen.revision.picture import copper_picture  # noqa: PLC0415
    from boardgen.revision.wiring import finding_changes, net_changes, wiring_changes  # noqa: PLC0415

    one, two = board_files(a), board_files(b)
    pictures = side_pictures(one, two)
    copper, copper_found = copper_changes(pictures)
    found = [
        *wiring_changes(a, b),
        *net_changes(one.source, two.source),
        *body_changes(one, two),
        *finding_changes(a, b),
        *copper_found,
        *priced,
    ]
    order = {section: place for place, section in enumerate(SECTIONS)}
    found.sort(key=lambda change: order[change.section])
    moved = tuple(change for change in found if change.section == "places")
    return Comparison(
        a=a.name,
        b=b.name,
        changes=tuple(found),
        copper=copper,
        firmware=firmware_verdict(a, b),
        enclosure=enclosure_verdict(a, b, found),
        picture=copper_picture(one, two, pictures, moved),
        unknown=unknown,
    )
