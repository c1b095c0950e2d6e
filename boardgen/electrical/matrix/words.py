"""Sentences about a matrix, for findings, report and firmware files alike."""

from __future__ import annotations

from collections.abc import Iterable

from boardgen.electrical.matrix.model import Change, Fault, MatrixStudy, Share


def listing(names: Iterable[str], most: int = 6) -> str:
    """Return "A, B and C", or the first few "and 7 more"."""
    every = list(names)
    if len(every) > most:
        return f"{', '.join(every[:most])} and {len(every) - most} more"
    return " and ".join((", ".join(every[:-1]), every[-1])) if len(every) > 1 else "".join(every)


def count_of(number: int, what: str) -> str:
    """Return "1 key" or "2 keys"."""
    return f"{number} {what}{'' if number == 1 else 's'}"


def change_words(change: Change) -> str:
    """Return what to do: two keys change places, or one moves to a free crossing."""
    if change.other:
        return f"exchange the wires of {change.key} and {change.other}"
    return f"move {change.key} to the free crossing of {change.read} and {change.driven}"


def fault_words(fault: Fault, series_most: int) -> str:
    """Return which key shows and why: the way its current takes.

    *series_most* diodes in a row still pull a line low for certain.
    """
    when = "before it is pressed" if fault.inside else "though nobody presses it"
    text = f"{fault.key} shows {when}, by way of {' - '.join(fault.path)}"
    if fault.diodes <= max(0, series_most):
        return text
    return f"{text} (through {count_of(fault.diodes, 'diode')} in series, so not for certain)"


def share_words(share: Share) -> str:
    """Return "any 3 keys: 8760 of 9880 combinations read right (88.7 %)"."""
    percent = 100 * share.right / share.of if share.of else 100.0
    return f"{share.keys} keys: {share.right} of {share.of} combinations read right ({percent:.1f} %)"


def rollover_words(study: MatrixStudy) -> str:
    """Return how many keys may be held whatever they are."""
    most = study.rollover.guaranteed
    if most is None:
        return "any number of keys may be held"
    if most == 0:
        return "not every key can be read"
    return f"any {most} keys may be held" if most > 1 else "one key at a time reads right, not any two"


def phantom_words(study: MatrixStudy) -> str:
    """Return how many sets of keys show another one."""
    found = study.phantoms
    if not found.sizes:
        return "no keys held together show another one"
    (size, count), *more = found.sizes
    bits = [f"{count_of(count, 'set')} of {size} keys", *(f"{count} of {size}" for size, count in more)]
    text = f"{listing(bits)} show one that is not held"
    if found.exact_to is not None:
        text += f" (sets of more than {found.exact_to} keys were not counted)"
    return text


def mending_words(study: MatrixStudy) -> tuple[str, ...]:
    """Return what would mend the matrix, a sentence each, the least first."""
    plan, said = study.mending, []
    if plan.turned:
        said.append(f"turn the {turned_words(plan.turned)} round; what follows takes that as done")
    if plan.diodes:
        least = "" if plan.at_least == len(plan.diodes) else f" (at least {plan.at_least} are needed)"
        diodes = "a diode" if len(plan.diodes) == 1 else f"{len(plan.diodes)} diodes"
        said.append(f"{diodes} in series with {listing(plan.diodes)} would mend the groups{least}")
    for chain in plan.rewirings:
        said.append(f"or {listing(map(change_words, chain))}: that would do as well")
    three = plan.diodes_for_three
    if three:
        if len(three) == len(study.wiring.keys):
            text = "for any three keys to read right, each key needs a diode"
        else:
            text = f"for any three keys to read right, {len(three)} keys need a diode: {listing(three)}"
        said.append(f"{text}; its cathode toward the {cathode_side(study)}")
    return tuple(said)


def turned_words(names: tuple[str, ...]) -> str:
    """Return "diode of A" or "diodes of A and B"."""
    return f"diode{'' if len(names) == 1 else 's'} of {listing(names)}"


def against_words(study: MatrixStudy) -> str:
    """Return why keys whose diodes point both ways are not all read, and which drive misses the fewest."""
    seen = tuple(key.name for key in study.wiring.keys if key.diode and key.ahead)
    drive, other = study.drive, "columns" if study.drive == "rows" else "rows"
    few, turn = (study.unread, drive) if len(study.unread) <= len(seen) else (seen, other)
    return (
        f'The diodes point both ways, so that no drive reads every key: drive = "{drive}" misses '
        f'{listing(study.unread)}, "{other}" misses {listing(seen)}. '
        f'With drive = "{turn}", turn the {turned_words(few)} round.'
    )


def cathode_side(study: MatrixStudy) -> str:
    """Return which line a diode's cathode belongs on: the one that is pulled low."""
    return "row" if study.drive == "rows" else "column"


def level_words(study: MatrixStudy) -> str:
    """Return the low level of a closed key with its sum."""
    low, levels = study.level, study.levels
    sum_ = f"output {levels.vol_v:.2f} V"
    if low.diodes:
        sum_ += f", diode {levels.drop_v:.2f} V"
    sum_ += f", contact {low.current_a * levels.contact_ohms:.2f} V ({low.current_a * 1000:.2f} mA through "
    sum_ += f"{levels.contact_ohms:g} ohm)"
    return (
        f"a closed key gives {low.low_v:.2f} V: {sum_}; the module reads low under {levels.vil_v:.2f} V; "
        + (
            f"a contact reads up to {low.worst_ohms:.0f} ohm"
            if low.worst_ohms
            else "not even a perfect contact reads"
        )
    )


def high_words(study: MatrixStudy) -> str:
    """Return the level of a line at rest, and how well its open keys must insulate."""
    high, levels = study.high, study.levels
    text = f"a line at rest stands at {high.high_v:.2f} V; the module reads high over {levels.vih_v:.2f} V"
    if high.margin_v <= 0:
        return text
    return f"{text}; all open keys of a line together must measure over {high.open_ohms / 1000:.0f} kohm"


def timing_words(study: MatrixStudy) -> str:
    """Return the wait and what it rests on."""
    timing = study.timing
    slow = max(timing.lines, key=lambda line: line.rise_us, default=None)
    if slow is None:
        return "no line to settle"
    return (
        f"wait {timing.wait_us} us after each strobe: {slow.line} rises to {study.levels.vih_v:.2f} V in "
        f"{slow.rise_us:.1f} us ({slow.pull_ohms / 1000:.0f} kohm, {slow.own_pf:.0f} pF of its own and "
        f"{slow.joined_pf:.0f} pF of {timing.held} lines joined by held keys), twice that is waited; "
        f"{timing.scan_hz:.0f} scans a second"
    )
