"""Files made to hurt their reader, by reader: what each is, and its bytes when asked for."""

from __future__ import annotations

from collections.abc import Callable

from readers import BOARD, DRILL, GERBER, PLAIN_DXF, SMALL
from readers_run import PRICES as PRICE_TABLE

Make = Callable[[], bytes]
BIG = 100_000_000

EVERYWHERE: dict[str, Make] = {
    "nothing": lambda: b"",
    "100 MB of one line": lambda: b"a" * BIG,
    "100 MB of nothing": lambda: b"\0" * BIG,
    "1 MB of one line": lambda: b"a" * 999_999,
    "1 MB of line ends": lambda: b"\n" * 999_999,
    "UTF-16": lambda: SMALL.encode("utf-16"),
    "a byte that is no UTF-8": lambda: SMALL.encode() + b"\xff\xfe",
    "a surrogate spelled in UTF-8": lambda: b'x = "\xed\xa0\x80"\n',
    "NUL bytes": lambda: b"a\0b\0" * 1000,
}


def _toml(text: str) -> bytes:
    return (SMALL + text).encode()


def _unknown_keys() -> bytes:
    """A matrix of 4096 crossings whose lists name keys that are not there, all near to some that are."""
    lines = "".join(f"{side}s = {[f'{side}{n}' for n in range(64)]}\n" for side in ("row", "column"))
    names = [f"row{n}/column{n + 1}0" for n in range(4096)]
    lists = "".join(f"{key} = {names}\n" for key in ("diode_keys", "cathode_to_row", "cathode_to_column"))
    return _toml(f'[[matrices]]\nname = "wide"\ndiodes = "cathode-to-row"\n{lines}{lists}')


TOML: dict[str, Make] = {
    "12000 keys that are not in the matrix": _unknown_keys,
    "arrays 100000 deep": lambda: b"x = " + b"[" * 100_000 + b"]" * 100_000,
    "arrays 400 deep": lambda: b"x = " + b"[" * 400 + b"]" * 400,
    "tables 100000 deep": lambda: b"x = " + b"{a=" * 100_000 + b"1" + b"}" * 100_000,
    "a key of 200000 parts": lambda: b".".join([b"a"] * 200_000) + b" = 1",
    "a header of 300000 parts": lambda: b"[" + b".".join([b"a"] * 300_000) + b"]",
    "headers, each deeper": lambda: b"\n".join(b"[" + b".".join([b"a"] * n) + b"]" for n in range(1, 900)),
    "a key of 900000 letters": lambda: b"k" * 900_000 + b" = 1",
    "80000 unknown keys": lambda: b"".join(b"key%d = 1\n" % n for n in range(70_000)),
    "100000 contacts": lambda: b"[[contacts]]\n" * 75_000,
    "50000 contacts with faults": lambda: b"[[contacts]]\nnumbr=1\n" * 45_000,
    "50000 faults in one contact": lambda: (
        b"[[contacts]]\n" + b"".join(b"k%d=1\n" % n for n in range(50_000))
    ),
    "a long text": lambda: b'name = """' + b"\\\n" * 400_000 + b'"""',
    "a text of quotes": lambda: b'name = """' + b'""a' * 300_000 + b'"""',
    "comments": lambda: b"#" * 900_000,
    "an endless number": lambda: b"revision = " + b"9" * 500_000,
    "hex without end": lambda: b"revision = 0x" + b"f" * 900_000,
    "a float without end": lambda: b"revision = 0." + b"9" * 900_000,
    "infinities": lambda: _toml("[enclosure]\nmax_width_mm = inf\nmax_height_mm = nan\n"),
    "1e999": lambda: _toml("[enclosure]\nmax_width_mm = 1e999\nmax_height_mm = -1e999\n"),
    "a number of 4000 digits": lambda: _toml("[enclosure]\nmax_width_mm = " + "9" * 4000 + "\n"),
    "a contact of number 10**400": lambda: SMALL.replace("number = 1", "number = 1" + "0" * 400).encode(),
    "an array of 400000": lambda: b"x = [" + b"1," * 400_000 + b"]",
    "an outline of 100000 points": lambda: SMALL.replace("[0, 0]", ", ".join(["[0, 0]"] * 100_000)).encode(),
    "control characters in a name": lambda: SMALL.replace('"desk"', '"de\\u0007sk"', 1).encode(),
    "a name up and out": lambda: SMALL.replace('"desk"', '"../desk"', 1).encode(),
    "a drawing up and out": lambda: SMALL.replace(
        "{ points_mm", '{ dxf = "../../etc/x.dxf", points_mm'
    ).encode(),
    "a drawing with NUL": lambda: SMALL.replace(
        "points_mm = [[0, 0], [60, 0], [60, 50], [0, 50]]", 'dxf = "a\\u0000.dxf"'
    ).encode(),
    "dates": lambda: b"name = 1979-05-27T07:32:00Z\nrevision = 07:32:00\n",
    "a key of a dunder": lambda: b"__class__ = 1\n[__dict__]\n__init__ = 2\n",
}
CSV: dict[str, Make] = {
    "8 MB of commas": lambda: b"," * 7_900_000,
    "100000 lines": lambda: b"plus, minus, reading\n" + b"1, 2, open\n" * 99_990,
    "quotes": lambda: b'"' * 900,
    "formulas": lambda: b"contact, wire\n=cmd|' /C calc'!A0, red\n",
    "many statements": lambda: b"view, solder-side\n" * 90_000,
    "huge readings": lambda: (
        b"connector, dsub-9-socket-right-angle\nview, mating-face\nhalf, plug\nnumbers, printed\n"
        b"plus, minus, reading\n1, 2, 1e999\n1, 3, nan\n1, 4, inf\n2, 3, 1e308k\n"
    ),
    "big readings": lambda: (
        b"connector, dsub-9-socket-right-angle\nview, mating-face\nhalf, plug\nnumbers, printed\n"
        b"plus, minus, reading\n1, 2, 99999999999999999999\n1, 3, 0.00000000000000000001\n"
    ),
    "rows without end": lambda: b"rows" + b", R" * 300 + b"\n",
    "a contact's number without end": lambda: b"contact, wire\n" + b"9" * 110 + b", red\n",
}


