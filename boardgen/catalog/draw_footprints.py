"""Write the footprint files of all catalogue entries with a ``family``; ``--check`` only compares.

Run as ``python -m boardgen.catalog.draw_footprints`` in a checkout.
"""

from __future__ import annotations

import sys
from collections.abc import Sequence
from pathlib import Path

from boardgen.catalog.load import DATA
from boardgen.catalog.tomlfile import read_toml
from boardgen.errors import BoardgenError, InputError
from boardgen.filing import write_whole
from boardgen.footprint import families
from boardgen.footprint.kicad_mod import write_footprint
from boardgen.footprint.library import SUFFIX, own_folder
from boardgen.readfile import read_bytes


def drawn_files(data: Path = DATA) -> dict[str, str]:
    """Return the text of each footprint file the entries under *data* need, by file name, sorted.

    Raises InputError where a family refuses its figures, or where two entries
    name one footprint and mean two.
    """
    found: dict[str, tuple[str, str]] = {}
    for path in sorted(data.rglob("*.toml")):
        where = path.relative_to(data).as_posix()
        table = read_toml(path, where).data
        family, name = table.get("family"), table.get("footprint")
        if not isinstance(family, dict) or not isinstance(name, str):
            continue
        try:
            text = write_footprint(families.build(family, name).footprint)
        except InputError as error:
            raise InputError(
                error.message, where, error.key, error.line, error.found, error.allowed
            ) from None
        file = f"{name}{SUFFIX}"
        if file in found and found[file][1] != text:
            raise InputError(f"footprint {name} is drawn otherwise by {found[file][0]}", where, "footprint")
        found.setdefault(file, (where, text))
    return {file: found[file][1] for file in sorted(found)}


def main(arguments: Sequence[str], folder: Path | None = None) -> int:
    """Write the files into *folder* (ours), or with ``--check`` return 1 where one differs."""
    folder = folder or own_folder()
    checking = "--check" in arguments
    changed = 0
    try:
        files = drawn_files()
    except BoardgenError as error:
        print(error, file=sys.stderr)
        return error.exit_code
    for name, text in files.items():
        path = folder / name
        if path.is_file() and read_bytes(path, name) == text.encode("utf-8"):
            continue
        changed += 1
        if checking:
            print(f"{name} differs from what its family draws", file=sys.stderr)
        else:
            folder.mkdir(parents=True, exist_ok=True)
            write_whole(path, text.encode("utf-8"))
    done = "differ" if checking else "written"
    print(f"{len(files)} footprints, {changed} {done}")
    return 1 if checking and changed else 0


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
