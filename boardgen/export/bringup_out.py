"""The plan as files: page to print, page for a screen, form for readings."""

from __future__ import annotations

import csv
import io
from importlib import resources

from jinja2 import Environment, StrictUndefined

from boardgen.export.bringup_data import plan_data
from boardgen.export.bringup_model import Plan
from boardgen.export.bringup_sheets import bringup_sheets
from boardgen.export.files import OutFile, text_file
from boardgen.export.sheet_pdf import sheets_pdf
from boardgen.export.summary import json_file
from boardgen.palette import BODY, FAINT, INK, MARK, PAPER

PLAN, READINGS = "bringup/plan.json", "bringup/readings.csv"
SERIALS = ("1", "2", "3", "4", "5")  # a first order is five boards
HEADS = ("test", "stage", "kind", "a", "b", "what", "expected")


def plan_files(plan: Plan, tool: str) -> tuple[OutFile, ...]:
    """Return the sheets, the form for readings and the plan that judging uses."""
    title = f"{plan.design} revision {plan.revision}: bring-up"
    return (
        OutFile("bringup/sheets.pdf", sheets_pdf(bringup_sheets(plan, tool), title)),
        text_file("bringup/sheets.html", _html(plan, tool)),
        text_file(READINGS, readings_form(plan)),
        json_file(PLAN, plan_data(plan, tool)),
    )


def readings_form(plan: Plan) -> str:
    """Return the form: whose readings they are, then a row a test with a column a serial number."""
    out = io.StringIO()
    writer = csv.writer(out, lineterminator="\n")
    writer.writerows((["design", plan.design], ["revision", plan.revision], ["pin map", plan.pin_map]))
    writer.writerow([*HEADS, *SERIALS])
    for test in plan.tests:
        cells = [test.id, test.stage, test.kind, test.a, test.b, _plain(test.label), _plain(test.expected)]
        writer.writerow([*cells, *("" for _ in SERIALS)])
    return out.getvalue()


def _plain(text: str) -> str:
    """Return *text* on one line, and so that no spreadsheet takes it for a formula ("-12V to GND")."""
    text = " ".join(text.split())
    return f"'{text}" if text.startswith(("=", "+", "-", "@")) else text


def _html(plan: Plan, tool: str) -> str:
    environment = Environment(autoescape=True, undefined=StrictUndefined, trim_blocks=True)
    text = resources.files("boardgen.export").joinpath("bringup_page.html.j2").read_text("utf-8")
    colours = {"ink": INK, "paper": PAPER, "mark": MARK, "body": BODY, "faint": FAINT}
    return environment.from_string(text).render(plan=plan, tool=tool, **colours)
