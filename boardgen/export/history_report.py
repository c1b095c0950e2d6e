"""The report's part about earlier revisions: kept pins, work carried over, known faults and their rework."""

from __future__ import annotations

from importlib import resources

from jinja2 import Environment, StrictUndefined

from boardgen.export.bundle import Bundle
from boardgen.export.history_data import rework_steps
from boardgen.export.rework_view import rework_svg
from boardgen.layout.history import History


def history_html(bundle: Bundle, history: History) -> str:
    """Return the tables ("" where there is nothing to tell); every word from a file is escaped.

    Rework is drawn for the faults of this very revision; an earlier one's board stands in its own report.
    """
    design = bundle.bound.design
    if history.kept is None and not history.carried and not design.errata:
        return ""
    environment = Environment(autoescape=True, undefined=StrictUndefined, trim_blocks=True)
    text = resources.files("boardgen.export").joinpath("report_history.html.j2").read_text("utf-8")
    errata = [
        {
            "revision": item.revision,
            "symptom": item.symptom,
            "cause": item.cause,
            "workaround": item.workaround,
            "fixed_in": item.fixed_in,
            "checks": item.checks,
            "steps": rework_steps(item),
            "picture": rework_svg(bundle.board, item) if item.revision == design.revision else "",
        }
        for item in design.errata
    ]
    return environment.from_string(text).render(kept=history.kept, carried=history.carried, errata=errata)
