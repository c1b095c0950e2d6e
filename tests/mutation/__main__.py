"""``python -m tests.mutation [--boards 50] [--kind K] [--seed S] [--kept FILE]``: one JSON line a kind."""

from __future__ import annotations

import argparse
import json
import time
from dataclasses import asdict
from pathlib import Path

from tests.mutation import kinds
from tests.mutation.boards import bare, bundles, ground_of
from tests.mutation.run import findings_of, many, many_in_text, words, written
from tests.mutation.text_kinds import TEXT_KINDS


def main() -> int:
    parser = argparse.ArgumentParser(prog="python -m tests.mutation", description=__doc__)
    parser.add_argument("--boards", type=int, default=50, help="faults a kind, on as many boards")
    parser.add_argument("--kind", action="append", help="only this kind (may be given again)")
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--kept", type=Path, help="a file to keep the clean boards in between runs")
    told = parser.parse_args()
    all_bundles = bundles(kept=told.kept)
    made = [ground_of(b.stem, b) for b in all_bundles]
    unclean = 0
    for ground in made:
        for base in (ground, bare(ground)):
            found = findings_of(base)
            if found:
                unclean += 1
                print(json.dumps({"clean": ground.name, "findings": words(found)}), flush=True)
    print(json.dumps({"clean boards": 2 * len(made), "with findings": unclean}), flush=True)
    bad = unclean
    wanted = [n for n in (*kinds.KINDS, *TEXT_KINDS) if not told.kind or n in told.kind]
    files = [written(b) for b in all_bundles] if any(n in TEXT_KINDS for n in wanted) else []
    for name in wanted:
        start = time.perf_counter()
        if name in TEXT_KINDS:
            rule = TEXT_KINDS[name].rule
            row = many_in_text(TEXT_KINDS[name], files, told.boards, told.seed)
        else:
            rule = kinds.KINDS[name].rule
            row = many(kinds.KINDS[name], made, told.boards, told.seed)
        short = {**asdict(row), "rule": rule, "wrong": row.wrong[:5]}
        short["seconds"] = round(time.perf_counter() - start, 1)
        print(json.dumps(short), flush=True)
        bad += row.planted < told.boards or row.right_rule < row.planted or row.false_alarms > 0
    return 1 if bad else 0


if __name__ == "__main__":
    raise SystemExit(main())
