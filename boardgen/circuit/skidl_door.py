"""The one door to SKiDL: values in, values out, its global state held under a lock.

Importing SKiDL truncates log files in the working directory, prints warnings,
makes folders in the home directory and loads a simulator; this module keeps
all of that inside a temporary folder and leaves nothing behind.
"""

from __future__ import annotations

import builtins
import contextlib
import inspect
import logging
import os
import random
import re
import sys
import tempfile
import threading
from collections.abc import Iterator
from dataclasses import dataclass
from types import ModuleType
from typing import Any

from boardgen.errors import MachineError
from boardgen.filing import reason, scratch_folder

_LOCK = threading.RLock()
_UNWANTED = "InSpice"  # a simulator SKiDL would load, and with it a plotting library
_ROLES = {
    "passive": "PASSIVE",
    "bidirectional": "BIDIR",
    "power-in": "PWRIN",
    "power-out": "PWROUT",
    "no-connect": "NOCONNECT",
}


@dataclass(frozen=True, slots=True)
class DoorPin:
    """A pin as it goes in; *net* None leaves it open on purpose."""

    number: str
    name: str
    role: str
    net: str | None


@dataclass(frozen=True, slots=True)
class DoorPart:
    """A part as it goes in; *ref* also serves as its tag."""

    ref: str
    value: str
    footprint: str
    pins: tuple[DoorPin, ...]


@dataclass(frozen=True, slots=True)
class DoorResult:
    """What comes out: nets with their (ref, pin number) pairs, all sorted; the ERC's
    (level, message) pairs, sorted; the hierarchical name of each part; the netlist file.
    """

    nets: tuple[tuple[str, tuple[tuple[str, str], ...]], ...]
    messages: tuple[tuple[str, str], ...]
    names: tuple[tuple[str, str], ...]
    text: str


class _Collector(logging.Handler):
    """Keeps the records of one ERC run."""

    def __init__(self) -> None:
        super().__init__(logging.INFO)
        self.records: list[tuple[str, str]] = []

    def emit(self, record: logging.LogRecord) -> None:
        if record.levelno >= logging.WARNING:
            self.records.append((record.levelname.lower(), record.getMessage()))


def _plain_stack(context: int = 1) -> list[inspect.FrameInfo]:
    """Return the call stack as inspect.stack does, without looking for any source text."""
    del context
    frames = []
    frame = sys._getframe(1)
    while frame is not None:
        code = frame.f_code
        frames.append(inspect.FrameInfo(frame, code.co_filename, frame.f_lineno, code.co_name, None, None))
        frame = frame.f_back  # type: ignore[assignment]
    return frames


@contextlib.contextmanager
def _quick_stack() -> Iterator[None]:
    """Let SKiDL, which records who made what, do so without searching every loaded module.

    With the router's libraries loaded, inspect.stack takes most of the time otherwise.
    """
    usual = inspect.stack
    inspect.stack = _plain_stack
    try:
        yield
    finally:
        inspect.stack = usual


def _working_directory() -> str | None:
    try:
        return str(os.getcwd())  # noqa: PTH109 - a folder that is gone must not raise here
    except OSError:
        return None


@contextlib.contextmanager
def _apart() -> Iterator[None]:
    """Run the import in a temporary folder with logging off; put everything back."""
    before = _working_directory()
    xdg, simulator = os.environ.get("XDG_DATA_HOME"), sys.modules.get(_UNWANTED)
    had = _UNWANTED in sys.modules
    logger_class, disabled = logging.getLoggerClass(), logging.root.manager.disable
    with contextlib.ExitStack() as kept:
        try:
            name = str(kept.enter_context(scratch_folder("boardgen-circuit")))
        except OSError as error:
            raise MachineError(f"no temporary folder can be made: {reason(error)}") from error
        try:
            os.environ["XDG_DATA_HOME"] = name
            sys.modules[_UNWANTED] = None  # type: ignore[assignment]
            logging.disable(logging.CRITICAL)
            os.chdir(name)
            yield
        finally:
            if before is not None:
                with contextlib.suppress(OSError):
                    os.chdir(before)
            else:
                os.chdir(tempfile.gettempdir())
            logging.disable(disabled)
            logging.setLoggerClass(logger_class)
            if had and simulator is not None:
                sys.modules[_UNWANTED] = simulator
            else:
                sys.modules.pop(_UNWANTED, None)
            if xdg is None:
                os.environ.pop("XDG_DATA_HOME", None)
            else:
                os.environ["XDG_DATA_HOME"] = xdg