def _dxf(body: str) -> bytes:
    return f"0\nSECTION\n2\nENTITIES\n{body}0\nENDSEC\n0\nEOF\n".encode()


def _lwpolyline(corners: str, count: int = 4) -> str:
    return f"0\nLWPOLYLINE\n100\nAcDbEntity\n8\n0\n100\nAcDbPolyline\n90\n{count}\n70\n1\n{corners}"


DXF: dict[str, Make] = {
    "5 MB of zeros": lambda: b"0\n" * 2_499_000,
    "400000 lines": lambda: _dxf("0\nLINE\n10\n0\n20\n0\n11\n1\n21\n1\n" * 120_000),
    "a polyline of 300000 corners": lambda: _dxf(_lwpolyline("10\n1\n20\n2\n" * 300_000, 300_000)),
    "nested blocks": lambda: b"0\nSECTION\n2\nBLOCKS\n" + b"0\nBLOCK\n2\nA\n" * 100_000 + b"0\nEOF\n",
    "a block that inserts itself": lambda: (
        b"0\nSECTION\n2\nBLOCKS\n0\nBLOCK\n8\n0\n2\nA\n70\n0\n10\n0\n20\n0\n0\nINSERT\n8\n0\n2\nA\n10\n0\n20\n0\n0\nENDBLK\n"
        b"0\nENDSEC\n0\nSECTION\n2\nENTITIES\n0\nINSERT\n8\n0\n2\nA\n10\n0\n20\n0\n70\n30000\n71\n30000\n0\nENDSEC\n0\nEOF\n"
    ),
    "NaN": lambda: _dxf("0\nLINE\n8\n0\n10\nnan\n20\n0\n11\ninf\n21\n1e999\n"),
    "a circle of radius 1e308": lambda: _dxf("0\nCIRCLE\n8\n0\n10\n0\n20\n0\n40\n1e308\n"),
    "a circle of radius 1e-308": lambda: _dxf("0\nCIRCLE\n8\n0\n10\n0\n20\n0\n40\n1e-308\n"),
    "angles of 1e308": lambda: _dxf("0\nARC\n8\n0\n10\n0\n20\n0\n40\n5\n50\n1e308\n51\n-1e308\n"),
    "a bulge of 1e308": lambda: _dxf(
        _lwpolyline("10\n0\n20\n0\n42\n1e308\n10\n50\n20\n0\n10\n50\n20\n50\n10\n0\n20\n50\n")
    ),
    "a bulge of NaN": lambda: _dxf(
        _lwpolyline("10\n0\n20\n0\n42\nnan\n10\n50\n20\n0\n10\n50\n20\n50\n10\n0\n20\n50\n")
    ),
    "a unit without end": lambda: (
        b"0\nSECTION\n2\nHEADER\n9\n$INSUNITS\n70\n" + b"9" * 400 + b"\n0\nENDSEC\n" + PLAIN_DXF
    ),
    "a unit of NaN": lambda: b"0\nSECTION\n2\nHEADER\n9\n$INSUNITS\n70\nnan\n0\nENDSEC\n" + PLAIN_DXF,
    "group codes that are none": lambda: b"zero\nSECTION\n" * 1000,
    "binary": lambda: b"AutoCAD Binary DXF\r\n\x1a\0" + b"\xff" * 1_000_000,
    "a text of 4 MB": lambda: _dxf("0\nTEXT\n8\n0\n1\n" + "x" * 4_000_000 + "\n"),
    "100 circles in one place": lambda: _dxf("0\nCIRCLE\n8\n0\n10\n0\n20\n0\n40\n20\n" * 100),
    "1900 pieces that branch": lambda: _dxf("0\nLINE\n8\n0\n10\n0\n20\n0\n11\n50\n21\n0\n" * 1900),
}


