"""The trade's conventional shapes: resistor, capacitor, diode, transistor, ground, rail.

Drawn after IEC 60617 (resistor as a box, rail as a bar). Two-terminal parts lie
along x: their first terminal on the left (anode, or the + of a capacitor).
"""

from __future__ import annotations

from boardgen.export.cad_nodes import plain_name
from boardgen.export.cad_symbols import GRID, Bow, Graphic, Ring, Stroke, Symbol, SymbolPin
from boardgen.units import ORIGIN, ZERO, Nm, Point, mm, point_mm

REACH = GRID * 3  # from a two-terminal part's middle to its wire ends


def _line(*points: tuple[float, float], width: float = 0.254, fill: str = "none") -> Stroke:
    return Stroke(tuple(point_mm(x, y) for x, y in points), mm(width), fill)


_ARROWS = (
    _line((0.2, -1.7), (1.2, -2.9), width=0.2),
    _line((1.2, -2.9), (0.55, -2.55), (0.95, -2.2), (1.2, -2.9), width=0.15, fill="outline"),
    _line((1.2, -1.5), (2.2, -2.7), width=0.2),
    _line((2.2, -2.7), (1.55, -2.35), (1.95, -2.0), (2.2, -2.7), width=0.15, fill="outline"),
)
_TRIANGLE = _line((-1.27, -1.27), (-1.27, 1.27), (1.27, 0), (-1.27, -1.27))
_THROUGH = _line((-1.27, 0), (1.27, 0), width=0.15)

# name: (prefix, length of each lead in mm, graphics)
_TWO: dict[str, tuple[str, float, tuple[Graphic, ...]]] = {
    "Resistor": ("R", 1.27, (_line((-2.54, -0.9), (2.54, -0.9), (2.54, 0.9), (-2.54, 0.9), (-2.54, -0.9)),)),
    "Capacitor": (
        "C",
        3.302,
        (_line((-0.508, -1.9), (-0.508, 1.9), width=0.4), _line((0.508, -1.9), (0.508, 1.9), width=0.4)),
    ),
    "Capacitor_polarised": (
        "C",
        3.048,
        (
            _line((-0.762, -1.9), (-0.762, 1.9), (-0.254, 1.9), (-0.254, -1.9), (-0.762, -1.9)),
            _line((0.508, -1.9), (0.508, 1.9), width=0.508),
            _line((-2.0, -1.3), (-1.2, -1.3), width=0.2),
            _line((-1.6, -1.7), (-1.6, -0.9), width=0.2),
        ),
    ),
    "Diode": ("D", 2.54, (_TRIANGLE, _THROUGH, _line((1.27, -1.27), (1.27, 1.27)))),
    "Schottky_diode": (
        "D",
        2.54,
        (
            _TRIANGLE,
            _THROUGH,
            _line((0.76, -0.9), (0.76, -1.27), (1.27, -1.27), (1.27, 1.27), (1.78, 1.27), (1.78, 0.9)),
        ),
    ),
    "Zener_diode": (
        "D",
        2.54,
        (_TRIANGLE, _THROUGH, _line((0.76, -1.27), (1.27, -1.27), (1.27, 1.27), (1.78, 1.27))),
    ),
    "LED": ("D", 2.54, (_TRIANGLE, _THROUGH, _line((1.27, -1.27), (1.27, 1.27)), *_ARROWS)),
    "Fuse": (
        "F",
        1.27,
        (
            _line((-2.54, -0.9), (2.54, -0.9), (2.54, 0.9), (-2.54, 0.9), (-2.54, -0.9)),
            _line((-2.54, 0), (2.54, 0), width=0.15),
        ),
    ),
    "Resettable_fuse": (
        "F",
        1.27,
        (
            _line((-2.54, -0.9), (2.54, -0.9), (2.54, 0.9), (-2.54, 0.9), (-2.54, -0.9)),
            _line((-2.54, 0), (2.54, 0), width=0.15),
            _line((-2.4, 1.6), (-1.5, 1.6), (1.5, -1.6), width=0.2),
        ),
    ),
    "Wire_link": ("W", 1.27, (Bow(point_mm(-2.54, 0), point_mm(0, -1.2), point_mm(2.54, 0)),)),
}


def two_terminal(
    shape: str, first: tuple[str, str, str], second: tuple[str, str, str], name: str = ""
) -> Symbol:
    """Return the symbol of a two-terminal part; each terminal is (pad number, name, role).

    Raises KeyError for an unknown *shape*.
    """
    prefix, lead, graphics = _TWO[shape]
    pins = (
        SymbolPin(*first, Point(-REACH, ZERO), 0, mm(lead)),
        SymbolPin(*second, Point(REACH, ZERO), 180, mm(lead)),
    )
    up = GRID * 2
    return Symbol(
        name or shape, prefix, shape, pins, graphics, ref_at=Point(ZERO, -up), value_at=Point(ZERO, up)
    )


