"""From the fabrication files' bytes to their geometry; nothing that is damaged stops it."""

from __future__ import annotations

import re
from collections.abc import Sequence

from boardgen.board.model import Side
from boardgen.errors import Finding, Severity
from boardgen.export.files import OutFile
from boardgen.readback.drill_in import holes_of, says_plated
from boardgen.readback.gerber_in import things_of
from boardgen.readback.model import FabGeometry, FabHole, FabLayer, Role

MAX_BYTES = 8_000_000
MAX_COPIES = 10_000
MAX_DOUBTS = 5  # told of one file
MAX_STATEMENTS = 400_000
MAX_LINES = 60_000  # of a drill file
MAX_TOOLS = 1_000  # tools of a drill file, apertures and macros of a layer
MAX_STATEMENT = 20_000  # characters; readers look back over a statement again and again

# Step-and-repeat of layers, repeated holes of drill files: a few bytes that ask for any number of things.
_REPEATS = re.compile(r"%SRX(\d+)Y(\d+)|^[ \t]*R(\d+)(?=[XY]|[ \t\r]*$)", re.MULTILINE)

_TOOLS = re.compile(r"^[ \t]*T\d+[^\n]*?C|%A[DMB]", re.MULTILINE)

# By the trade's conventional endings; what the file says of itself must agree.
_ENDINGS: dict[str, tuple[Role, Side | None]] = {
    "GTL": (Role.COPPER, Side.TOP),
    "GBL": (Role.COPPER, Side.BOTTOM),
    "GTS": (Role.MASK, Side.TOP),
    "GBS": (Role.MASK, Side.BOTTOM),
    "GTO": (Role.LEGEND, Side.TOP),
    "GBO": (Role.LEGEND, Side.BOTTOM),
    "GTP": (Role.PASTE, Side.TOP),
    "GBP": (Role.PASTE, Side.BOTTOM),
    "GKO": (Role.PROFILE, None),
    "GVC": (Role.SCORE, None),
}
_FUNCTIONS = {
    "Copper": Role.COPPER,
    "Soldermask": Role.MASK,
    "Legend": Role.LEGEND,
    "Paste": Role.PASTE,
    "Profile": Role.PROFILE,
    "Vcut": Role.SCORE,
}
_SIDES = {"Top": Side.TOP, "Bot": Side.BOTTOM}


_PLACE = re.compile(r"^\S+:(?=\d+ )")  # a reader's own way to say file and line; the file is named already


def file_finding(rule: str, path: str, message: str, severity: Severity = Severity.ERROR) -> Finding:
    """Return a finding about a whole file."""
    return Finding(rule, severity, f"{path}: {message}", None, "", (path,))


def short_reason(error: BaseException) -> str:
    """Return what an exception says, on one line and of bounded length."""
    return short_text(str(error)) or type(error).__name__


def short_text(words: str) -> str:
    """Return *words* on one line and of bounded length."""
    text = " ".join(words.split())
    text = _PLACE.sub("line ", text)
    return text if len(text) <= 200 else text[:197] + "..."


def _attributes_agree(
    path: str, role: Role, side: Side | None, attributes: dict[str, tuple[str, ...]]
) -> list[Finding]:
    function = attributes.get(".FileFunction", ())
    if not function:
        return [file_finding("readback-layer", path, "the file does not say which layer it is")]
    said = _FUNCTIONS.get(function[0])
    said_side = next((_SIDES[word] for word in function if word in _SIDES), None)
    found = []
    if said is not role or said_side is not side:
        is_named = f"{side.value} {role.value}" if side else role.value
        message = f"named as {is_named}, but says of itself {','.join(function)}"
        found.append(file_finding("readback-layer", path, message))
    polarity = attributes.get(".FilePolarity", ("",))[0]
    wanted = "Negative" if role is Role.MASK else "Positive"
    if polarity != wanted:
        message = f"says polarity {polarity or 'nothing'}, a {role.value} layer is {wanted.lower()}"
        found.append(file_finding("readback-layer", path, message))
    return found


def _text(file: OutFile, end: str) -> str:
    """Return the file's text, statements ended by *end*; raises ValueError where reading could be endless."""
    if len(file.data) > MAX_BYTES:
        raise ValueError(f"larger than {MAX_BYTES} bytes")
    text = file.data.decode("utf-8")
    copies = sum(int(m[3]) if m[3] else int(m[1]) * int(m[2]) for m in _REPEATS.finditer(text))
    if copies > MAX_COPIES:
        raise ValueError(f"asks for {copies} copies of a thing, more than {MAX_COPIES}")
    tools = sum(1 for _ in _TOOLS.finditer(text))
    if tools > MAX_TOOLS:
        raise ValueError(f"{tools} tools or apertures, more than {MAX_TOOLS}")
    statements = text.split(end)
    most = MAX_STATEMENTS if end == "*" else MAX_LINES
    if len(statements) > most:
        raise ValueError(f"more than {most} statements")
    if max(map(len, statements)) > MAX_STATEMENT:
        raise ValueError(f"a statement of more than {MAX_STATEMENT} characters")
    return text


def layer_of(path: str) -> tuple[Role, Side | None] | None:
    """Return which layer a file's name says it is; None for another file."""
    return _ENDINGS.get(path.rsplit(".", 1)[-1])


def drill_of(path: str) -> bool | None:
    """Return whether a drill file's name says that it plates; None for another file."""
    found = re.search(r"-(N?)PTH\.DRL$", path)
    return None if found is None else found[1] == ""


def read(files: Sequence[OutFile]) -> FabGeometry:
    """Return the geometry of the Gerber and drill files among *files*, in their own axes (nm, y up).

    Pure: from bytes alone. A file that cannot be read, or not without doubt, is a finding
    (``readback-file``); its layer is then missing or as far as it could be read.
    """
    layers: list[FabLayer] = []
    holes: list[FabHole] = []
    drills: list[tuple[str, bool]] = []
    found: list[Finding] = []
    for file in sorted(files, key=lambda file: file.path):
        layer, plated = layer_of(file.path), drill_of(file.path)
        if layer is None and plated is None:
            continue
        try:
            text = _text(file, "*" if layer is not None else "\n")
            if plated is not None:
                drilled, said = holes_of(text, file.path, plated)
                holes.extend(drilled)
                drills.append((file.path, plated))
                if says_plated(text) is not plated:
                    words = "plated" if plated else "unplated"
                    message = f"named for {words} holes, but does not say so of itself"
                    found.append(file_finding("readback-drill", file.path, message))
            if layer is not None:
                role, side = layer
                things, attributes, said = things_of(text, file.path)
                layers.append(FabLayer(file.path, role, side, things))
                found += _attributes_agree(file.path, role, side, attributes)
        except Exception as error:  # whatever a damaged file does to its reader is a finding
            found.append(file_finding("readback-file", file.path, f"cannot be read: {short_reason(error)}"))
            continue
        for words in said[:MAX_DOUBTS]:
            found.append(file_finding("readback-file", file.path, f"is read with doubt: {short_text(words)}"))
    return FabGeometry(tuple(layers), tuple(holes), tuple(drills), tuple(found))