def _lists(text: str) -> bytes:
    return f'(footprint "x" (layer "F.Cu") {text})'.encode()


LISTS: dict[str, Make] = {
    "1000000 brackets": lambda: b"(" * 1_000_000,
    "1000000 closing brackets": lambda: b"(a" + b")" * 1_000_000,
    "a quote left open": lambda: b'(a "' + b"x" * 5_000_000,
    "a quote of backslashes": lambda: b'(a "' + b"\\" * 5_000_001,
    "60 MB of words": lambda: b"(a" + b" b" * 30_000_000 + b")",
    "30 MB of empty lists": lambda: b"(a " + b"()" * 15_000_000 + b")",
    "one word of 60 MB": lambda: b"(a " + b"b" * 60_000_000 + b")",
    "a list without a name": lambda: b"(() () ())",
    "a list of lists": lambda: b"((((a))))",
}
FOOTPRINT: dict[str, Make] = {
    **LISTS,
    "a number of 1e99 mm": lambda: _lists("(fp_line (start 1e99 0) (end 1 1) (layer F.SilkS))"),
    "a number of 9e999999 mm": lambda: _lists("(fp_line (start 9e999999 0) (end 1 1) (layer F.SilkS))"),
    "a number of 100000 digits": lambda: _lists(
        f"(fp_line (start {'9' * 100_000} 0) (end 1 1) (layer F.SilkS))"
    ),
    "a place of NaN": lambda: _lists('(pad "1" smd rect (at nan inf) (size 1 1) (layers "F.Cu"))'),
    "an angle of 1e99": lambda: _lists('(pad "1" smd rect (at 0 0 1e99) (size 1 1) (layers "F.Cu"))'),
    "20000 pads": lambda: _lists('(pad "1" smd rect (at 0 0) (size 1 1) (layers "F.Cu"))' * 20_000),
    "a polygon of 100000 corners": lambda: _lists(
        "(fp_poly (pts " + "(xy 1 1)" * 100_000 + ") (layer F.SilkS) (width 0.1))"
    ),
    "an arc of no size": lambda: _lists("(fp_arc (start 0 0) (mid 0 0) (end 0 0) (layer F.CrtYd))"),
    "a huge arc": lambda: _lists("(fp_arc (start 0 0) (mid 0.000001 9999) (end 0 9999.5) (layer F.CrtYd))"),
    "lists where words belong": lambda: _lists("(pad (a) (b) (c) (at (0) 0) (size) (layers))"),
}


