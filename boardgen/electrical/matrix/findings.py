"""What is wrong with a matrix, as findings."""

from __future__ import annotations

from collections.abc import Iterator

from boardgen.electrical.matrix.model import MatrixStudy
from boardgen.electrical.matrix.words import (
    against_words,
    count_of,
    fault_words,
    high_words,
    level_words,
    listing,
    mending_words,
    phantom_words,
    rollover_words,
)
from boardgen.errors import Finding, Severity

SLOWEST_SCAN_HZ = 200.0  # a debouncer of 5 ms wants to look at least once in that time


def matrix_findings(study: MatrixStudy) -> tuple[Finding, ...]:
    """Return the findings about *study*, errors first."""
    return (*_diodes(study), *_groups(study), *_level(study), *timing_findings(study), *_phantoms(study))


def _diodes(study: MatrixStudy) -> Iterator[Finding]:
    if not study.unread:
        return
    lines = "rows" if study.drive == "columns" else "columns"
    fits = f'drive = "{study.fitting_drive}" fits.' if study.fitting_drive else against_words(study)
    yield Finding(
        "matrix-diodes",
        Severity.ERROR,
        f"matrix {study.name}: {count_of(len(study.unread), 'key')} with a diode "
        f"({listing(study.unread)}) cannot be read: the cathodes are on the {lines}, "
        f"but the {study.drive} are pulled low, so no current flows. {fits}",
        items=(study.name, *study.unread[:6]),
    )


def _groups(study: MatrixStudy) -> Iterator[Finding]:
    said = "; ".join(mending_words(study)[:2])
    for group in study.groups:
        if not group.faults:
            continue
        most = study.level.series_most
        faults = listing((fault_words(fault, most) for fault in group.faults), 3)
        yield Finding(
            "matrix-phantom",
            Severity.ERROR,
            f"matrix {study.name}: {listing(group.keys)} held together do not read right: {faults}."
            + (f" {said[0].upper()}{said[1:]}." if said else ""),
            items=(study.name, *group.keys),
        )


def _level(study: MatrixStudy) -> Iterator[Finding]:
    if study.level.margin_v < 0:
        yield Finding(
            "matrix-level",
            Severity.ERROR if study.levels.stated else Severity.WARNING,
            f"matrix {study.name}: {level_words(study)}: {-study.level.margin_v:.2f} V too high",
            items=(study.name,),
        )
    if study.high.margin_v <= 0:
        yield Finding(
            "matrix-level",
            Severity.ERROR if study.levels.stated else Severity.WARNING,
            f"matrix {study.name}: {high_words(study)}: {-study.high.margin_v:.2f} V too low. "
            "A stronger pull-up (10 kohm) would help.",
            items=(study.name,),
        )


def timing_findings(study: MatrixStudy) -> tuple[Finding, ...]:
    """Return what is wrong with the scan's speed; asked again once the board is routed."""
    timing = study.timing
    least = max(SLOWEST_SCAN_HZ, 1000 / timing.debounce_ms)
    if timing.scan_hz >= least:
        return ()
    return (
        Finding(
            "matrix-settling",
            Severity.WARNING,
            f"matrix {study.name}: lines need {timing.wait_us} us after each strobe, so that there are "
            f"{timing.scan_hz:.0f} scans a second; {least:.0f} are wanted. Stronger pull-ups (10 kohm) or a "
            "shorter lead would help.",
            items=(study.name,),
        ),
    )


def _phantoms(study: MatrixStudy) -> Iterator[Finding]:
    if not study.phantoms.total:
        return
    groups = sum(1 for group in study.groups if group.right)
    kept = f" The {count_of(groups, 'group')} to be held together read right." if groups else ""
    if any(not group.right for group in study.groups):
        kept = ""
    yield Finding(
        "matrix-phantom",
        Severity.NOTE,
        f"matrix {study.name}: {rollover_words(study)}; {phantom_words(study)}.{kept}",
        items=(study.name,),
    )
