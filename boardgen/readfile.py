"""Reading a file that somebody else made: plain files only, of bounded size, in their own folder.

A pipe, a device or a socket in the place of a file is refused without waiting for it. What is read is
measured, never what the system says of the size, so a file that grows meanwhile is bounded as well.
"""

from __future__ import annotations

import json
import os
import stat
from pathlib import Path
from typing import Any

from boardgen.errors import InputError, MachineError

MAX_BYTES = 1_000_000


def read_bytes(path: Path, where: str, limit: int = MAX_BYTES, what: str = "file") -> bytes:
    """Return the bytes of *path*; *where* and *what* name it in messages, *limit* is in bytes.

    Raises InputError (missing, no file, too large) or MachineError (no permission).
    """
    flags = os.O_RDONLY | getattr(os, "O_NONBLOCK", 0) | getattr(os, "O_CLOEXEC", 0)
    try:
        descriptor = os.open(path, flags | getattr(os, "O_NOCTTY", 0) | getattr(os, "O_BINARY", 0))
        with os.fdopen(descriptor, "rb") as stream:
            mode = os.fstat(descriptor).st_mode
            if not stat.S_ISREG(mode):
                kind = "a pipe or a device"
                raise InputError(f"a {what} is wanted, this is {kind}", where)
            raw = stream.read(limit + 1)
    except IsADirectoryError:
        raise InputError(f"a {what} is wanted, this is a folder", where) from None
    except FileNotFoundError:
        raise InputError(f"there is no such {what}", where) from None
    except PermissionError:
        if path.is_dir():
            raise InputError(f"a {what} is wanted, this is a folder", where) from None
        raise MachineError(f"{where}: no permission to read the {what}") from None
    except (OSError, ValueError) as error:  # a name that no file can have, a link that leads to itself
        reason = getattr(error, "strerror", None) or str(error)
        raise InputError(f"the {what} cannot be read: {reason}", where) from None
    if len(raw) > limit:
        raise InputError(f"the {what} is too large", where, allowed=f"at most {limit} bytes")
    return raw


def read_json(path: Path, where: str, limit: int = MAX_BYTES, what: str = "file") -> Any:
    """Return what the JSON file at *path* holds; raises InputError for other text, else as read_bytes."""
    raw = read_bytes(path, where, limit, what)
    try:
        return json.loads(raw.decode("utf-8"))
    except (ValueError, RecursionError) as error:
        raise InputError(f"the {what} is not JSON: {str(error)[:120]}", where) from None


def leads_out(path: Path, folder: Path) -> bool:
    """Return whether *path*, once its links are followed, lies outside *folder*."""
    try:
        return not path.resolve().is_relative_to(folder.resolve())
    except (OSError, RuntimeError, ValueError):  # a link that leads to itself, a name no file can have
        return True
