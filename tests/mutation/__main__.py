"""``python -m tests.mutation [--boards 50] [--on model|text|cad] [--kind K] [--seed S] [--kept FILE]``.

One JSON line a kind. Without ``--on``, faults of the model, then of written text, then of the CAD board.
"""

from __future__ import annotations

import argparse
import json
import time
from collections.abc import Callable, Iterator
from dataclasses import asdict
from pathlib import Path

from boardgen.export.bundle import Bundle
from tests.mutation.boards import Ground, bare, bundles, ground_of
from tests.mutation.cad_run import NOT_IN_CAD, cad_ground, many_in_cad, rules_in_cad
from tests.mutation.kinds import KINDS
from tests.mutation.run import Tally, findings_of, many, many_in_text, words, written
from tests.mutation.text_kinds import TEXT_KINDS

Work = Callable[[int, int], Tally]  # how many, from which seed


def _unclean(grounds: list[Ground]) -> int:
    """How many of the boards, whole and bare, have findings before anything is planted; each is printed."""
    count = 0
    for ground in grounds:
        for base in (ground, bare(ground)):
            found = findings_of(base)
            if found:
                count += 1
                print(json.dumps({"clean": ground.name, "findings": words(found)}), flush=True)
    return count


def _jobs(made: list[Bundle], grounds: list[Ground], on: str | None) -> Iterator[tuple[str, str, Work]]:
    """Yield each kind's name, its rule and the work of planting it."""
    if on in (None, "model"):
        for kind in KINDS.values():
            yield kind.name, kind.rule, lambda n, s, k=kind: many(k, grounds, n, s)
    if on in (None, "text"):
        files = [written(bundle) for bundle in made]
        for text in TEXT_KINDS.values():
            yield text.name, text.rule, lambda n, s, k=text: many_in_text(k, files, n, s)
    if on in (None, "cad"):
        bases = {bare_: [cad_ground(bundle, bare_) for bundle in made] for bare_ in (False, True)}
        for kind in KINDS.values():
            if kind.name not in NOT_IN_CAD:
                rule = " or ".join(rules_in_cad(kind))
                yield f"cad-{kind.name}", rule, lambda n, s, k=kind: many_in_cad(k, bases[k.bare], n, s)


def main() -> int:
    parser = argparse.ArgumentParser(prog="python -m tests.mutation", description=__doc__)
    parser.add_argument("--boards", type=int, default=50, help="faults a kind, on as many boards")
    parser.add_argument(
        "--on", choices=("model", "text", "cad"), help="where to plant; everywhere without it"
    )
    parser.add_argument("--kind", action="append", help="only this kind (may be given again)")
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--kept", type=Path, help="a file to keep the clean boards in between runs")
    told = parser.parse_args()
    made = bundles(kept=told.kept)
    grounds = [ground_of(bundle.stem, bundle) for bundle in made]
    bad = _unclean(grounds)
    print(json.dumps({"clean boards": 2 * len(made), "with findings": bad}), flush=True)
    for name, rule, work in _jobs(made, grounds, told.on):
        if told.kind and name not in told.kind:
            continue
        start = time.perf_counter()
        row = work(told.boards, told.seed)
        line = {**asdict(row), "rule": rule, "wrong": row.wrong[:5]}
        line["seconds"] = round(time.perf_counter() - start, 1)
        print(json.dumps(line), flush=True)
        bad += row.planted < told.boards or row.right_rule < row.planted or row.false_alarms > 0
    return 1 if bad else 0


if __name__ == "__main__":
    raise SystemExit(main())
