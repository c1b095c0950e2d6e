"""Which board a file is of, in one line that is the same in every file of a run."""

from __future__ import annotations

import uuid

from boardgen.export.bundle import FabBundle


def identity_text(bundle: FabBundle) -> str:
    """Return "NAME revision R, pin map DIGEST"; without the pin map where *bundle* has none."""
    text = f"{bundle.board.name} revision {bundle.board.revision}"
    return f"{text}, pin map {bundle.pins}" if bundle.pins else text


def project_id(bundle: FabBundle) -> tuple[str, str, str]:
    """Return name, uuid and revision for the project attribute; the uuid follows from name and revision."""
    ident = str(uuid.uuid5(uuid.NAMESPACE_URL, f"boardgen:{bundle.stem}"))
    return bundle.board.name, ident, bundle.board.revision
