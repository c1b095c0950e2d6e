"""The form of a price table's file: what its keys may hold, and what they say of each other."""

from __future__ import annotations

from decimal import Decimal, InvalidOperation
from itertools import pairwise
from typing import Annotated, Literal

from pydantic import AfterValidator, BeforeValidator, Field, model_validator

from boardgen.catalog.formtypes import Id, Strict, Word
from boardgen.order.prices_model import MOST

_PLACES, _LARGEST = 6, Decimal(10_000_000)


def _amount(value: object) -> Decimal:
    """Return a number as it was typed: a float's shortest decimal, which at 13 digits is the typed one."""
    if isinstance(value, bool) or not isinstance(value, int | float | str | Decimal):
        raise ValueError("an amount is wanted, such as 4.20")
    try:
        found = Decimal(value.strip() if isinstance(value, str) else str(value))
    except (InvalidOperation, ValueError):
        raise ValueError("an amount is wanted, such as 4.20") from None
    if not found.is_finite():
        raise ValueError("the amount is not finite")
    if found < 0:
        raise ValueError("the amount is negative")
    if found > _LARGEST:
        raise ValueError(f"the amount is over {_LARGEST}")
    if found != round(found, _PLACES):
        raise ValueError(f"the amount has more than {_PLACES} decimals")
    return found


def _more_than_nothing(value: Decimal) -> Decimal:
    if value <= 0:
        raise ValueError("the amount is not more than 0")
    return value


def _growing(rows: tuple[tuple[int, Decimal], ...]) -> tuple[tuple[int, Decimal], ...]:
    for (before, _a), (count, _b) in pairwise(rows):
        if count == before:
            raise ValueError(f"two steps begin at {count}: they overlap")
        if count < before:
            raise ValueError(f"the step from {count} stands after the one from {before}: steps grow")
    return rows


Amount = Annotated[Decimal, BeforeValidator(_amount)]
Some = Annotated[Amount, AfterValidator(_more_than_nothing)]
Count = Annotated[int, Field(strict=True, ge=1, le=MOST)]
StepList = Annotated[
    tuple[tuple[Count, Amount], ...], Field(min_length=1, max_length=100), AfterValidator(_growing)
]
Flag = Annotated[bool, Field(strict=True)]
GROUPS = ("boards", "options", "parts", "freight", "work")
Group = Literal["boards", "options", "parts", "freight", "work"]
Option = Literal["layers", "finish", "mask-colour", "legend-colour", "thickness-mm", "copper-um"]


def _whole_steps(rows: StepList, least: int, key: str) -> None:
    """Raise where the steps leave quantities from *least* on without a price."""
    first = rows[0][0]
    if first > least:
        raise ValueError(f"no price for {least} to {first - 1}: the first step of {key} begins at {first}")
    if first < least:
        raise ValueError(f"a step of {key} begins at {first}, but none is sold below {least}")


class SizeForm(Strict):
    """Boards up to one size."""

    up_to_mm: tuple[Some, Some]
    lots: StepList | None = None
    each: StepList | None = None
    per_dm2: StepList | None = None
    per_order: Amount = Decimal(0)
    minimum: Count = 1

    @model_validator(mode="after")
    def _one_way(self) -> SizeForm:
        given = [key for key in ("lots", "each", "per_dm2") if getattr(self, key) is not None]
        if len(given) != 1:
            raise ValueError(f"one of lots, each, per_dm2 is wanted, there are {len(given)}")
        if self.lots is not None:
            if self.minimum != 1:
                raise ValueError("lots say themselves how few are sold: no minimum")
        else:
            _whole_steps(getattr(self, given[0]), self.minimum, given[0])
        return self


class SurchargeForm(Strict):
    """What one value of an option costs."""

    option: Option
    value: Word | Annotated[int, Field(strict=True)] | Annotated[float, Field(allow_inf_nan=False)]
    per_order: Amount = Decimal(0)
    per_board: Amount = Decimal(0)
    per_dm2: Amount = Decimal(0)
    percent: Amount = Decimal(0)


class BoardsForm(Strict):
    """A fab's list."""

    name: Word
    fabs: tuple[Id, ...] = ()
    sizes: Annotated[tuple[SizeForm, ...], Field(min_length=1, max_length=100)]
    options: tuple[SurchargeForm, ...] = ()
    most: Count = MOST
    grams_per_dm2: Some | None = None

    @model_validator(mode="after")
    def _sizes_grow(self) -> BoardsForm:
        sizes = [tuple(sorted(item.up_to_mm, reverse=True)) for item in self.sizes]
        for n, size in enumerate(sizes):
            for m, before in enumerate(sizes[:n]):
                if size[0] <= before[0] and size[1] <= before[1]:
                    raise ValueError(f"sizes[{n + 1}] lies within sizes[{m + 1}]: they overlap; sizes grow")
        named = [(item.option, str(item.value).casefold()) for item in self.options]
        twice = sorted({" ".join(pair) for pair in named if named.count(pair) > 1})
        if twice:
            raise ValueError(f"two options are the same: {twice[0]}")
        return self


