"""``python -m tests.mutation [--boards 50] [--on model|text|cad] [--kind K] [--seed S] [--kept FILE]``.

One JSON line a kind. Without ``--on``, faults of the model, then of written text, then of the CAD board;
with ``--kind``, the clean boards are not judged first.
"""

from __future__ import annotations

import argparse
import json
import time
from collections.abc import Callable, Iterator
from dataclasses import asdict
from functools import partial
from pathlib import Path

from boardgen.errors import Finding
from boardgen.export.bundle import Bundle
from boardgen.export.cad_files import board_files
from tests.mutation.boards import bare, bundles, ground_of
from tests.mutation.cad_run import NOT_IN_CAD, cad_ground, findings_of_cad, many_in_cad, rules_in_cad
from tests.mutation.kinds import KINDS
from tests.mutation.run import Tally, findings_of, many, many_in_text, words, written
from tests.mutation.text_kinds import TEXT_KINDS, examined

Job = tuple[str, str, Callable[[int, int], Tally]]  # a kind, its rule; its work: how many, from which seed
Clean = Iterator[tuple[str, tuple[Finding, ...]]]  # a board's name, and what is found on it


def _on_model(made: list[Bundle]) -> tuple[Clean, Iterator[Job]]:
    """The clean boards with what is found on them, whole and bare; and each kind with its work."""
    grounds = [ground_of(bundle.stem, bundle) for bundle in made]
    bases = [base for ground in grounds for base in (ground, bare(ground))]
    return (
        ((base.name, findings_of(base)) for base in bases),
        ((k.name, k.rule, partial(many, k, grounds)) for k in KINDS.values()),
    )


def _on_text(made: list[Bundle]) -> tuple[Clean, Iterator[Job]]:
    files = [written(bundle) for bundle in made]
    return (
        ((on.bundle.stem, examined(on.files, on.bundle).findings) for on in files),
        ((k.name, k.rule, partial(many_in_text, k, files)) for k in TEXT_KINDS.values()),
    )


def _on_cad(made: list[Bundle]) -> tuple[Clean, Iterator[Job]]:
    bases = {stripped: [cad_ground(bundle, stripped) for bundle in made] for stripped in (False, True)}
    kinds = [kind for kind in KINDS.values() if kind.name not in NOT_IN_CAD]
    return (
        (
            (base.ground.name, findings_of_cad(base.intent, board_files(base.bundle)))
            for base in (*bases[False], *bases[True])
        ),
        (
            (f"cad-{k.name}", " or ".join(rules_in_cad(k)), partial(many_in_cad, k, bases[k.bare]))
            for k in kinds
        ),
    )


LEVELS = {"model": _on_model, "text": _on_text, "cad": _on_cad}


def _judge_clean(clean: Clean, level: str) -> int:
    """Print how many boards have findings before anything is planted, and each of these; returns how many."""
    found = [(name, bool(said), words(said)) for name, said in clean]
    for name, bad, said in found:
        if bad:
            print(json.dumps({"clean": name, "on": level, "findings": said}), flush=True)
    count = sum(bad for _, bad, _ in found)
    print(json.dumps({"clean boards": len(found), "on": level, "with findings": count}), flush=True)
    return count


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
    bad = 0
    for level in LEVELS if told.on is None else (told.on,):
        clean, jobs = LEVELS[level](made)
        if not told.kind:
            bad += _judge_clean(clean, level)
        for name, rule, work in jobs:
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
