"""The one place where what goes wrong becomes a message and an exit code."""

from __future__ import annotations

import contextlib
import json
import os
import sys
import traceback
from collections.abc import Callable

from boardgen.errors import BoardgenError, InputError, InputErrors

CLEAN = 0
FINDINGS = 1
INPUT = 2
MACHINE = 3
INTERRUPTED = 130  # 128 + SIGINT, as shells count
BROKEN_PIPE = 141  # 128 + SIGPIPE

TRACEBACK = "BOARDGEN_TRACEBACK"


def guarded(work: Callable[[], int], as_json: bool) -> int:
    """Run *work* and return its exit code; whatever it raises becomes words and a code.

    With *as_json* the errors also go to standard output as one JSON object.
    BOARDGEN_TRACEBACK=1 shows the traceback of an unexpected exception.
    """
    try:
        code = work()
        sys.stdout.flush()
        return code
    except KeyboardInterrupt:
        _say("boardgen: interrupted")
        return INTERRUPTED
    except BrokenPipeError:
        # the reader has gone: keep the interpreter's last flush from failing as well
        os.dup2(os.open(os.devnull, os.O_WRONLY), sys.stdout.fileno())
        return BROKEN_PIPE
    except BoardgenError as error:
        return _report(error, as_json)
    except OSError as error:
        place = f"{error.filename}: " if error.filename else ""
        reason = error.strerror or str(error) or type(error).__name__
        return _failed(f"{place}{reason}", as_json)
    except Exception as error:
        text = " ".join(str(error).split())[:300]
        detail = f"{type(error).__name__}: {text}" if text else type(error).__name__
        return _failed(f"internal error: {detail} (set {TRACEBACK}=1 to see where)", as_json)


def _say(text: str) -> None:
    """Say *text* on standard error, on one line, as well as that can be; what fails now is let go."""
    _answer("")
    with contextlib.suppress(OSError):
        sys.stderr.write(seen(text) + "\n")


def seen(text: str) -> str:
    r"""Return *text* with what shows nothing or commands a terminal as escapes (``\x1b``, ``\u202e``).

    File names and words out of files may hold anything: line ends, ECMA-48 sequences, marks that turn
    the direction of reading (Unicode categories C and Z but for the space).
    """
    return "".join(c if c.isprintable() else ascii(c)[1:-1] for c in text)


def _answer(text: str) -> None:
    """Put *text*, and what waits before it, on standard output as well as that can be."""
    try:
        sys.stdout.write(text)
        sys.stdout.flush()
    except OSError:  # full or gone: keep the interpreter's last flush from failing as well
        os.dup2(os.open(os.devnull, os.O_WRONLY), sys.stdout.fileno())


def open_streams() -> None:
    """Give standard streams that we got closed a place, so that no file takes their number."""
    for number, name in enumerate(("stdin", "stdout", "stderr")):
        if getattr(sys, name) is None:
            mode = os.O_WRONLY if number else os.O_RDONLY
            os.dup2(os.open(os.devnull, mode), number)
            setattr(sys, name, os.fdopen(number, "w" if number else "r", encoding="utf-8"))


def _report(error: BoardgenError, as_json: bool) -> int:
    errors = error.errors if isinstance(error, InputErrors) else (error,)
    for item in errors:
        _say(f"boardgen: {item}")
    if as_json:
        _write_json([error_record(item) for item in errors], error.exit_code)
    return error.exit_code


def _failed(message: str, as_json: bool) -> int:
    if os.environ.get(TRACEBACK) == "1":
        traceback.print_exc()
    _say(f"boardgen: {message}")
    if as_json:
        _write_json([{"message": message}], MACHINE)
    return MACHINE


def error_record(error: BoardgenError) -> dict[str, object]:
    """Return *error* for the JSON answer; keys that say nothing are left out."""
    if not isinstance(error, InputError):
        return {"message": str(error)}
    record = {
        "message": error.message,
        "file": error.where,
        "key": error.key,
        "line": error.line,
        "found": error.found,
        "allowed": error.allowed,
    }
    return {key: value for key, value in record.items() if value not in ("", None)}


def _write_json(errors: list[dict[str, object]], code: int) -> None:
    _answer(json.dumps({"errors": errors, "exit_code": code}, indent=2) + "\n")
