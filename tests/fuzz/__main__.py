"""Coverage-guided fuzzing of one reader: ``python -m tests.fuzz --reader NAME --seconds N``.

Needs atheris (the optional extra ``fuzz``). A crash (anything but BoardgenError) or an input that takes more
than SLOW seconds of CPU time is saved as a small file in ``tests/fuzz/found/NAME/`` the first time its place
turns up, told, and the run goes on; too much memory, or two minutes on one input, end the run, the input
saved. At the end it prints one JSON line: seconds, executions, what was found.
"""

from __future__ import annotations

import argparse
import contextlib
import hashlib
import json
import os
import subprocess
import sys
import tempfile
import time
import traceback
from pathlib import Path

HERE = Path(__file__).parent
sys.path.insert(0, str(HERE))

import atheris  # noqa: E402 - beside it stands readers_run.py

SLOW = 5.0
FOUND = HERE / "found"


def place_of(error: BaseException) -> str:
    """Return an exception's kind and the line of ours it passed last: they tell one crash from another."""
    lines = [f for f in traceback.extract_tb(error.__traceback__) if "boardgen" in f.filename]
    last = lines[-1] if lines else traceback.extract_tb(error.__traceback__)[-1]
    return f"{type(error).__name__} in {Path(last.filename).name}:{last.lineno}"


def main() -> int:
    """Read the options and fuzz."""
    parser = argparse.ArgumentParser(description="Fuzz one reader.")
    parser.add_argument("--reader", required=True)
    parser.add_argument("--seconds", type=int, default=60)
    parser.add_argument("--seed", type=int, default=1)
    given = parser.parse_args()
    scratch = tempfile.TemporaryDirectory(prefix="fuzz-")
    folder = Path(scratch.name)
    inputs, work = folder / "corpus", folder / "work"
    desk = folder / "desk"
    inputs.mkdir()
    desk.mkdir()
    work.mkdir()
    # seeds are made in another process, so that everything is yet to be loaded and instrumented here
    subprocess.run(
        [sys.executable, str(HERE / "readers_run.py"), given.reader, str(inputs), str(desk)], check=True
    )
    os.environ["BOARDGEN_FUZZ_DESK"] = str(desk)
    import boardgen.matching  # noqa: F401 - has compiled kernels, which cannot be instrumented

    with atheris.instrument_imports(include=["boardgen", "gerbonara", "ezdxf", "sexpdata", "skip"]):
        from readers_run import READERS

        from boardgen.errors import BoardgenError

        reader = READERS[given.reader]
        for seed in sorted(inputs.iterdir()):
            with contextlib.suppress(BoardgenError):
                reader.take(seed.read_bytes(), work)  # loads what is loaded late
    target = FOUND / given.reader
    target.mkdir(parents=True, exist_ok=True)
    known: dict[str, str] = {}
    state = {"executions": 0, "slowest": 0.0}
    began = time.monotonic()

    def keep(place: str, data: bytes) -> None:
        if place in known:
            return
        name = hashlib.sha256(data).hexdigest()[:16]
        known[place] = name
        (target / name).write_bytes(data)
        print(f"found {place}: {target.name}/{name}, {len(data)} bytes", file=sys.stderr, flush=True)

    def summary() -> None:
        told = {
            "reader": given.reader,
            "seconds": round(time.monotonic() - began),
            "executions": state["executions"],
            "slowest_s": round(state["slowest"], 2),
            "found": known,
        }
        print(json.dumps(told), flush=True)

    def one(data: bytes) -> None:
        state["executions"] += 1
        start = time.process_time()
        try:
            reader.take(data, work)
        except BoardgenError:
            pass
        except Exception as error:
            keep(place_of(error), data)
        used = time.process_time() - start
        state["slowest"] = max(state["slowest"], used)
        if used > SLOW:
            keep(f"slow, {used:.0f} s", data)
        if time.monotonic() - began > given.seconds:
            summary()
            os._exit(0)

    words = folder / "words"
    lines = ("".join(f"\\x{byte:02x}" for byte in word) for word in reader.words)
    words.write_text("".join(f'"{line}"\n' for line in lines))
    options = [
        sys.argv[0],
        f"-max_len={reader.longest}",
        f"-dict={words}",
        f"-seed={given.seed}",
        "-timeout=120",
        "-rss_limit_mb=3000",
        f"-artifact_prefix={target}/",  # what takes too much time or memory ends the run and is left there
        f"-max_total_time={given.seconds + 30}",
        "-print_final_stats=0",
        "-verbosity=0",
        str(inputs),
    ]
    atheris.Setup(options, one)
    atheris.Fuzz()
    return 0


if __name__ == "__main__":
    sys.exit(main())
