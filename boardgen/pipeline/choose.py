"""Which module: the design's own, or the smallest that carries it; and advice where one does not."""

from __future__ import annotations

from dataclasses import replace

from boardgen.catalog.load import Catalog
from boardgen.circuit.assign import misfit
from boardgen.design.bind import bind
from boardgen.design.model import BoundDesign, Design
from boardgen.electrical.model import ElectricalPlan
from boardgen.electrical.plan import plan_signals
from boardgen.errors import BoardgenError, InputError, InputErrors, Severity


def choose_module(design: Design, catalog: Catalog) -> BoundDesign:
    """Bind *design*; for "auto", to the smallest module that carries every signal without an error."""
    if design.module != "auto":
        return bind(design, catalog)
    reasons: list[str] = []
    said: list[dict[str, InputError]] = []  # per module: what its binding says
    for module in sorted(catalog.modules.values(), key=lambda m: (len(m.pins), m.id)):
        try:
            bound = bind(design, catalog, module.id)
            plan = plan_signals(bound, catalog)
        except BoardgenError as error:
            errors = _inputs(error)
            said.append({str(item): item for item in errors})
            reasons.append(f"{module.id}: {errors[0].message if errors else error}")
            continue
        said.append({})
        wrong = [f.message for f in plan.findings if f.severity is Severity.ERROR]
        reason = wrong[0] if wrong else misfit(module, plan, bound.design)
        if not reason:
            return bound
        short = reason.partition(":")[0].removeprefix("module ")  # "pico-2 is 4 pins short"
        reasons.append(f"{module.id}: {wrong[0]}" if wrong else short)
    everywhere = [item for text, item in (said or [{}])[0].items() if all(text in other for other in said)]
    if everywhere:
        raise InputErrors(everywhere)  # wrong whatever the module
    raise InputError(
        "no module of the catalogue carries this design",
        design.origin,
        "module",
        design.line_of("module"),
        found="; ".join(reasons),
    )


def _inputs(error: BoardgenError) -> tuple[InputError, ...]:
    if isinstance(error, InputErrors):
        return error.errors
    return (error,) if isinstance(error, InputError) else ()


def fitting_modules(bound: BoundDesign, catalog: Catalog) -> tuple[str, ...]:
    """Return the ids of modules that would carry the same design, smallest first."""
    found = []
    for module in sorted(catalog.modules.values(), key=lambda m: (len(m.pins), m.id)):
        design = replace(bound.design, fixed=(), waivers=())
        try:
            other = bind(design, catalog, module.id)
            plan = plan_signals(other, catalog)
        except BoardgenError:
            continue
        errors = any(f.severity is Severity.ERROR for f in plan.findings)
        if not errors and not misfit(module, plan, other.design):
            found.append(module.id)
    return tuple(found)


def pins_or_advice(bound: BoundDesign, plan: ElectricalPlan, catalog: Catalog) -> None:
    """Raise InputError, with the modules that would fit, where the module lacks pins for *plan*."""
    reason = misfit(bound.module, plan, bound.design)
    if reason:
        fits = ", ".join(fitting_modules(bound, catalog)) or "no module of the catalogue fits"
        line = bound.design.line_of("module")
        raise InputError(reason, bound.design.origin, "module", line, bound.module.id, fits)
