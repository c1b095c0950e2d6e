"""A run's page made and written, whole or not at all."""

from __future__ import annotations

import hashlib
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path

from boardgen.errors import Finding, InputError
from boardgen.filing import write_whole
from boardgen.publish.page import page_html
from boardgen.publish.source import guarded, open_subject


@dataclass(frozen=True, slots=True)
class Published:
    """What was written: the page, its bytes, of which board, and what is to be said of it."""

    path: Path
    size: int
    sha256: str
    design: str
    revision: str
    pin_map: str
    revisions: tuple[str, ...]
    notes: tuple[Finding, ...]


def publish(run: Path, to: Path, design: Path | None = None, catalogs: Sequence[Path] = ()) -> Published:
    """Write the page of the run at *run* as the file *to*; one that is there is replaced.

    Raises InputError for a run that must not be published (see :func:`open_subject`) and for a place that is
    no file's, MachineError where the machine refuses; then nothing was written.
    """
    if to.is_dir():
        raise InputError("this is a folder; name the file", to.as_posix(), "--to")
    if not to.parent.is_dir():
        raise InputError("there is no such folder to write into", to.parent.as_posix(), "--to")
    subject = open_subject(run, design, catalogs)
    data = guarded(run.as_posix(), lambda: page_html(subject))
    write_whole(to, data, key="--to")
    return Published(
        to,
        len(data),
        hashlib.sha256(data).hexdigest(),
        subject.record.design,
        subject.record.revision,
        subject.edition.digest,
        tuple(item.revision for item in (*subject.earlier, subject.edition)),
        subject.notes,
    )
