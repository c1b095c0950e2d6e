"""What an exporter returns: files in memory, nothing written yet."""

from __future__ import annotations

import hashlib
import re
from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class OutFile:
    """One file of a run. *path* is relative to the run folder, with forward slashes."""

    path: str
    data: bytes

    @property
    def sha256(self) -> str:
        """The digest of the bytes, in hex."""
        return hashlib.sha256(self.data).hexdigest()


# Control characters but tab and line feed, other line ends, marks that turn the order in which words are
# shown (a person would not read what a compiler does), halves of letters: no sheet or source holds them.
_UNSEEN = re.compile(
    "[\x00-\x08\x0b-\x1f\x7f-\x9f\u061c\u200e\u200f\u2028-\u202e\u2066-\u2069\ud800-\udfff\ufffe\uffff]"
)


def plain_line(text: str) -> str:
    """Return *text* on one line, what is no letter in it as "?": for drawings, terminals and lists."""
    return _UNSEEN.sub("?", " ".join(text.splitlines()))


def _escaped(found: re.Match[str]) -> str:
    code = ord(found[0])
    return "?" if 0xD800 <= code < 0xE000 else f"\\u{code:04x}"


def text_file(path: str, text: str) -> OutFile:
    """Return a UTF-8 file with line feeds and exactly one at its end.

    What is no letter becomes "?", in JSON (which has it in texts alone) its escape.
    """
    data = path.endswith((".json", ".kicad_pro"))
    text = _UNSEEN.sub(_escaped if data else "?", text)
    return OutFile(path, (text.rstrip("\n") + "\n").encode())
