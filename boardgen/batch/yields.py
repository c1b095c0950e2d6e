"""The log over all boards: how many are good, and what was wrong with the others."""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass

from boardgen.batch.log import Entry
from boardgen.batch.model import Verdict

OFTEN = 2  # boards with a fault at one place: no longer chance


@dataclass(frozen=True, slots=True)
class Yield:
    """What a batch came to. *first_good* are boards good at their first attempt.

    *faults* counts every faulty attempt by class, most frequent first;
    *often* are places at fault on OFTEN or more boards, with how many.
    """

    boards: int
    good: int
    first_good: int
    faulty: tuple[str, ...]
    incomplete: tuple[str, ...]
    faults: tuple[tuple[str, int], ...]
    often: tuple[tuple[str, int], ...]

    @property
    def share(self) -> float | None:
        """Good boards as a share of those measured to the end; None where there is none yet."""
        done = self.good + len(self.faulty)
        return self.good / done if done else None

    @property
    def first_share(self) -> float | None:
        """The same for boards that were good at once."""
        done = self.good + len(self.faulty)
        return self.first_good / done if done else None


def batch_yield(entries: Sequence[Entry]) -> Yield:
    """Return the yield over *entries*, the last attempt of each serial deciding."""
    last: dict[str, Entry] = {}
    first: dict[str, Entry] = {}
    for entry in entries:
        first.setdefault(entry.serial, entry)
        last[entry.serial] = entry
    faults = Counter(fault for entry in entries for fault in entry.faults)
    places: dict[str, set[str]] = {}
    for entry in entries:
        if entry.verdict is Verdict.FAULTY:
            for place in entry.places[:1]:
                places.setdefault(place, set()).add(entry.serial)
    often = [(place, len(serials)) for place, serials in places.items() if len(serials) >= OFTEN]
    return Yield(
        boards=len(last),
        good=sum(entry.verdict is Verdict.GOOD for entry in last.values()),
        first_good=sum(
            entry.verdict is Verdict.GOOD and last[serial].verdict is Verdict.GOOD
            for serial, entry in first.items()
        ),
        faulty=tuple(s for s, entry in last.items() if entry.verdict is Verdict.FAULTY),
        incomplete=tuple(s for s, entry in last.items() if entry.verdict is Verdict.INCOMPLETE),
        faults=tuple(sorted(faults.items(), key=lambda item: (-item[1], item[0]))),
        often=tuple(sorted(often, key=lambda item: (-item[1], item[0]))),
    )
