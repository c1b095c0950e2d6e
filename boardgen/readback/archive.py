"""The fab's zip against the files beside it, byte for byte."""

from __future__ import annotations

import io
import zipfile
from collections.abc import Sequence

from boardgen.errors import Finding
from boardgen.export.files import OutFile
from boardgen.readback.reader import file_finding, short_reason


def check_zip(files: Sequence[OutFile]) -> list[Finding]:
    """Return what in the fab's zip is not, byte for byte, the file beside it (``readback-layer``)."""
    found = []
    beside = {f.path.rsplit("/", 1)[-1]: f.data for f in files if f.path.startswith("fab/")}
    for file in files:
        if not (file.path.startswith("fab/") and file.path.endswith("-fab.zip")):
            continue
        wanted = {name: data for name, data in beside.items() if not name.endswith("-fab.zip")}
        limit = sum(map(len, wanted.values())) + 1
        try:
            with zipfile.ZipFile(io.BytesIO(file.data)) as archive:
                infos = {info.filename: info for info in archive.infolist()}
                for name in sorted({*wanted, *infos}):
                    if name not in infos:
                        found.append(file_finding("readback-layer", file.path, f"{name} is not in it"))
                    elif name not in wanted:
                        found.append(file_finding("readback-layer", file.path, f"{name} is not beside it"))
                    elif infos[name].file_size > limit or archive.read(name) != wanted[name]:
                        found.append(
                            file_finding("readback-layer", file.path, f"{name} is not the file beside it")
                        )
        except Exception as error:  # a damaged archive
            found.append(file_finding("readback-file", file.path, f"cannot be read: {short_reason(error)}"))
    return found
