"""The records of other revisions, which ``revise`` keeps beside the design under history/."""

from __future__ import annotations

import json
from collections.abc import Callable
from pathlib import Path

from boardgen.board.model import Board
from boardgen.errors import Finding, InputError, Severity
from boardgen.export.run_folder import RECORD
from boardgen.pipeline.record import MAX_RECORD, Record, read_record
from boardgen.publish.model import Edition
from boardgen.readfile import read_bytes

HISTORY = "history"
MOST = 100  # revisions looked at
MAX_PINS = 4_000_000


def order_of(revision: str) -> tuple[int, str]:
    """Return a key that puts Z before AA."""
    return len(revision), revision


def same_record(design: Path, revision: str, raw: bytes) -> bool:
    """Whether the history of the design in folder *design* holds *raw* as the record of *revision*."""
    place = design / HISTORY / revision / RECORD
    return place.is_file() and read_bytes(place, place.as_posix(), MAX_RECORD) == raw


def earlier_editions(
    design: Path, record: Record, board_of: Callable[[tuple[str, bytes]], Board | None]
) -> tuple[tuple[Edition, ...], list[Finding]]:
    """Return the other revisions recorded in the design's folder, oldest first, and notes.

    *board_of* gives the board of a revision and its record's bytes, where its run is to be had. Raises
    InputError for a record that is none, or one of another design or revision.
    """
    root = design / HISTORY
    if not root.is_dir():
        return (), []
    folders = sorted((f for f in root.iterdir() if f.is_dir()), key=lambda f: order_of(f.name))
    if len(folders) > MOST:
        raise InputError("more revisions than this tool reads", root.as_posix(), found=str(len(folders)),
                         allowed=f"{MOST} or fewer")  # fmt: skip
    found, notes = [], []
    for folder in folders:
        if folder.name == record.revision:
            continue
        edition = _edition(folder, record.design, board_of)
        if edition is None:
            message = f"revision {folder.name} of the history has no pin file: it is left out of the page"
            notes.append(Finding("publish", Severity.NOTE, message))
        else:
            found.append(edition)
    return tuple(found), notes


def _edition(
    folder: Path, design: str, board_of: Callable[[tuple[str, bytes]], Board | None]
) -> Edition | None:
    place = folder / RECORD
    where = place.as_posix()
    record, _data = read_record(place)
    if (record.design, record.revision) != (design, folder.name):
        raise InputError(
            "the record is of another revision than its folder",
            where,
            found=f"{record.design} {record.revision}"[:80],
            allowed=f"{design} {folder.name}",
        )
    names = sorted(folder.glob("*_pins.json"))
    if not names:
        return None
    try:
        pins = json.loads(read_bytes(names[0], names[0].as_posix(), MAX_PINS).decode("utf-8"))
        digest = str(pins["pin_map"])
        for row in pins["pins"]:
            str(row["signal"]), str(row["pin"])
    except (LookupError, TypeError, ValueError, RecursionError) as error:
        words = f"{type(error).__name__}: {str(error)[:120]}"
        raise InputError("this is no pin file", names[0].as_posix(), found=words) from None
    raw = read_bytes(place, where, MAX_RECORD)
    return Edition(record.revision, digest, pins, board_of((record.revision, raw)), record.origin)