_NPN: tuple[Graphic, ...] = (
    Ring(point_mm(0.3, 0), mm("2.6")),
    _line((-0.762, -1.6), (-0.762, 1.6), width=0.5),
    _line((-1.905, 0), (-0.762, 0)),
    _line((-0.762, -0.6), (1.27, -1.905), (1.27, -2.413)),
    _line((-0.762, 0.6), (1.27, 1.905), (1.27, 2.413)),
    _line((1.2, 1.86), (0.25, 1.65), (0.62, 1.08), (1.2, 1.86), width=0.15, fill="outline"),
)

_NMOS: tuple[Graphic, ...] = (
    Ring(point_mm(0.1, 0), mm("2.8")),
    _line((-1.905, 0), (-1.27, 0)),
    _line((-1.27, -1.5), (-1.27, 1.5), width=0.3),
    _line((-0.635, -1.85), (-0.635, -0.85), width=0.4),
    _line((-0.635, -0.5), (-0.635, 0.5), width=0.4),
    _line((-0.635, 0.85), (-0.635, 1.85), width=0.4),
    _line((-0.635, -1.35), (1.27, -1.35), (1.27, -2.413)),
    _line((-0.635, 1.35), (1.27, 1.35), (1.27, 2.413)),
    _line((-0.635, 0), (0.9, 0), (0.9, 1.35)),
    _line((-0.5, 0), (0.3, -0.4), (0.3, 0.4), (-0.5, 0), width=0.15, fill="outline"),
    _line((1.27, -1.35), (2.1, -1.35), (2.1, 1.35), (1.27, 1.35), width=0.15),
    _line((1.7, -0.35), (2.5, -0.35), width=0.2),
    _line((2.1, -0.35), (1.75, 0.3), (2.45, 0.3), (2.1, -0.35), width=0.15, fill="outline"),
)


def switch_transistor(
    shape: str,
    control: tuple[str, str, str],
    upper: tuple[str, str, str],
    lower: tuple[str, str, str],
    name: str,
) -> Symbol:
    """Return an "NPN" (base, collector, emitter) or "NMOS" (gate, drain, source) symbol.

    Each terminal is (pad number, name, role); the control comes in from the left.
    """
    graphics = _NPN if shape == "NPN" else _NMOS
    lead = GRID * 3 - mm("2.413")
    pins = (
        SymbolPin(*control, Point(-GRID * 3, ZERO), 0, GRID * 3 - mm("1.905")),
        SymbolPin(*upper, Point(GRID, -GRID * 3), 270, lead),
        SymbolPin(*lower, Point(GRID, GRID * 3), 90, lead),
    )
    right = point_mm("6.35", "0")
    return Symbol(
        name,
        "Q",
        shape,
        pins,
        graphics,
        ref_at=right.plus(point_mm(0, -1)),
        value_at=right.plus(point_mm(0, 1)),
    )


def ground(net: str) -> Symbol:
    """Return the ground symbol for *net*: three bars, hanging down from its pin."""
    graphics = (
        _line((0, 0), (0, 1.27), width=0.15),
        _line((-1.1, 1.27), (1.1, 1.27), width=0.25),
        _line((-0.7, 1.7), (0.7, 1.7), width=0.25),
        _line((-0.3, 2.13), (0.3, 2.13), width=0.25),
    )
    return _power(net, graphics, mm("3.3"))


def rail(net: str) -> Symbol:
    """Return the rail symbol for *net*: a bar, standing up from its pin."""
    return _power(
        net,
        (_line((0, 0), (0, -1.27), width=0.15), _line((-0.9, -1.27), (0.9, -1.27), width=0.3)),
        mm("-2.4"),
    )


def _power(net: str, graphics: tuple[Graphic, ...], value_y: Nm) -> Symbol:
    pin = SymbolPin("1", net, "power-in", ORIGIN, 90 if value_y < 0 else 270, ZERO)
    return Symbol(
        plain_name(net),
        "#PWR",
        net,
        (pin,),
        graphics,
        power=True,
        ref_at=Point(ZERO, value_y * 2),
        value_at=Point(ZERO, value_y),
    )


def power_flag() -> Symbol:
    """Return the flag that tells the electrical check a net is supplied from outside the sheet."""
    graphics = (_line((0, 0), (0, -1.27), (-1.0, -2.0), (0, -2.73), (1.0, -2.0), (0, -1.27), width=0.15),)
    pin = SymbolPin("1", "pwr", "power-out", ORIGIN, 90, ZERO)
    return Symbol(
        "PWR_FLAG",
        "#FLG",
        "PWR_FLAG",
        (pin,),
        graphics,
        power=True,
        ref_at=point_mm(0, -6),
        value_at=point_mm(0, "-3.8"),
    )
