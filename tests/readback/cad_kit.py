"""Exported boards read back, and their text edited as a person's CAD program would leave it."""

from __future__ import annotations

import functools
from collections.abc import Callable

from runkit import bundle_of, files_of, path_of

from boardgen.board.model import Board
from boardgen.board.move import moved_board
from boardgen.errors import Finding, Severity
from boardgen.export.cad_board import sheet_place
from boardgen.footprint.sexpr import Node, child, children, dump, head, parse, words
from boardgen.pipeline.cad_intent import intent_of_bundle
from boardgen.readback.cad_board import CadBoard, Intent, against_design, read_cad_board
from boardgen.rules.check import check_board

DEMOS = ("lecture-keypad", "pointer-handset", "slide-remote", "dome-fader", "chart-ball")
Edit = Callable[[Node], None]


def board_file(name: str) -> bytes:
    files = files_of(name)
    return files[path_of(files, ".kicad_pcb")]


def project_file(name: str) -> bytes:
    files = files_of(name)
    return files[path_of(files, ".kicad_pro")]


@functools.cache
def intent(name: str) -> Intent:
    return intent_of_bundle(bundle_of(name))


def read(name: str, edit: Edit | None = None, data: bytes | None = None) -> CadBoard:
    """Return the demo's exported board, its lists changed by *edit*."""
    data = board_file(name) if data is None else data
    if edit is not None:
        tree = parse(data.decode())
        edit(tree)
        data = dump(tree).encode()
    wanted = intent(name)
    known = wanted.kinds(), project_file(name), name, wanted.standoffs(), wanted.fronts(), wanted.serving()
    return read_cad_board(data, f"{name}.kicad_pcb", wanted.fab, *known)


def findings(name: str, edit: Edit | None = None) -> list[Finding]:
    """Return all that reading, rules and comparison find on the edited board."""
    board = read(name, edit)
    wanted = intent(name)
    report = check_board(board.board, None, wanted.fab)
    return [*board.findings, *report.findings, *against_design(board, wanted).findings]


def told(found: list[Finding], least: Severity = Severity.WARNING) -> set[str]:
    order = list(Severity)
    return {f.rule for f in found if order.index(f.severity) <= order.index(least)}


def model_in_file(name: str) -> Board:
    """Return the model moved to where the exporter puts it on its sheet."""
    board = bundle_of(name).board
    return moved_board(board, sheet_place(board)[1])


def footprint(tree: Node, ref: str) -> Node:
    for node in children(tree, "footprint"):
        for item in (*children(node, "fp_text"), *children(node, "property")):
            if str(item[1]).casefold() == "reference" and item[2] == ref:
                return node
    raise KeyError(ref)


def pad(tree: Node, ref: str, number: str) -> Node:
    return next(p for p in children(footprint(tree, ref), "pad") if p[1] == number)


__all__ = ["child", "children", "head", "words"]
