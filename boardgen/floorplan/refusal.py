"""Why there is no floorplan, in sentences with the numbers."""

from __future__ import annotations

from collections.abc import Sequence

from boardgen.design.model import BoundDesign, OutlineKind
from boardgen.electrical.model import ElectricalPlan
from boardgen.errors import InputError
from boardgen.floorplan.region import outline_at_origin, outline_size
from boardgen.floorplan.rooms import PartRoom, module_height, pads_to_edge
from boardgen.units import ZERO, Nm, Size, format_mm


def size_words(size: Size) -> str:
    """Return "W x H mm"."""
    return f"{format_mm(size.w)} x {format_mm(size.h)} mm"


def _error(bound: BoundDesign, message: str, key: str, found: str = "", allowed: str = "") -> InputError:
    """Return the error at *key* of the design file, with the line of its table."""
    design = bound.design
    line = design.line_of(key.partition(".")[0])
    return InputError(message, design.origin, key, line, found, allowed)


def check_heights(bound: BoundDesign, plan: ElectricalPlan) -> None:
    """Raise InputError where a part stands higher than the case allows."""
    limit = bound.design.enclosure.max_component_height
    if limit is None:
        return
    tall = [
        (module_height(bound.module, bound.design.socketed), f"module {bound.module.id}"),
        (bound.connector.height, f"connector {bound.connector.id}"),
        *((part.component.height, f"{part.ref} ({part.component.id})") for part in plan.parts),
    ]
    height, name = max(tall, key=lambda item: (int(item[0]), item[1]))
    if height <= limit:
        return
    advice = ""
    if name.startswith("module") and bound.design.socketed:
        flat = module_height(bound.module, False)
        if flat <= limit:
            advice = f"; soldered down without sockets it would need {format_mm(flat)} mm"
    raise _error(
        bound,
        f"the {name} stands {format_mm(height)} mm above the board, {format_mm(height - limit)} mm "
        f"more than the case allows{advice}",
        key="enclosure.max_component_height_mm",
        found=f"{format_mm(height)} mm",
        allowed=f"at most {format_mm(limit)} mm",
    )


def check_edges(bound: BoundDesign, rooms: Sequence[tuple[str, str, PartRoom]]) -> None:
    """Raise InputError where a part that must stand at the edge has pads the fab class forbids there.

    *rooms* gives key, name and room of each big part.
    """
    least = bound.fab.edge_copper_min
    for key, name, room in rooms:
        gap = pads_to_edge(room)
        if gap is not None and gap < least:
            raise _error(
                bound,
                f"the {name} must stand at the board's edge with pads {format_mm(gap)} mm from it, "
                f"nearer than fab class {bound.fab.id} allows",
                key=key,
                found=f"{format_mm(gap)} mm",
                allowed=f"at least {format_mm(least)} mm",
            )


def too_large(bound: BoundDesign, sizes: list[Size], faults: dict[str, int]) -> InputError:
    """Return the error for a board that no limit of case or fab class lets pass."""
    case, fab = bound.design.enclosure, bound.fab
    width = Nm(min(int(case.max_width or fab.board_max.w), int(fab.board_max.w)))
    height = Nm(min(int(case.max_height or fab.board_max.h), int(fab.board_max.h)))
    if not sizes:
        edges = [
            f"{name} on the {edge} edge"
            for name, edge in (("connector", case.connector_edge), ("USB", case.usb_edge))
            if edge
        ]
        asked = f" with the {' and the '.join(edges)}" if edges else ""
        return _error(
            bound,
            f"module {bound.module.id} and connector {bound.connector.id} cannot be placed{asked}: "
            f"{_main_fault(faults)}",
            key="enclosure" if edges else "holes" if bound.design.holes else "outline",
        )

    def excess(size: Size) -> tuple[int, int, int]:
        over = max(0, size.w - width), max(0, size.h - height)
        return sum(over), int(size.w) * int(size.h), int(size.w)

    best = min(sizes, key=excess)
    over = [
        f"{axis} by {format_mm(value)} mm"
        for axis, value in (("width", best.w - width), ("height", best.h - height))
        if value > 0
    ]
    owner = "the case" if case.max_width is not None or case.max_height is not None else f"fab class {fab.id}"
    return _error(
        bound,
        f"the board does not go into {owner}: the nearest board that holds the parts is {size_words(best)}, "
        f"over in {' and in '.join(over)}",
        key="enclosure" if owner == "the case" else "fab",
        found=size_words(best),
        allowed=f"at most {size_words(Size(width, height))}",
    )


