"""What an exporter returns: files in memory, nothing written yet."""

from __future__ import annotations

import hashlib
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


def text_file(path: str, text: str) -> OutFile:
    """Return a UTF-8 file with line feeds and exactly one at its end."""
    return OutFile(path, (text.rstrip("\n") + "\n").encode())
