"""A small strict reader and writer of S-expressions, as CAD files use them.

A node is a list; an atom is a :class:`Sym` (a bare word or the text of a
number), a plain ``str`` (quoted in the file) or, for writing only, an ``int``.
Numbers stay text, so a length never passes through a float.
"""

from __future__ import annotations

import re
from decimal import Decimal, InvalidOperation

from boardgen.errors import InputError
from boardgen.units import Nm, format_mm, mm

Node = list["Atom | Node"]

MAX_DEPTH = 64
MAX_CHARACTERS = 24_000_000
MAX_ITEMS = 1_000_000
LINE_WIDTH = 100


class Sym(str):
    """A bare word or a number's text, written without quotes."""

    __slots__ = ()


Atom = Sym | str | int

_TOKEN = re.compile(r'[ \t\r\n\f]+|(?P<open>\()|(?P<close>\))|(?P<quote>")|(?P<word>[^\s()"]+)')
_STRING = re.compile(r'"((?:[^"\\]++|\\.)*+)"', re.DOTALL)  # keeps no way back, so no memory either
_ESCAPE = re.compile(r"\\(.)", re.DOTALL)
_NUMBER = re.compile(r"[+-]?(\d+(\.\d*)?|\.\d+)([eE][+-]?\d{1,2})?")
_BARE = re.compile(r'[^\s()"]+')
_MEANING = {"n": "\n", "r": "\r", "t": "\t"}


def parse(text: str, where: str = "", most: int = MAX_ITEMS) -> Node:
    """Return the one list that *text* holds; *where* names the file in errors.

    Raises InputError, with the line, for text outside the list, a bracket or
    quote left open or closed twice, a nesting deeper than 64, or a file of
    more than 24 million characters or *most* words and lists.
    """
    if len(text) > MAX_CHARACTERS:
        raise InputError(
            "the file is too large",
            where,
            found=f"{len(text)} characters",
            allowed=f"at most {MAX_CHARACTERS}",
        )
    root: Node | None = None
    stack: list[Node] = []
    at = 1 if text.startswith("\ufeff") else 0

    def fail(message: str, allowed: str = "") -> InputError:
        return InputError(message, where, line=text.count("\n", 0, at) + 1, allowed=allowed)

    items = 0
    while at < len(text):
        items += 1
        if items > 2 * most:  # blanks between them are counted too
            raise fail("the file holds too many words", f"at most {most}")
        token = _TOKEN.match(text, at)
        if token is None:
            raise fail("a character that no list may hold")
        kind = token.lastgroup
        if kind is None:
            at = token.end()
            continue
        if not stack and (kind != "open" or root is not None):
            raise fail("text outside the one list the file must hold", "one list in brackets")
        if kind == "open":
            if len(stack) >= MAX_DEPTH:
                raise fail("the lists are nested too deeply", f"at most {MAX_DEPTH} levels")
            fresh: Node = []
            if stack:
                stack[-1].append(fresh)
            else:
                root = fresh
            stack.append(fresh)
        elif kind == "close":
            stack.pop()
        elif kind == "quote":
            token = _STRING.match(text, at)
            if token is None:
                raise fail("a quoted text is never closed")
            stack[-1].append(_ESCAPE.sub(lambda m: _MEANING.get(m[1], m[1]), token[1]))
        else:
            stack[-1].append(Sym(token[0]))
        at = token.end()
    if root is None:
        raise fail("the file is empty", "one list in brackets")
    if stack:
        raise fail(f"the file ends inside the list that starts with {_start(stack[-1])}")
    return root


def _start(node: Node) -> str:
    return repr(str(node[0])) if node and isinstance(node[0], str) else "a bracket"


def dump(node: Node) -> str:
    """Return *node* as text: indented, the same for the same node, with a final newline.

    A list whose members are all atoms, or that fits a line together with them,
    stays on one line. Raises ValueError for a Sym that cannot stand bare.
    """
    lines: list[str] = []
    _write(node, 0, lines)
    return "\n".join(lines) + "\n"


def _write(node: Node, depth: int, lines: list[str]) -> None:
    pad = "  " * depth
    line = _one_line(node, LINE_WIDTH - len(pad))
    if line is not None:
        lines.append(pad + line)
        return
    head: list[str] = []
    rest = 0
    for rest, item in enumerate(node):  # noqa: B007 - the index goes on below
        if isinstance(item, list):
            break
        head.append(_atom(item))
    lines.append(f"{pad}({' '.join(head)}")
    for item in node[rest:]:
        if isinstance(item, list):
            _write(item, depth + 1, lines)
        else:
            lines.append(f"{pad}  {_atom(item)}")
    lines.append(pad + ")")


def _one_line(node: Node, room: int) -> str | None:
    """Return the node on one line, or None where it has lists and is too long."""
    flat = not any(isinstance(item, list) for item in node)
    parts: list[str] = []
    used = 1
    for item in node:
        if isinstance(item, list):
            inner = _one_line(item, room - used)
            if inner is None:
                return None
            parts.append(inner)
        else:
            parts.append(_atom(item))
        used += len(parts[-1]) + 1
        if used > room and not flat:
            return None
    return f"({' '.join(parts)})"


def _atom(item: Atom) -> str:
    if isinstance(item, Sym):
        if not _BARE.fullmatch(item):
            raise ValueError(f"{str(item)!r} cannot be written as a bare word")
        return str(item)
    if isinstance(item, str):
        text = item.replace("\\", "\\\\").replace('"', '\\"')
        return '"' + text.replace("\n", "\\n").replace("\r", "\\r").replace("\t", "\\t") + '"'
    return str(int(item))


def length(value: int) -> Sym:
    """Return a length as mm text, exact to the nanometre."""
    return Sym(format_mm(value))


def degrees(value: float) -> Sym:
    """Return an angle as text with at most six decimals, "-0" avoided."""
    text = f"{value:.6f}".rstrip("0").rstrip(".")
    return Sym("0" if text in ("-0", "") else text)


def head(node: object) -> str:
    """Return the word a list starts with; "" for an atom or a list without one."""
    if isinstance(node, list) and node and isinstance(node[0], Sym):
        return str(node[0])
    return ""


def children(node: Node, name: str) -> list[Node]:
    """Return the lists inside *node* that start with *name*, in order."""
    return [item for item in node if isinstance(item, list) and head(item) == name]


def child(node: Node, name: str) -> Node | None:
    """Return the first list inside *node* that starts with *name*, or None."""
    for item in node:
        if isinstance(item, list) and head(item) == name:
            return item
    return None


def words(node: Node | None) -> list[str]:
    """Return the atoms of *node* after its first, as text; none for None."""
    return [str(item) for item in (node or [])[1:] if not isinstance(item, list)]


def to_length(text: object) -> Nm:
    """Return mm text as a length; raises ValueError where it is no finite number within 10 m."""
    value = _number(text)
    if abs(value) > 10_000:
        raise ValueError(f"{str(text)!r} mm is out of range")
    return mm(value)


def to_degrees(text: object) -> float:
    """Return angle text as a float; raises ValueError where it is no finite number."""
    return float(_number(text))


def _number(text: object) -> Decimal:
    if isinstance(text, list) or not _NUMBER.fullmatch(str(text)):
        raise ValueError(f"{str(text)[:40]!r} is not a number")
    try:
        return Decimal(str(text))
    except InvalidOperation:  # pragma: no cover - the pattern admits decimals only
        raise ValueError(f"{str(text)[:40]!r} is not a number") from None