def over_limits(bound: BoundDesign, size: Size) -> InputError | None:
    """Return the error for a given outline that case or fab class does not take, or None."""
    case, fab = bound.design.enclosure, bound.fab
    for axis, value, low, limits in (
        ("width", size.w, fab.board_min.w, ((case.max_width, "case"), (fab.board_max.w, "fab class"))),
        ("height", size.h, fab.board_min.h, ((case.max_height, "case"), (fab.board_max.h, "fab class"))),
    ):
        for limit, owner in limits:
            if limit is not None and value > limit:
                return _error(
                    bound,
                    f"the outline's {axis} exceeds the {owner}'s limit by {format_mm(value - limit)} mm",
                    key=f"outline.{axis}_mm",
                    found=f"{format_mm(value)} mm",
                    allowed=f"at most {format_mm(limit)} mm",
                )
        if value < low:
            return _error(
                bound,
                f"the outline's {axis} is {format_mm(low - value)} mm less than fab class {fab.id} makes",
                key=f"outline.{axis}_mm",
                found=f"{format_mm(value)} mm",
                allowed=f"at least {format_mm(low)} mm",
            )
    return None


def given_size(bound: BoundDesign) -> Size:
    """Return the size of the outline the design gives."""
    wish = bound.design.outline
    if wish.kind is OutlineKind.POLYGON and wish.shape is not None:
        return outline_size(outline_at_origin(wish.shape))
    return Size(wish.width or ZERO, wish.height or ZERO)


def too_small(bound: BoundDesign, sizes: list[Size], faults: dict[str, int]) -> InputError:
    """Return the error for a given outline on which the parts find no place.

    *sizes* are boards that would do. Where the outline is large enough, the
    reason met most often is named instead.
    """
    size = given_size(bound)
    polygon = bound.design.outline.kind is OutlineKind.POLYGON
    enough = [s for s in sizes if s.w <= size.w and s.h <= size.h]
    clashes = {reason: count for reason, count in faults.items() if reason.startswith("mounting hole ")}
    if clashes and (enough or polygon or not sizes):
        return _error(bound, _main_fault(clashes), key="holes.at_mm")
    if not sizes or enough:
        return _error(
            bound,
            f"the parts find no place on the outline ({size_words(size)}): {_main_fault(faults)}",
            key="outline",
            found=size_words(size),
        )

    def excess(option: Size) -> tuple[int, int, int]:
        over = max(0, option.w - size.w) + max(0, option.h - size.h)
        return over, int(option.w) * int(option.h), int(option.w)

    best = min(sizes, key=excess)
    return _error(
        bound,
        f"the outline is too small for module {bound.module.id} and connector {bound.connector.id}; "
        f"the least board that works is {size_words(best)}",
        key="outline",
        found=size_words(size),
        allowed=f"at least {size_words(best)}",
    )


def _main_fault(faults: dict[str, int]) -> str:
    """Return the reason that stopped the arrangements that came furthest, the most frequent of them."""
    if not faults:
        return "no way to turn them keeps the rules"
    order = ("mounting hole", "no room", "the small parts")
    furthest = [reason for reason in faults if reason.startswith(order)]
    return min(furthest or faults, key=lambda reason: (-faults[reason], reason))