def _board(old: str, new: str) -> Make:
    assert old in BOARD
    return lambda: BOARD.replace(old, new).encode()


CAD: dict[str, Make] = {
    **LISTS,
    "a huge arc in the outline": _board("(mid 70 35)", "(mid 60.000001 35)"),
    "an arc of no size in the outline": _board("(mid 70 35)", "(mid 60 10)"),
    "an outline of 1e99": _board("(mid 70 35)", "(mid 1e99 35)"),
    "NaN in a track": _board("(end 30 20) (width 0.3)", "(end nan inf) (width 1e999)"),
    "a track as wide as the world": _board("(width 0.3) (layer", "(width 9999) (layer"),
    "a zone of 300000 corners": _board("(polygon (pts ", "(polygon (pts " + "(xy 11 11)" * 300_000),
    "a zone of 4000 crossing corners": _board(
        '(filled_polygon (layer "B.Cu") (pts ',
        '(filled_polygon (layer "B.Cu") (pts '
        + "".join(f"(xy {n % 2 * 40 + 11} {n * 7919 % 40 + 11})" for n in range(4000)),
    ),
    "20000 tracks on top of each other": _board(
        "\n (via",
        '\n (segment (start 20 20) (end 30 20) (width 0.3) (layer "F.Cu") (net 1))' * 20_000 + "\n (via",
    ),
    "20000 nets": _board(
        '(net 1 "GND")', "".join(f'(net {n} "N{n}")' for n in range(3, 20_000)) + '(net 1 "GND")'
    ),
    "a net number without end": _board('(net 1 "GND") (net 2', f'(net {"9" * 100_000} "GND") (net 2'),
    "a version without end": _board("20240108", "9" * 100_000),
    "one pad of 20000 parts": _board(
        "(primitives ", "(primitives " + "(gr_line (start 0 0) (end 5 5) (width 0.1))" * 20_000
    ),
    "names of NUL and line ends": _board('"GND"', '"G\\nN\0D"'),
}


def _gerber(old: str, new: str) -> Make:
    assert old in GERBER
    return lambda: GERBER.replace(old, new).encode()


FAB: dict[str, Make] = {
    "arcs of a radius of km": _gerber(
        "X2000000Y1000000I0J1000000D01*", "X2000000Y1000000I999999999999J999999999999D01*"
    ),
    "arcs in an area of a radius of km": _gerber(
        "X5000000Y0D01*", "G03*\nX5000000Y0I99999999999J99999999999D01*\nG01*"
    ),
    "an aperture of 1e9 corners": _gerber("P,1X6X30", "P,1X1000000000X30"),
    "an aperture of 1e308": _gerber("C,0.2", "C,1e308"),
    "an aperture of -1": _gerber("C,0.2", "C,-1"),
    "an aperture of NaN": _gerber("C,0.2", "C,nan"),
    "a macro that multiplies": _gerber("*1,1,$1,$2,$3*", "*$4=$1x$1*$5=$4x$4*$6=$5x$5*$7=$6x$6*1,1,$7,0,0*"),
    "a macro of 2000 shapes, flashed 2000 times": _gerber("*1,1,$1,$2,$3*", "*" + "1,1,$1,$2,$3*" * 1500),
    "a macro polygon of 100000 corners": _gerber("4,1,3,", "4,1,100000,"),
    "brackets in a macro": _gerber("1,1,$1,$2,$3", "1,1," + "(" * 5000 + "$1" + ")" * 5000 + ",0,0"),
    "powers in a macro": _gerber("1,1,$1,$2,$3", "1,1,9x9x9x9x9x9x9x9x9x9x9x9x9x9/0,0,0"),
    "coordinates of 300 digits": _gerber("X1000000Y0D01", f"X{'9' * 300}Y0D01"),
    "a format of 99 digits": _gerber("%FSLAX46Y46*%", "%FSLAX99Y99*%"),
    "no format": _gerber("%FSLAX46Y46*%\n", ""),
    "copies a million km apart": _gerber("%SRX2Y2I1J1*%", "%SRX99Y99I1e300J1e300*%"),
    "copies of copies": _gerber("%SRX2Y2I1J1*%", "%SRX90Y90I1J1*%%SRX90Y90I1J1*%%SRX90Y90I1J1*%"),
    "an area of 100000 corners": _gerber("X5000000Y5000000D01*", "X5000000Y5000000D01*\n" * 100_000),
    "an area that crosses itself 3000 times": _gerber(
        "X5000000Y5000000D01*",
        "".join(f"X{n % 2 * 9000000}Y{n * 7919 % 9000000}D01*\n" for n in range(3000)),
    ),
    "50000 flashes erased": _gerber("X10Y10D03*", "".join(f"X{n * 1000}Y10D03*\n" for n in range(50_000))),
    "block apertures in each other": _gerber(
        "%LPC*%", "%ABD20*%\n" * 2000 + "X1Y1D03*\n" + "%AB*%\n" * 2000 + "%LPC*%"
    ),
    "an included file": _gerber("%LPC*%", "%IF/etc/passwd*%\n%LPC*%"),
    "attributes without end": _gerber("%TO.N,GND*%", "%TO.N," + "A" * 19_000 + "*%"),
}


