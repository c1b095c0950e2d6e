"""Reading a TOML file that a person wrote: safely, and knowing on which line each key stands."""

from __future__ import annotations

import re
import tomllib
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from boardgen.errors import BoardgenError, InputError
from boardgen.readfile import MAX_BYTES, read_bytes

__all__ = ["MAX_BYTES", "KeyPath", "TomlFile", "key_lines", "parse_toml", "read_bytes", "read_toml"]

MAX_DEPTH = 12
MAX_KEYS = 20_000  # and items of lists, in one file

KeyPath = tuple[str | int, ...]

_TOKEN = re.compile(
    r'(?P<string>"""(?:\\.|[^\\])*?"{3,5}|\'\'\'.*?\'{3,5}|"(?:\\.|[^"\\\n])*"|\'[^\'\n]*\')'
    r"|(?P<comment>\#[^\n]*)"
    r"|(?P<newline>\n)"
    r"|(?P<mark>[\[\]{},=.])"
    r"|(?P<bare>[^\s\[\]{},=.\"'#]+)",
    re.DOTALL,
)
# A key of hundreds of parts: the library's time goes with the square of their number.
_ENDLESS_KEY = re.compile(
    r"""(?<![\w-])(?:(?:[\w-]++|"[^"\n]*+"|'[^'\n]*+')[ \t]*+\.[ \t]*+){100}""", re.ASCII
)
_DECODE_PLACE = re.compile(r"\s*\(at (?:line (\d+), column \d+|end of document)\)$")


@dataclass(frozen=True, slots=True)
class TomlFile:
    """A file read: *data* as tomllib gives it, *text*, the *raw* bytes, and *where* it came from."""

    where: str
    raw: bytes
    text: str
    data: dict[str, Any]
    lines: dict[KeyPath, int]

    def line(self, path: KeyPath) -> int | None:
        """Return the line of the key *path*, else of the nearest table round it."""
        for end in range(len(path), 0, -1):
            if path[:end] in self.lines:
                return self.lines[path[:end]]
        return None


def read_toml(path: Path, where: str = "") -> TomlFile:
    """Read *path* as TOML (UTF-8, a byte-order mark and CRLF are taken).

    *where* is how messages name the file, by default the path as given. Raises
    InputError with the line for broken text, MachineError where reading is forbidden.
    """
    where = where or path.as_posix()
    raw = read_bytes(path, where)
    return parse_toml(raw, where)


def parse_toml(raw: bytes, where: str) -> TomlFile:
    """Parse *raw* as :func:`read_toml` does a file's bytes."""
    if len(raw) > MAX_BYTES:
        raise InputError("the file is too large", where, allowed=f"at most {MAX_BYTES} bytes")
    try:
        text = raw.decode("utf-8-sig")
    except UnicodeDecodeError as error:
        line = raw.count(b"\n", 0, error.start) + 1
        raise InputError(
            "the text is not UTF-8", where, line=line, found=f"byte 0x{raw[error.start]:02x}"
        ) from None
    text = text.replace("\r\n", "\n")
    endless = _ENDLESS_KEY.search(text)
    if endless is not None:
        line = text.count("\n", 0, endless.start()) + 1
        raise InputError(
            "the tables are nested too deep", where, line=line, allowed=f"at most {MAX_DEPTH} levels"
        )
    try:
        data = tomllib.loads(text)
    except tomllib.TOMLDecodeError as error:
        raise _broken(error, text, where) from None
    except RecursionError:
        raise InputError("the tables are nested too deep", where) from None
    except ValueError as error:  # an integer of thousands of digits
        raise InputError(f"the TOML cannot be read: {str(error).split(';')[0]}", where) from None
    if _depth_over(data, MAX_DEPTH):
        raise InputError("the tables are nested too deep", where, allowed=f"at most {MAX_DEPTH} levels")
    if _more_keys(data, MAX_KEYS):
        raise InputError("the file holds too many keys", where, allowed=f"at most {MAX_KEYS}")
    return TomlFile(where, raw, text, data, key_lines(text))


def _broken(error: tomllib.TOMLDecodeError, text: str, where: str) -> BoardgenError:
    message = str(error)
    line: int | None = None
    place = _DECODE_PLACE.search(message)
    if place:
        line = int(place[1]) if place[1] else text.count("\n") + 1
        message = message[: place.start()]
    message = message[:200]
    return InputError(f"this is not TOML: {message[:1].lower()}{message[1:]}", where, line=line)


