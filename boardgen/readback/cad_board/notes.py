"""What a reading has to say beside the board itself; equal remarks are told once, with their number."""

from __future__ import annotations

from boardgen.errors import Finding, InputError, Severity
from boardgen.units import Point

MAX_TOLD = 500


class Notes:
    """Remarks gathered during one reading, and what was found locked."""

    def __init__(self) -> None:
        self._told: dict[tuple[Severity, str, str, str, tuple[str, ...]], list[Point | None]] = {}
        self.locked: list[str] = []

    def tell(
        self,
        rule: str,
        severity: Severity,
        message: str,
        at: Point | None = None,
        layer: str = "",
        items: tuple[str, ...] = (),
    ) -> None:
        """Take down one remark."""
        self._told.setdefault((severity, rule, message, layer, items), []).append(at)

    def unread(self, message: str, copper: bool, at: Point | None = None, layer: str = "") -> None:
        """Take down that something is not read: an error where it is copper, a hole or the profile."""
        self.tell("cad-unread", Severity.ERROR if copper else Severity.WARNING, message, at, layer)

    def failed(self, what: str, error: InputError, copper: bool, layer: str = "") -> None:
        """Take down that *what* is not read, with the reason."""
        words = error.message + (f"; found {error.found}" if error.found else "")
        key = f"{what}, {error.key}" if error.key else what
        self.unread(f"{key} is not read: {words}"[:400], copper, None, layer)

    def findings(self) -> tuple[Finding, ...]:
        """Return the remarks, errors first: :data:`MAX_TOLD` of them, and how many more there are."""
        order = list(Severity)
        rows = sorted(self._told.items(), key=lambda row: (order.index(row[0][0]), row[0][1:]))
        found = []
        for (severity, rule, message, layer, items), places in rows[:MAX_TOLD]:
            times = f" ({len(places)} times, the first here)" if len(places) > 1 else ""
            found.append(Finding(rule, severity, message + times, places[0], layer, items))
        if len(rows) > MAX_TOLD:
            worst = rows[MAX_TOLD][0][0]
            found.append(
                Finding("cad-unread", worst, f"and {len(rows) - MAX_TOLD} more remarks of the reader")
            )
        return tuple(found)
