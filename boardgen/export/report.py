"""The report: one self-contained page a person reads before ordering."""

from __future__ import annotations

from importlib import resources

from jinja2 import Environment, StrictUndefined

from boardgen.board.geometry import outline_polygon
from boardgen.catalog.model import Source
from boardgen.errors import Severity
from boardgen.export.bundle import Bundle
from boardgen.export.cautions import cautions
from boardgen.export.files import OutFile, text_file
from boardgen.export.history_report import history_html
from boardgen.export.identity_report import identity_html
from boardgen.export.matrix_report import matrix_html
from boardgen.export.measured_report import measured_html
from boardgen.export.power_report import power_html
from boardgen.export.sheet import Sheet
from boardgen.export.sheet_svg import sheet_svg
from boardgen.export.signal_report import assumed_html, signals_html
from boardgen.export.summary import Check, RoutingFigures
from boardgen.layout.history import History
from boardgen.rules.spot import spot_svg
from boardgen.units import format_mm

_CAPTIONS = {"board": "The board as it will arrive, from the top and turned over."}


def _facts(bundle: Bundle, routing: RoutingFigures) -> list[tuple[str, str]]:
    left, top, right, bottom = (round(v) for v in outline_polygon(bundle.board.outline).bounds)
    bound = bundle.bound
    rows = [
        (f"{format_mm(right - left, 1)} × {format_mm(bottom - top, 1)} mm", "board size"),
        (bound.module.name, "module"),
        (f"{bound.connector.mpn}, {bound.connector.gender}", bound.connector.name),
        (bound.fab.name, "fab class"),
        (f"{routing.completed} of {routing.connections}", "connections routed"),
        (str(routing.vias), "vias"),
    ]
    if routing.links:
        rows.append((str(routing.links), "wire links to solder"))
    if routing.bound_mm > 0:
        share = routing.length_mm / routing.bound_mm
        rows.append((f"{routing.length_mm:.0f} mm", f"of track, {share:.2f} of the shortest possible"))
    rows.append((bundle.pinmap.digest(), "pin map"))
    return rows


def _findings(bundle: Bundle) -> list[dict[str, object]]:
    rows: list[dict[str, object]] = []
    for item in bundle.findings:
        where = "" if item.at is None else f"{format_mm(item.at.x, 2)}, {format_mm(item.at.y, 2)} mm"
        rows.append(
            {
                "rule": item.rule,
                "severity": str(item.severity),
                "message": item.message,
                "where": where,
                "layer": item.layer,
                "parties": item.items,
                "measured": None if item.measured is None else format_mm(item.measured),
                "limit": None if item.limit is None else format_mm(item.limit),
                "picture": spot_svg(bundle.board, item) if item.at is not None else "",
            }
        )
    return rows


def _sources(bundle: Bundle) -> list[str]:
    def words(owner: str, source: Source) -> str:
        bits = [source.document, source.place, source.what]
        return f"{owner}: " + ", ".join(bit for bit in bits if bit)

    bound = bundle.bound
    rows = [words(bound.module.name, s) for s in bound.module.sources]
    rows += [words(bound.connector.name, s) for s in bound.connector.sources]
    rows += [words(bound.fab.name, s) for s in bound.fab.sources]
    components = {p.component.id: p.component for p in bundle.plan.parts}
    for _id, component in sorted(components.items()):
        rows += [words(component.name, s) for s in component.sources]
    return rows


def report_file(
    bundle: Bundle,
    routing: RoutingFigures,
    checks: tuple[Check, ...],
    sheets: tuple[tuple[str, Sheet], ...],
    parts_list: list[tuple[str, ...]],
    history: History = History(),  # noqa: B008 - frozen
) -> OutFile:
    """Return ``report.html``; every word from a file is escaped, pictures are inline.

    *parts_list* is the bill of materials, header row first.
    """
    environment = Environment(autoescape=True, undefined=StrictUndefined, trim_blocks=True)
    template = environment.from_string(
        resources.files("boardgen.export").joinpath("report.html.j2").read_text("utf-8")
    )
    shown = {*_CAPTIONS, "connector-views", "assembly"}
    pictures = {stem: sheet_svg(sheet, whole=False) for stem, sheet in sheets if stem in shown}
    errors = sum(f.severity is Severity.ERROR for f in bundle.findings)
    html = template.render(
        board=bundle.board,
        design=bundle.bound.design,
        fit=errors == 0,
        errors=errors,
        facts=_facts(bundle, routing),
        cautions=cautions(bundle),
        board_pictures=[(_CAPTIONS[stem], svg) for stem, svg in pictures.items() if stem in _CAPTIONS],
        connector_picture=pictures["connector-views"],
        assembly_picture=pictures["assembly"],
        signals=signals_html(bundle),
        power=power_html(bundle.plan.power),
        assumed=assumed_html(bundle),
        history=history_html(bundle, history),
        identity=identity_html(bundle),
        rails=bundle.plan.rails,
        matrices=matrix_html(bundle.plan.matrices),
        measured=measured_html(bundle.measures),
        floor_words=bundle.floorplan.words,
        choices=[
            {"signal": c.request.signal, "pin": f"{c.pin_number} {c.pin_name}", "why": c.why}
            for c in bundle.pinmap.choices
        ],
        exclusions=bundle.pinmap.exclusions,
        findings=_findings(bundle),
        checks=[
            {
                "name": check.name,
                "passed": check.passed,
                "looked": ", ".join(f"{k}: {v}" for k, v in check.evidence.items()),
            }
            for check in checks
        ],
        bom=parts_list,
        sources=_sources(bundle),
        tool=bundle.tool,
        digest=bundle.pinmap.digest(),
    )
    return text_file("report.html", html)
