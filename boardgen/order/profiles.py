"""Profiles read from TOML: those that come with the tool, and a user's own file."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated, Literal

from pydantic import Field, model_validator

from boardgen.catalog.formerrors import validate
from boardgen.catalog.formtypes import Id, Strict, Word
from boardgen.catalog.tomlfile import parse_toml, read_bytes
from boardgen.errors import InputError, suggestion
from boardgen.order.profilemodel import BomField, Column, PositionField, Profile, Spares, Turn

DATA = Path(__file__).parent / "data" / "profiles"
DEFAULT = "plain"
_NAMES = r"^[A-Z]{1,4}$"
_MARKS = {"comma": ",", "comma space": ", ", "semicolon": ";", "space": " ", "tab": "\t"}


class BomColumnForm(Strict):
    """A column of the parts list."""

    title: Word
    holds: BomField
    text: str = ""


class PositionColumnForm(Strict):
    """A column of the position file."""

    title: Word
    holds: PositionField


class SparesForm(Strict):
    """Spares of some rows, or of all others."""

    prefixes: tuple[Annotated[str, Field(pattern=_NAMES)], ...] = ()
    percent: Annotated[float, Field(ge=0, le=200, allow_inf_nan=False)] = 0.0
    least: Annotated[int, Field(ge=0, le=1000)] = 0


class BomForm(Strict):
    """The ``[bom]`` table."""

    columns: Annotated[tuple[BomColumnForm, ...], Field(min_length=1, max_length=40)]
    separator: Literal["comma", "semicolon", "tab"] = "comma"
    joiner: Literal["space", "comma", "comma space", "semicolon"] = "space"
    whole_parts: bool = True
    spares: tuple[SparesForm, ...] = ()


class TurnForm(Strict):
    """Degrees to add for some packages."""

    package: Word
    degrees: Annotated[float, Field(ge=-360, le=360, allow_inf_nan=False)]


class PositionsForm(Strict):
    """The ``[positions]`` table."""

    columns: Annotated[tuple[PositionColumnForm, ...], Field(min_length=1, max_length=40)]
    unit: Literal["", "mm"] = ""
    sides: tuple[Word, Word] = ("Top", "Bottom")
    types: tuple[Literal["SMT", "THT"], ...] = ("SMT", "THT")
    turns: tuple[TurnForm, ...] = ()


class ProfileForm(Strict):
    """A profile file."""

    kind: Literal["order-profile"]
    id: Id
    name: Word
    description: str = ""
    bom: BomForm
    positions: PositionsForm

    @model_validator(mode="after")
    def _columns(self) -> ProfileForm:
        for what, titles in (
            ("bom", [c.title for c in self.bom.columns]),
            ("positions", [c.title for c in self.positions.columns]),
        ):
            if len({title.casefold() for title in titles}) < len(titles):
                raise ValueError(f"{what}: two columns have one title")
        if not any(c.holds is BomField.DESIGNATORS for c in self.bom.columns):
            raise ValueError("bom: no column holds the designators")
        return self

    def frozen(self, origin: str) -> Profile:
        """Return the value the rest of the program uses."""
        bom, positions = self.bom, self.positions
        return Profile(
            id=self.id,
            name=self.name,
            description=self.description,
            bom=tuple(Column(c.title, c.holds, c.text) for c in bom.columns),
            separator=_MARKS[bom.separator],
            joiner=_MARKS[bom.joiner],
            whole_parts=bom.whole_parts,
            spares=tuple(Spares(s.prefixes, s.percent, s.least) for s in bom.spares),
            positions=tuple(Column(c.title, c.holds) for c in positions.columns),
            unit=positions.unit,
            sides=positions.sides,
            types=tuple(positions.types),
            turns=tuple(Turn(t.package, t.degrees) for t in positions.turns),
            origin=origin,
        )


def profile_names() -> tuple[str, ...]:
    """Return the ids of the profiles that come with the tool."""
    return tuple(sorted(path.stem for path in DATA.glob("*.toml")))


def load_profile(wanted: str = DEFAULT) -> Profile:
    """Return the profile with the id *wanted*, or the one in the file *wanted* (a path that ends in .toml).

    Raises InputError or InputErrors with file, key and line.
    """
    if wanted.endswith(".toml"):
        path, where = Path(wanted), Path(wanted).as_posix()
    elif wanted in profile_names():
        path, where = DATA / f"{wanted}.toml", f"order/profiles/{wanted}.toml"
    else:
        known = profile_names()
        raise InputError(
            f"there is no profile {wanted[:60]!r}{suggestion(wanted, known)}",
            key="--bom",
            allowed=f"{', '.join(known)}, or a file of your own (NAME.toml)",
        )
    file = parse_toml(read_bytes(path, where, what="profile"), where)
    return validate(ProfileForm, file).frozen(where)