class PartForm(Strict):
    """A part's price."""

    mpn: Word | None = None
    id: Id | None = None
    footprint: Word | None = None
    breaks: StepList
    minimum: Count = 1
    multiple: Count = 1
    spares_percent: Annotated[Amount, Field(le=200)] | None = None
    spares_least: Annotated[int, Field(strict=True, ge=0, le=1000)] | None = None

    @model_validator(mode="after")
    def _one_name(self) -> PartForm:
        given = [key for key in ("mpn", "id", "footprint") if getattr(self, key) is not None]
        if len(given) != 1:
            raise ValueError(f"one of mpn, id, footprint is wanted, there are {len(given)}")
        _whole_steps(self.breaks, self.minimum, "breaks")
        return self


class FreightForm(Strict):
    """Freight of boards or parts."""

    name: Word
    goods: Literal["boards", "parts"] = "boards"
    flat: Amount = Decimal(0)
    by_boards: StepList | None = None
    per_kg: Amount = Decimal(0)
    package_kg: Amount = Decimal(0)

    @model_validator(mode="after")
    def _parts_flat(self) -> FreightForm:
        if self.goods == "parts" and (self.by_boards or self.per_kg or self.package_kg):
            raise ValueError("freight of parts is flat: what they weigh is not known")
        if self.by_boards is not None:
            _whole_steps(self.by_boards, 1, "by_boards")
        return self


class FeeForm(Strict):
    """A fee or duty."""

    name: Word
    flat: Amount = Decimal(0)
    percent: Annotated[Amount, Field(le=500)] = Decimal(0)
    share_of: tuple[Group, ...] = ()

    @model_validator(mode="after")
    def _share(self) -> FeeForm:
        if bool(self.percent) != bool(self.share_of):
            raise ValueError("percent and share_of go together")
        if len(set(self.share_of)) < len(self.share_of):
            raise ValueError("share_of names a group twice")
        return self


class SparesForm(Strict):
    """Spares of parts that have no rule of their own."""

    percent: Annotated[Amount, Field(le=200)] = Decimal(0)
    least: Annotated[int, Field(strict=True, ge=0, le=1000)] = 0


class WorkForm(Strict):
    """Hours and their rate."""

    rate: Amount
    board_hours: Annotated[Amount, Field(le=1000)] = Decimal(0)
    batch_hours: Annotated[Amount, Field(le=1000)] = Decimal(0)


class RespinForm(Strict):
    """What another revision takes."""

    boards: Count = 5
    weeks: Annotated[Amount, Field(le=520)]
    hours: Annotated[Amount, Field(le=10_000)] = Decimal(0)
    per_week: Amount = Decimal(0)
    freight: Amount | None = None


class FixedForm(Strict):
    """A cost that is paid once."""

    name: Word
    amount: Amount


class SaleForm(Strict):
    """Terms of a small sale."""

    factor: Annotated[Some, Field(le=100)] = Decimal("2.5")
    price: Some | None = None
    round_to: Some | None = None
    fee_flat: Amount = Decimal(0)
    fee_percent: Annotated[Amount, Field(lt=100)] = Decimal(0)
    fixed: tuple[FixedForm, ...] = ()
    respins: Annotated[int, Field(strict=True, ge=0, le=20)] = 0


class PricesForm(Strict):
    """A price table."""

    kind: Literal["prices"]
    name: Word
    currency: Annotated[str, Field(pattern=r"^[A-Z]{3}$")]
    decimals: Annotated[int, Field(strict=True, ge=0, le=4)] = 2
    invented: Flag = False
    as_of: str = ""
    boards: Annotated[tuple[BoardsForm, ...], Field(min_length=1, max_length=50)]
    parts: tuple[PartForm, ...] = ()
    spares: SparesForm = SparesForm()
    freight: tuple[FreightForm, ...] = ()
    fees: tuple[FeeForm, ...] = ()
    work: WorkForm | None = None
    respin: RespinForm | None = None
    sale: SaleForm = SaleForm()


WORDS = {r"^[A-Z]{3}$": "three capital letters, such as EUR"}
