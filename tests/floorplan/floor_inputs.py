"""Hand-made modules, connectors and designs for the floorplan tests."""

from boardgen.board.model import NetKind
from boardgen.catalog.model import (
    Area,
    Connector,
    FabClass,
    FaceContact,
    Gender,
    Module,
    ModulePin,
    Mounting,
    PinKind,
    Source,
    UsbPort,
)
from boardgen.design.model import BoundDesign, Design, Enclosure, OutlineWish
from boardgen.electrical.model import ElectricalPlan, PinRequest, PlannedNet
from boardgen.footprint.model import Footprint, Pad, PadKind, PadShape, PartLayer, Polygon
from boardgen.units import ZERO, Box, Point, Size, mm

SOURCE = (Source("made for the tests"),)


def round_pad(number, x, y, size, hole):
    return Pad(
        number,
        PadKind.PLATED,
        PadShape.CIRCLE,
        Point(x, y),
        Size(mm(size), mm(size)),
        Size(mm(hole), mm(hole)),
    )


def yard(box):
    return Polygon(PartLayer.COURTYARD, box.corners(), mm("0.05"))


def row_module(
    per_row=20, rows_apart="17.78", length="51", width="21", overhang="1.3", jack=True, antenna=()
):
    """A two-row module, pins down the left and up the right, front (USB) to -y."""
    prints = []
    pins = []
    half = mm(rows_apart) // 2
    for i in range(2 * per_row):
        left = i < per_row
        step = i if left else 2 * per_row - 1 - i
        y = mm("2.54") * step - mm("1.27") * (per_row - 1)
        number = str(i + 1)
        prints.append(round_pad(number, -half if left else half, y, "1.7", "1.0"))
        if i % 5 == 2:
            pins.append(ModulePin(number, "GND", PinKind.GROUND))
        else:
            pins.append(
                ModulePin(number, f"GP{i}", PinKind.GPIO, can_read=True, can_drive=True, pulls=("up",))
            )
    box = Box(-mm(width) // 2, -mm(length) // 2, mm(width) // 2, mm(length) // 2)
    usb = UsbPort("micro-b", mm(overhang), Size(mm("10.6"), mm("8.5")), mm(20)) if jack else None
    module = Module(
        "test-module",
        "Test module",
        "",
        "",
        "",
        "module-print",
        3.3,
        tuple(pins),
        box,
        mm(14),
        usb,
        tuple(Area(f"a{i}", b) for i, b in enumerate(antenna)),
        SOURCE,
    )
    return module, Footprint("module-print", tuple(prints), (yard(box.grown(mm("0.25"))),))


def d_connector(contacts=25, edge="9.4", width="53", mounting=Mounting.RIGHT_ANGLE, mate=("55", "16")):
    """A two-row edge connector, front to +y; straight ones have no edge."""
    first = (contacts + 1) // 2
    prints, face = [], []
    for i in range(contacts):
        row, column = (0, i) if i < first else (1, i - first)
        x = mm("2.77") * column - mm("2.77") * (first - 1) // 2 + (mm("1.385") if row else ZERO)
        y = mm("2.84") * row
        prints.append(round_pad(str(i + 1), x, y, "1.6", "1.0"))
        face.append(FaceContact(str(i + 1), Point(x, y)))
    straight = mounting is Mounting.STRAIGHT
    body = Box(-mm(width) // 2, mm("-1.5"), mm(width) // 2, mm("4.5") if straight else mm(edge) + mm(6))
    connector = Connector(
        "test-connector",
        "Test connector",
        "d",
        Gender.SOCKET,
        mounting,
        "connector-print",
        tuple(face),
        (),
        None if straight else mm(edge),
        body,
        mm("12.5"),
        Size(mm(mate[0]), mm(mate[1])),
        None,
        "",
        "",
        "",
        SOURCE,
    )
    return connector, Footprint("connector-print", tuple(prints), (yard(body.grown(mm("0.25"))),))


FAB = FabClass(
    id="test-fab",
    name="",
    description="",
    copper_layers=2,
    plated=True,
    track=mm("0.25"),
    track_min=mm("0.15"),
    gap=mm("0.2"),
    gap_min=mm("0.15"),
    supply_track=mm("0.5"),
    ring_min=mm("0.15"),
    hole_min=mm("0.3"),
    hole_max=mm("6.3"),
    drills=(),
    hole_gap_min=mm("0.45"),
    via_diameter=mm("0.6"),
    via_hole=mm("0.3"),
    via_diameter_min=mm("0.5"),
    edge_copper_min=mm("0.3"),
    npth_copper_min=mm("0.25"),
    mask_web_min=mm("0.1"),
    mask_margin=mm("0.05"),
    legend=True,
    legend_stroke_min=mm("0.15"),
    legend_height_min=mm("0.8"),
    legend_pad_gap_min=mm("0.15"),
    courtyard_gap_min=ZERO,
    thermal_gap=mm("0.3"),
    thermal_spoke=mm("0.4"),
    pour_gap=mm("0.25"),
    pour_min_width=mm("0.2"),
    hole_tolerance=mm("0.08"),
    rout_tolerance=mm("0.2"),
    thickness=mm("1.6"),
    copper_um=35,
    board_min=Size(mm(10), mm(10)),
    board_max=Size(mm(400), mm(400)),
    mask_colour="green",
    legend_colour="white",
    finish="",
    sources=SOURCE,
)


def bound_of(module, connector, **design):
    settings = {
        "name": "test",
        "title": "",
        "revision": "A",
        "description": "",
        "device": "",
        "contacts": (),
        "matrices": (),
        "groups": (),
        "fixed": (),
        "waivers": (),
        "module": module.id,
        "connector": connector.id,
        "fab": FAB.id,
        "outline": OutlineWish(),
        "holes": None,
        "enclosure": Enclosure(),
        "errata": (),
        "origin": "design.toml",
    }
    settings.update(design)
    return BoundDesign(Design(**settings), module, connector, FAB)


def plan_of(connector, signals=24, parts=()):
    numbers = connector.numbers()[:signals]
    requests = tuple(PinRequest(f"S{n}", f"S{n}", True, False, pull="up", anchor=n) for n in numbers)
    nets = tuple(PlannedNet(f"S{n}", NetKind.SIGNAL) for n in numbers)
    return ElectricalPlan((), nets, tuple(parts), requests, tuple((n, f"S{n}") for n in numbers), (), ())


def prints_of(*footprints):
    table = {footprint.name: footprint for footprint in footprints}
    return table.__getitem__