def _drill(old: str, new: str) -> Make:
    assert old in DRILL
    return lambda: DRILL.replace(old, new).encode()


DRILLS: dict[str, Make] = {
    "a tool of 1e308": _drill("T1C0.8", "T1C1e308"),
    "a tool of NaN": _drill("T1C0.8", "T1Cnan"),
    "a tool of no size": _drill("T1C0.8", "T1C0"),
    "tools without end": _drill("T1C0.8", "\n".join(f"T{n}C0.8" for n in range(3, 90_000)) + "\nT1C0.8"),
    "a slot of a million km": _drill("G85X2.0Y1.0", "G85X999999999.0Y1.0"),
    "coordinates of 300 digits": _drill("X12.54", "X" + "9" * 300),
    "300000 holes": _drill("X12.54Y-5.5", "X12.54Y-5.5\n" * 300_000),
    "repeats of repeats": _drill("R3X2.54", "R9999X0.1\nR1X1"),
}
IPC: dict[str, Make] = {
    "200000 lines": lambda: b"P  UNITS CUST 0\n" + b"C\n" * 199_990 + b"999\n",
    "a record of 8 MB": lambda: b"317" + b" " * 8_000_000,
    "digits of other scripts": "P  UNITS CUST 0\n317GND              R1    -1    D٠٠٤٠PA00X+1\n999\n".encode,
}


def _record(old: str, new: str) -> Make:
    text = (
        '{"design": "desk", "revision": "A", "fab": "economy-2l", "findings": [], '
        '"board": {"width_mm": 50, "height_mm": 40, "copper_layers": 2, "origin_mm": [0, 40]}, '
        '"files": [{"path": "a.txt", "bytes": 1, "sha256": "0"}]}'
    )
    assert old in text
    return lambda: text.replace(old, new).encode()


RECORD: dict[str, Make] = {
    "arrays 100000 deep": lambda: b"[" * 100_000,
    "tables 100000 deep": lambda: b'{"a":' * 100_000,
    "copper layers of 1e999": _record('"copper_layers": 2', '"copper_layers": 1e999'),
    "copper layers of NaN": _record('"copper_layers": 2', '"copper_layers": NaN'),
    "an origin of Infinity": _record("[0, 40]", "[Infinity, 40]"),
    "a size of 1e999": _record('"bytes": 1', '"bytes": 1e999'),
    "a size of 5000 digits": _record('"bytes": 1', '"bytes": ' + "9" * 5000),
    "a surrogate in a path": _record("a.txt", "\\ud800"),
    "a surrogate in a name": _record('"design": "desk"', '"design": "\\udfff"'),
    "a path up and out": _record("a.txt", "../../etc/passwd"),
    "a path from the root": _record("a.txt", "/etc/passwd"),
    "a path of NUL": _record("a.txt", "a\\u0000b"),
    "a path of 5000 letters": _record("a.txt", "a" * 5000),
    "a path of 5000 folders": _record("a.txt", "a/" * 5000 + "b"),
    "files that are none": _record('[{"path": "a.txt", "bytes": 1, "sha256": "0"}]', '{"path": 1}'),
    "no table at all": lambda: b"3",
    "200000 files": _record(
        '[{"path"',
        "["
        + ",".join(f'{{"path": "f{n}", "bytes": 1, "sha256": "0"}}' for n in range(200_000))
        + ', {"path"',
    ),
}