def _skidl() -> ModuleType:
    """Import SKiDL once, quietly; must be called under the lock."""
    loaded = sys.modules.get("skidl")
    if loaded is not None and getattr(loaded, "_boardgen_quiet", False):
        return loaded
    state = random.getstate()
    with _apart():
        import skidl  # noqa: PLC0415 - deferred: the import has effects that have to be fenced

        skidl.logger.rt_logger.stop_file_output()
        skidl.logger.erc_logger.stop_file_output()
        for logger in (skidl.logger.rt_logger, skidl.logger.erc_logger):
            for handler in list(logger.handlers):
                logger.removeHandler(handler)
                handler.close()
            logger.addHandler(logging.NullHandler())
        builtins.default_circuit.no_files = True  # type: ignore[attr-defined] # where SKiDL keeps it
        skidl._boardgen_quiet = True
    random.setstate(state)
    return skidl  # type: ignore[no-any-return]


def _blank(text: str) -> str:
    """Blank what differs between two runs: the date, and the source file's path."""
    text = re.sub(r'\(date\s+"[^"]*"\)', '(date "")', text)
    return re.sub(r'\(source\s+"[^"]*"\)', '(source "")', text)


def pass_through(parts: tuple[DoorPart, ...], powered: tuple[str, ...]) -> DoorResult:
    """Build the circuit in SKiDL, check it, and read it back.

    *powered* names the nets that are fed from outside the circuit (ground).
    Prints nothing, leaves no file, and may be called from any thread.
    """
    with _LOCK, _quick_stack():
        skidl = _skidl()
        state = random.getstate()  # SKiDL draws from the global generator
        try:
            circuit = _build(skidl, parts, powered)
            messages = _erc(skidl, circuit)
            text = circuit.generate_netlist(tool=skidl.KICAD9, do_backup=False, track_src=False)
            nets = _read_back(circuit)
            names = tuple(sorted((str(p.ref), str(p.hiername)) for p in circuit.parts))
        finally:
            random.setstate(state)
    return DoorResult(nets, messages, names, _blank(str(text)))


def _build(skidl: Any, parts: tuple[DoorPart, ...], powered: tuple[str, ...]) -> Any:
    circuit = skidl.Circuit()
    circuit.no_files = True
    nets: dict[str, Any] = {}
    for part in parts:
        pins = [
            skidl.Pin(
                num=pin.number, name=pin.name or pin.number, func=getattr(skidl.Pin.types, _ROLES[pin.role])
            )
            for pin in part.pins
        ]
        made = skidl.Part(
            name=part.value or part.ref,
            tool=skidl.SKIDL,
            ref=part.ref,
            tag=part.ref,
            value=part.value,
            footprint=part.footprint,
            pins=pins,
            circuit=circuit,
        )
        for pin in part.pins:
            if pin.net is None:
                net = circuit.NC
            elif pin.net in nets:
                net = nets[pin.net]
            else:
                net = nets[pin.net] = skidl.Net.fetch(pin.net, circuit=circuit)
            net += made.p[pin.number]
    for name in powered:
        if name in nets:
            nets[name].drive = skidl.POWER
    return circuit


def _erc(skidl: Any, circuit: Any) -> tuple[tuple[str, str], ...]:
    collector = _Collector()
    logger = skidl.logger.erc_logger
    logger.addHandler(collector)
    try:
        circuit.ERC()
    finally:
        logger.removeHandler(collector)
    return tuple(sorted(collector.records))


def _read_back(circuit: Any) -> tuple[tuple[str, tuple[tuple[str, str], ...]], ...]:
    rows = []
    for net in circuit.get_nets():
        pins = sorted((str(pin.part.ref), str(pin.num)) for pin in net.pins)
        rows.append((str(net.name), tuple(pins)))
    return tuple(sorted(rows))
