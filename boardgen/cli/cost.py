"""The ``cost`` command."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path
from typing import TYPE_CHECKING

from boardgen.cli.guard import CLEAN, FINDINGS
from boardgen.cli.out import progress, write_json, write_lines, write_table
from boardgen.errors import InputError

if TYPE_CHECKING:
    from boardgen.order.cost_model import Bill, Estimate, Quote


def run(
    path: Path,
    table: Path,
    quantities: str | None,
    need: int | None,
    plot: Path | None,
    catalogs: Sequence[Path],
    as_json: bool,
) -> int:
    """Say what the run at *path* costs by the price table in the file *table*; returns the exit code."""
    from boardgen.order.cost import checked_count, estimate, quantities_of, usual_quantities
    from boardgen.order.cost_data import estimate_data
    from boardgen.order.cost_facts import facts_of_run
    from boardgen.order.prices import load_prices

    wanted = None if quantities is None else quantities_of(quantities)
    needed = () if need is None else (checked_count(need, "--need"),)
    if plot is not None:
        _check_plot(plot)
    prices = load_prices(table)
    with progress("pricing"):
        facts = facts_of_run(path, prices, catalogs)
        counts = usual_quantities(facts, prices) if wanted is None else wanted
        found = estimate(facts, prices, sorted({*counts, *needed}))
    chosen = next((q for q in found.quotes if q.need == need), found.quotes[-1])
    if plot is not None:
        from boardgen.filing import write_whole
        from boardgen.order.cost_plot import cost_plot

        write_whole(plot, cost_plot(facts, prices, found, chosen).encode("utf-8"), key="--plot")
    _tell(found, chosen, plot, as_json)
    code = FINDINGS if found.missing else CLEAN
    if as_json:
        write_json({**estimate_data(found), "exit_code": code})
    return code


def _check_plot(plot: Path) -> None:
    """Raise where *plot* cannot be written, before any work is done."""
    if plot.suffix.casefold() != ".svg":
        raise InputError("the plot is an SVG file", key="--plot", found=plot.name[:60], allowed="NAME.svg")
    if plot.is_dir():
        raise InputError("a file is wanted, this is a folder", plot.as_posix(), "--plot")
    if not plot.parent.is_dir():
        raise InputError("there is no such folder to write into", plot.parent.as_posix(), "--plot")


def _tell(found: Estimate, chosen: Quote, plot: Path | None, as_json: bool) -> None:
    facts, cur = found.facts, found.currency
    write_lines(
        [
            f"{facts.design}-{facts.revision}: {facts.width_mm} x {facts.height_mm} mm, "
            f"{facts.fab}, boards from {found.shop}",
            f"prices: {found.table}{', INVENTED' if found.invented else ''}; amounts in {cur}",
            *(f"note: {note}" for note in found.notes),
            "",
        ],
        as_json,
    )
    mark = " *" if found.missing else ""
    heads = ("boards", "order", f"total{mark}", f"per board{mark}", "saved", "sell at", "break even")
    write_table(heads, [_row(quote, found) for quote in found.quotes], as_json)
    write_lines(["", f"what {chosen.need} boards cost, {chosen.best.ordered} ordered:"], as_json)
    _tell_bill(chosen.best, as_json)
    if found.respin is not None:
        bill, weeks = found.respin.bill, found.respin.weeks
        head = f"a respin, {bill.ordered} bare boards: {bill.total:f} {cur} and {weeks:f} weeks:"
        write_lines(["", head], as_json)
        _tell_bill(bill, as_json)
    lines = [f"fixed: {name}: {amount:f} {cur}" for name, amount in found.fixed]
    lines += _sale_lines(found, chosen)
    if plot is not None:
        lines.append(f"plot in {plot.as_posix()}")
    lines += [f"error: no price for {name}" for name in found.missing]
    if found.missing:
        lines.append("* INCOMPLETE: what has no price is not in these totals")
    write_lines(["", *lines], as_json)


def estimate_lines(found: Estimate) -> list[str]:
    """Return the estimate of one order in a few lines."""
    quote, cur = found.quotes[0], found.currency
    plain = quote.plain
    lines = [
        f"estimate: {plain.total:f} {cur}, {plain.per_board:f} a board"
        f"{' (INVENTED prices)' if found.invented else ''}{'' if plain.complete else ', INCOMPLETE'}"
    ]
    if quote.saved:
        lines.append(f"{quote.best.ordered} boards ordered cost less, by {quote.saved:f} {cur}")
    return lines + [f"error: no price for {name}" for name in found.missing]


def _row(quote: Quote, found: Estimate) -> tuple[str, ...]:
    best, sale = quote.best, quote.sale
    return (
        str(quote.need),
        str(best.ordered),
        f"{best.total:f}",
        f"{best.per_board:f}",
        f"{quote.saved:f}" if quote.saved else "",
        "" if sale is None else f"{sale.price:f}",
        "" if sale is None else "never" if sale.break_even is None else str(sale.break_even),
    )


def _sale_lines(found: Estimate, chosen: Quote) -> list[str]:
    sale, cur = chosen.sale, found.currency
    if sale is None:
        return []
    said = f"sale of {chosen.need}: {sale.price:f} {cur} each"
    if sale.price < sale.least:
        said += f" is under the least price of {sale.least:f} {cur}"
    said += f", {sale.fee:f} {cur} of it fees"
    if sale.break_even is None:
        return [f"{said}: a loss on each, no number brings in {sale.fixed:f} {cur}"]
    return [f"{said}: {sale.break_even} sold bring in the fixed {sale.fixed:f} {cur}"]


def _tell_bill(bill: Bill, as_json: bool) -> None:
    from boardgen.order.cost_data import share_of

    rows = [
        (line.group, line.name, f"{line.amount:f}", f"{share_of(line, bill)} %", line.detail)
        for line in bill.sorted_lines()
    ]
    rows.append(("", "total", f"{bill.total:f}", "", "" if bill.complete else "incomplete"))
    write_table(("group", "what", "amount", "share", "how"), rows, as_json)
