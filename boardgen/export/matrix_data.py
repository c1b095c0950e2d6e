"""A matrix study as plain data, for the record and the firmware's pin file."""

from __future__ import annotations

from boardgen.design.model import BOTH_WAYS
from boardgen.electrical.matrix.model import Change, MatrixStudy
from boardgen.electrical.matrix.words import high_words, level_words, mending_words, timing_words


def matrix_row(study: MatrixStudy) -> dict[str, object]:
    """Return *study* for ``summary.json``: volts, ohm, pF, us as the names say."""
    found, timing, level, levels = study.phantoms, study.timing, study.level, study.levels
    return {
        "name": study.name,
        "drive": study.drive,
        "diodes": study.diodes,
        **diode_ways(study),
        "keys": len(study.wiring.keys),
        "crossings": len(study.wiring.read) * len(study.wiring.driven),
        "keys_with_diode": [key.name for key in study.wiring.keys if key.diode],
        "unread": list(study.unread),
        "fitting_drive": study.fitting_drive or (None if study.unread else study.drive),
        "unsafe_sets": {str(size): count for size, count in found.sizes},
        "unsafe_sets_counted_to": found.exact_to,
        "unsafe_triples_through_two_diodes": found.faint,
        "unsafe_listed": [
            {"keys": list(one.keys), "shows": one.phantom, "diodes": one.diodes} for one in found.listed
        ],
        "unsafe_triples_by_key": {
            key.name: {"in": part, "shown_by": shown}
            for key, part, shown in zip(study.wiring.keys, found.parts, found.shown, strict=True)
        },
        "rollover": {
            "guaranteed": study.rollover.guaranteed,
            "combinations": [
                {"keys": share.keys, "right": share.right, "of": share.of} for share in study.rollover.shares
            ],
        },
        "groups": [
            {
                "keys": list(group.keys),
                "right": group.right,
                "unread": list(group.unread),
                "phantoms": [
                    {"key": f.key, "by_way_of": list(f.path), "diodes": f.diodes, "in_group": f.inside}
                    for f in group.faults
                ],
            }
            for group in study.groups
        ],
        "mending": {
            "words": list(mending_words(study)),
            **({"diodes_turned": list(study.mending.turned)} if study.mending.turned else {}),
            "diodes": list(study.mending.diodes),
            "diodes_at_least": study.mending.at_least,
            "rewirings": [[_change(change) for change in chain] for chain in study.mending.rewirings],
            "diodes_for_any_three": list(study.mending.diodes_for_three),
        },
        "low_level": {
            "volts": round(level.low_v, 4),
            "limit_v": round(levels.vil_v, 4),
            "margin_v": round(level.margin_v, 4),
            "output_v": round(levels.vol_v, 4),
            "diode_v": round(levels.drop_v, 4) if level.diodes else None,
            "contact_ohms": levels.contact_ohms,
            "worst_contact_ohms": round(level.worst_ohms, 1),
            "series_diodes_most": level.series_most,
            "words": level_words(study),
        },
        "high_level": {
            "volts": round(study.high.high_v, 4),
            "limit_v": round(levels.vih_v, 4),
            "margin_v": round(study.high.margin_v, 4),
            "least_open_ohms": round(study.high.open_ohms) if study.high.margin_v > 0 else None,
            "words": high_words(study),
        },
        "settling": {
            "wait_us": timing.wait_us,
            "scan_hz": round(timing.scan_hz, 1),
            "debounce_ms": timing.debounce_ms,
            "keys_held": timing.held,
            "board_measured": timing.measured,
            "words": timing_words(study),
            "lines": [
                {
                    "line": line.line,
                    "pull_up_ohms": line.pull_ohms,
                    "own_pf": round(line.own_pf, 2),
                    "joined_pf": round(line.joined_pf, 2),
                    "rise_us": round(line.rise_us, 3),
                    "fall_us": round(line.fall_us, 3),
                }
                for line in timing.lines
            ],
            "loads": [
                {
                    "line": load.line,
                    "cable_pf": round(load.cable_pf, 2),
                    "board_pf": round(load.board_pf, 2),
                    "pin_pf": round(load.pin_pf, 2),
                }
                for load in study.loads
            ],
        },
        "assumed": list(study.assumed),
    }


def diode_ways(study: MatrixStudy) -> dict[str, object]:
    """Return which keys have their cathode on which line, where the diodes point both ways; else nothing."""
    if study.diodes != BOTH_WAYS:
        return {}
    driven, read = ("row", "column") if study.drive == "rows" else ("column", "row")
    return {
        f"cathode_to_{line}": [key.name for key in study.wiring.keys if key.diode and key.ahead == ahead]
        for line, ahead in sorted(((driven, True), (read, False)), reverse=True)
    }


def _change(change: Change) -> dict[str, str]:
    if change.other:
        return {"exchange": change.key, "with": change.other}
    return {"move": change.key, "read_line": change.read, "driven_line": change.driven}


def key_map(study: MatrixStudy) -> tuple[tuple[int, int, str], ...]:
    """Return (row index, column index, key name) of each key, by row, as the firmware's lists count them."""
    by_rows = study.drive == "rows"
    places = [
        (key.driven, key.read, key.name) if by_rows else (key.read, key.driven, key.name)
        for key in study.wiring.keys
    ]
    return tuple(sorted(places))


def rests_on(study: MatrixStudy) -> tuple[str, ...]:
    """Return what the timing rests on, a sentence each."""
    board = "the board's part is computed from its copper" if study.timing.measured else ""
    return tuple(text for text in (timing_words(study), board, *study.assumed) if text)