JSON: dict[str, Make] = {
    "arrays 100000 deep": lambda: b"[" * 100_000,
    "tables 100000 deep": lambda: b'{"a":' * 100_000,
    "an empty table": lambda: b"{}",
    "no table at all": lambda: b"3",
    "a number of 5000 digits": lambda: b'{"form": ' + b"9" * 5000 + b"}",
    "Infinity": lambda: b'{"form": Infinity, "pins": [NaN], "net_settings": {"classes": [1e999]}}',
    "half a letter": lambda: b'{"form": "\\ud800"}',
}
LOG: dict[str, Make] = {
    **JSON,
    "16 MB of one line": lambda: b"[" + b"0," * 7_900_000 + b"0]\n",
    "5 million lines": lambda: b"{}\n" * 5_000_000,
    "an attempt of 1e999": lambda: (
        b'{"design":"desk","revision":"A","pin_map":"0","serial":"1","attempt":1e999,"verdict":"good",'
        b'"faults":[],"words":"","places":[],"off":[],"missing":0,"readings":1}\n'
    ),
}
_HEADS = b"Designator,Qty,Value,Footprint,Manufacturer,MPN,Supplier part,DNP,Note"
TABLE: dict[str, Make] = {
    "a cell of 1 MB": lambda: b'"' + b"a" * 999_000 + b'"\n',
    "quotes left open": lambda: b'Designator,"' * 1000,
    "900000 commas": lambda: b"," * 900_000,
    "a count of 5000 digits": lambda: (
        b"Designator,Qty,Value,Footprint,Manufacturer,MPN,Supplier part,DNP,Note\nR1,"
        + b"9" * 5000
        + b",,,,,,,\n"
    ),
    "digits of other scripts": lambda: _HEADS + "\nR1,٣,,,,,,,\nR2,²,,,,,,,\n".encode(),
}
PRICES: dict[str, Make] = {
    "amounts of 1e99999": lambda: PRICE_TABLE.replace(b"9.5", b"1e99999"),
    "amounts of 4000 digits": lambda: PRICE_TABLE.replace(b"9.5", b"9" * 4000),
    "amounts of 1e-99999": lambda: PRICE_TABLE.replace(b"9.5", b"1e-99999"),
    "NaN": lambda: PRICE_TABLE.replace(b"9.5", b"nan"),
    "percents of 1e308": lambda: PRICE_TABLE.replace(b"3.5", b"1e308"),
    "stars": lambda: PRICE_TABLE.replace(b"R-10K", b"*" * 60),
    "20000 parts": lambda: PRICE_TABLE + b'[[parts]]\nmpn = "a"\nbreaks = [[1, 1]]\n' * 17_000,
}

HOSTILE: dict[str, dict[str, Make]] = {
    "design": EVERYWHERE | TOML,
    "entry": EVERYWHERE | TOML,
    "readings": EVERYWHERE | CSV,
    "dxf": EVERYWHERE | DXF,
    "footprint": EVERYWHERE | FOOTPRINT,
    "board": EVERYWHERE | CAD,
    "cad": EVERYWHERE | CAD,
    "gerber": EVERYWHERE | FAB,
    "drill": EVERYWHERE | DRILLS,
    "netlist": EVERYWHERE | IPC,
    "record": EVERYWHERE | RECORD,
    "log": EVERYWHERE | LOG,
    "sheet": EVERYWHERE | CSV,
    "plan": EVERYWHERE | JSON,
    "profile": EVERYWHERE | TOML,
    "prices": EVERYWHERE | TOML | PRICES,
    "bom": EVERYWHERE | TABLE,
    "positions": EVERYWHERE | TABLE,
    "pins": EVERYWHERE | JSON,
    "pins-c": EVERYWHERE,
    "history": EVERYWHERE | RECORD,
    "revised": EVERYWHERE | CAD,
    "project": EVERYWHERE | JSON,
    "archive": EVERYWHERE,
    "fab": EVERYWHERE | TOML,
    "waivers": EVERYWHERE | TOML,
}