def _depth_over(data: Any, limit: int) -> bool:
    level = [data]
    for _ in range(limit + 1):
        deeper: list[Any] = []
        for item in level:
            if isinstance(item, dict):
                deeper.extend(item.values())
            elif isinstance(item, list):
                deeper.extend(item)
        if not deeper:
            return False
        level = deeper
    return True


def _more_keys(data: Any, limit: int) -> bool:
    """Whether there are more than *limit* keys and items in *data*, whose depth is bounded."""
    count, waiting = 0, [data]
    while waiting:
        item = waiting.pop()
        inside = list(item.values()) if isinstance(item, dict) else item
        count += len(inside)
        if count > limit:
            return True
        waiting += [inner for inner in inside if isinstance(inner, dict | list)]
    return False


def _tokens(text: str) -> Iterator[tuple[str, str, int]]:
    line = 1
    for match in _TOKEN.finditer(text):
        kind = match.lastgroup or ""
        word = match[0]
        yield kind, word, line
        line += word.count("\n")


def _key_word(kind: str, word: str) -> str:
    if kind != "string":
        return word
    if word.startswith("'"):
        return word[1:-1]
    try:
        return str(tomllib.loads(f"key = {word}")["key"])
    except tomllib.TOMLDecodeError:
        return word[1:-1]


@dataclass(slots=True)
class _Frame:
    """An open bracket: an array counts its items, an inline table does not (-1)."""

    path: KeyPath
    index: int = -1


class _LineFinder:
    """Walks the tokens of valid TOML and notes the line of every key and array item."""

    def __init__(self) -> None:
        self.lines: dict[KeyPath, int] = {}
        self._base: KeyPath = ()
        self._counts: dict[KeyPath, int] = {}
        self._frames: list[_Frame] = []
        self._keys: list[str] = []
        self._value: KeyPath | None = None  # the path a value is being read for

    def walk(self, text: str) -> dict[KeyPath, int]:
        """Return the lines of all key paths in *text*."""
        header: list[str] | None = None
        brackets = 0
        for kind, word, line in _tokens(text):
            if kind == "comment":
                continue
            if header is not None:
                if kind in ("string", "bare"):
                    header.append(_key_word(kind, word))
                elif word == "[":
                    brackets += 1
                elif word == "]":
                    self._enter(header, brackets == 2, line)
                    header = None
                continue
            if not self._frames and self._value is None and not self._keys and word == "[":
                header, brackets = [], 1
                continue
            self._step(kind, word, line)
        return self.lines

    def _enter(self, header: list[str], many: bool, line: int) -> None:
        path: KeyPath = ()
        for place, word in enumerate(header):
            path = (*path, word)
            last = place == len(header) - 1
            if last and many:
                self._counts[path] = self._counts.get(path, -1) + 1
                self.lines.setdefault(path, line)
            if path in self._counts:
                path = (*path, self._counts[path])
        self._base = path
        self.lines.setdefault(path, line)

    def _step(self, kind: str, word: str, line: int) -> None:
        top = self._frames[-1] if self._frames else None
        if kind == "newline":
            if top is None:
                self._keys, self._value = [], None
        elif self._value is None:
            if word == "=":
                base = top.path if top else self._base
                self._value = (*base, *self._keys)
                self.lines.setdefault(self._value, line)
                self._keys = []
            elif kind in ("string", "bare"):
                self._keys.append(_key_word(kind, word))
            elif word == "}":
                self._close()
        elif word == ",":
            if top is not None and top.index >= 0:
                top.index += 1
                self._value = (*top.path, top.index)
            else:
                self._value = None
        elif word in ("]", "}"):
            self._close()
        else:
            self.lines.setdefault(self._value, line)
            if word == "[":
                self._frames.append(_Frame(self._value, 0))
                self._value = (*self._value, 0)
            elif word == "{":
                self._frames.append(_Frame(self._value))
                self._value = None

    def _close(self) -> None:
        if self._frames:
            self._value = self._frames.pop().path
        self._keys = []


def key_lines(text: str) -> dict[KeyPath, int]:
    """Return the line (from 1) of each key path and array item of valid TOML *text*."""
    return _LineFinder().walk(text)
