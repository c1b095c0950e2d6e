"""Find and load footprints by name: the user's own folders first, then ours."""

from __future__ import annotations

import re
from collections.abc import Iterable
from dataclasses import replace
from pathlib import Path

from boardgen.errors import InputError, suggestion
from boardgen.footprint.kicad_mod import read_footprint
from boardgen.footprint.model import Footprint
from boardgen.readfile import leads_out, read_bytes

SUFFIX = ".kicad_mod"
MAX_BYTES = 8_000_000
_NAME = re.compile(r"[A-Za-z0-9_][A-Za-z0-9_.-]*")


def own_folder() -> Path:
    """Return the folder of the footprints that come with the program.

    Installed it lies inside this package; in a checkout it is ``footprints/``
    beside the package.
    """
    inside = Path(__file__).parent / "library"
    return inside if inside.is_dir() else Path(__file__).parents[2] / "footprints"


def search_path(folders: Iterable[Path]) -> tuple[Path, ...]:
    """Return the folders to look in, best first: each of *folders*, its ``footprints``, then ours."""
    own = [place for folder in folders for place in (folder, folder / "footprints")]
    return (*own, own_folder())


def names(folders: Iterable[Path] = ()) -> tuple[str, ...]:
    """Return the names of all footprints there are, sorted."""
    found = {
        file.stem for place in search_path(folders) if place.is_dir() for file in place.glob(f"*{SUFFIX}")
    }
    return tuple(sorted(found))


def find(name: str, folders: Iterable[Path] = ()) -> Path | None:
    """Return the file of footprint *name*, or None; the first of *folders* that has it wins."""
    if not _NAME.fullmatch(name):
        return None
    for place in search_path(folders):
        file = place / f"{name}{SUFFIX}"
        if file.is_file():
            return file
    return None


def load(name: str, folders: Iterable[Path] = ()) -> Footprint:
    """Return the footprint called *name*.

    Raises InputError where there is none of that name or its file is broken,
    MachineError where the file cannot be read.
    """
    folders = tuple(folders)
    file = find(name, folders)
    if file is None:
        there = names(folders)
        hint = suggestion(name, there)
        raise InputError(f"there is no footprint of this name{hint}", key="footprint", found=repr(name))
    if any(file.is_relative_to(folder) and leads_out(file, folder) for folder in folders):
        raise InputError("a link leads out of the footprint's folder", str(file))
    try:
        text = read_bytes(file, str(file), MAX_BYTES, "footprint").decode("utf-8").replace("\r\n", "\n")
    except UnicodeDecodeError:
        raise InputError("the file is not UTF-8 text", str(file)) from None
    return replace(read_footprint(text, str(file)), name=name)
