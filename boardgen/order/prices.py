"""A price table read from a user's TOML file."""

from __future__ import annotations

import hashlib
from collections.abc import Iterator
from decimal import Decimal
from pathlib import Path

from boardgen.catalog.formerrors import dotted, validate
from boardgen.catalog.tomlfile import TomlFile, parse_toml, read_bytes
from boardgen.errors import InputError, InputErrors
from boardgen.order import prices_form as form
from boardgen.order import prices_model as model


def load_prices(path: Path) -> model.Prices:
    """Return the price table at *path*.

    Raises InputError or InputErrors with file, key and line; MachineError where reading is forbidden.
    """
    where = path.as_posix()
    return prices_from(parse_toml(read_bytes(path, where, what="price table"), where))


def prices_from(file: TomlFile) -> model.Prices:
    """Return the price table that *file* says; raises as :func:`load_prices` does."""
    found = validate(form.PricesForm, file, form.WORDS)
    problems = list(_problems(found, file))
    if problems:
        raise InputErrors(sorted(problems, key=lambda item: item.line or 0))
    work, respin = found.work, found.respin
    return model.Prices(
        name=found.name,
        currency=found.currency,
        decimals=found.decimals,
        invented=found.invented,
        as_of=found.as_of,
        boards=tuple(_boards(item, n, file) for n, item in enumerate(found.boards)),
        parts=tuple(_part(item, found.spares) for item in found.parts),
        freight=tuple(
            model.Freight(f.name, f.goods, f.flat, _steps(f.by_boards), f.per_kg, f.package_kg)
            for f in found.freight
        ),
        fees=tuple(model.Fee(fee.name, fee.flat, fee.percent, tuple(fee.share_of)) for fee in found.fees),
        work=model.Work(work.rate, work.board_hours, work.batch_hours) if work else model.Work(),
        respin=model.Respin(respin.boards, respin.weeks, respin.hours, respin.per_week, respin.freight)
        if respin
        else None,
        sale=_sale(found.sale, found.decimals),
        where=file.where,
        digest=hashlib.sha256(file.raw).hexdigest(),
    )


def _problems(found: form.PricesForm, file: TomlFile) -> Iterator[InputError]:
    """Yield what the tables say against each other."""

    def problem(message: str, *path: str | int) -> InputError:
        return InputError(message, file.where, dotted(path), file.line(path))

    seen: set[str] = set()
    for n, part in enumerate(found.parts):
        name = part.mpn or part.id or part.footprint or ""
        if name in seen:
            yield problem(f"a second price for one part: {name}", "parts", n)
        seen.add(name)
    fabs: set[str] = set()
    for n, shop in enumerate(found.boards):
        twice = sorted(fabs & {*(shop.fabs or ("",))})
        if twice:
            words = f"the fab class {twice[0]}" if twice[0] else "any fab class"
            yield problem(f"a second board list for {words}", "boards", n)
        fabs |= {*(shop.fabs or ("",))}
    sale = found.sale
    for key, amount in (("price", sale.price), ("round_to", sale.round_to)):
        if amount is not None and amount != round(amount, found.decimals):
            yield problem(f"more decimals than the currency's {found.decimals}", "sale", key)
    if sale.respins and found.respin is None:
        yield problem("respins are counted, but there is no table [respin]", "sale", "respins")


def _steps(rows: tuple[tuple[int, Decimal], ...] | None) -> model.Steps | None:
    return None if rows is None else model.Steps(rows)


def _boards(item: form.BoardsForm, number: int, file: TomlFile) -> model.BoardPrices:
    return model.BoardPrices(
        name=item.name,
        fabs=item.fabs,
        sizes=tuple(
            _size(size, file.line(("boards", number, "sizes", place)))
            for place, size in enumerate(item.sizes)
        ),
        surcharges=tuple(
            model.Surcharge(o.option, option_value(o.value), o.per_order, o.per_board, o.per_dm2, o.percent)
            for o in item.options
        ),
        most=item.most,
        grams_per_dm2=item.grams_per_dm2,
        line=file.line(("boards", number)),
    )


def option_value(value: str | float) -> str:
    """Return an option's value as it is compared: numbers without idle zeros."""
    return value if isinstance(value, str) else f"{value:g}"


def _size(item: form.SizeForm, line: int | None) -> model.SizePrice:
    short, long = sorted(item.up_to_mm)
    sold = next(sold for sold in model.Sold if getattr(item, sold.value) is not None)
    return model.SizePrice(long, short, sold, model.Steps(getattr(item, sold.value)), item.per_order, line)


def _part(item: form.PartForm, spares: form.SparesForm) -> model.PartPrice:
    return model.PartPrice(
        mpn=item.mpn or "",
        entry=item.id or "",
        footprint=item.footprint or "",
        breaks=model.Steps(item.breaks),
        multiple=item.multiple,
        spares_percent=spares.percent if item.spares_percent is None else item.spares_percent,
        spares_least=spares.least if item.spares_least is None else item.spares_least,
    )


def _sale(item: form.SaleForm, decimals: int) -> model.Sale:
    return model.Sale(
        factor=item.factor,
        price=item.price,
        round_to=item.round_to if item.round_to is not None else Decimal(1).scaleb(-decimals),
        fee_flat=item.fee_flat,
        fee_percent=item.fee_percent,
        fixed=tuple((fixed.name, fixed.amount) for fixed in item.fixed),
        respins=item.respins,
    )
