"""The catalogue in hand: entries found by id, read when asked for, the user's folders before ours.

A folder of entries has ``modules/``, ``connectors/``, ``parts/``, ``fabs/`` and ``logic/``, or
the files flat; one TOML file is one entry, and the file's stem is its id. Foreign
``.kicad_mod`` footprints stand beside the entries or in ``footprints/``.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, replace
from pathlib import Path
from types import MappingProxyType
from typing import Any, TypeVar, cast

from boardgen.catalog.drills import fit_drills
from boardgen.catalog.formerrors import shown, validate
from boardgen.catalog.model import Component, Connector, Entry, FabClass, FaceContact, LogicFamily, Module
from boardgen.catalog.schema import FORMS, ConnectorForm, ModuleForm
from boardgen.catalog.tomlfile import TomlFile, read_toml
from boardgen.errors import BoardgenError, InputError, InputErrors, suggestion
from boardgen.footprint.model import Footprint
from boardgen.readfile import leads_out

DATA = Path(__file__).parent / "data"

FOLDERS = {"module": "modules", "connector": "connectors", "part": "parts", "fab": "fabs", "logic": "logic"}
_TYPES: dict[str, type] = {
    "module": Module,
    "connector": Connector,
    "part": Component,
    "fab": FabClass,
    "logic": LogicFamily,
}

E = TypeVar("E", Module, Connector, Component, FabClass, LogicFamily)


@dataclass(frozen=True, slots=True)
class _Place:
    """A file that should hold an entry: *kind* is "" where the file is flat, *inside* the user's folder."""

    path: Path
    where: str
    kind: str
    inside: Path | None = None


@dataclass(slots=True)
class _Memory:
    """What a catalogue has read so far."""

    entries: dict[Path, Entry] = field(default_factory=dict)
    problems: dict[Path, tuple[InputError, ...]] = field(default_factory=dict)
    footprints: dict[str, Footprint] = field(default_factory=dict)


@dataclass(frozen=True, slots=True)
class Catalog:
    """Entries by id. Single entries are read when asked for; the mappings read a whole kind.

    *folders* are the user's, the first wins over later ones and over ours.
    """

    folders: tuple[Path, ...]
    _places: Mapping[str, tuple[_Place, ...]]
    _memory: _Memory = field(default_factory=_Memory, repr=False, compare=False)
    _drilled: FabClass | None = None

    @property
    def modules(self) -> Mapping[str, Module]:
        """Every module that reads well, sorted by id."""
        return self._all("module", Module)

    @property
    def connectors(self) -> Mapping[str, Connector]:
        """Every connector that reads well, sorted by id."""
        return self._all("connector", Connector)

    @property
    def components(self) -> Mapping[str, Component]:
        """Every small part that reads well, sorted by id."""
        return self._all("part", Component)

    @property
    def fabs(self) -> Mapping[str, FabClass]:
        """Every fab class that reads well, sorted by id."""
        return self._all("fab", FabClass)

    @property
    def logic(self) -> Mapping[str, LogicFamily]:
        """Every logic family that reads well, sorted by id."""
        return self._all("logic", LogicFamily)

    @property
    def problems(self) -> tuple[InputError, ...]:
        """What is wrong with the entries' files, all of which are read for this."""
        for places in self._places.values():
            for place in places:
                self._entry(place)
        found = self._memory.problems
        return tuple(error for path in sorted(found) for error in found[path])

    def module(self, entry_id: str) -> Module:
        """Return the module called *entry_id*; raises InputError(s) where unknown or broken."""
        return self._one(entry_id, "module", Module)

    def connector(self, entry_id: str) -> Connector:
        """Return the connector called *entry_id*, or raise as :meth:`module` does."""
        return self._one(entry_id, "connector", Connector)

    def component(self, entry_id: str) -> Component:
        """Return the small part called *entry_id*, or raise as :meth:`module` does."""
        return self._one(entry_id, "part", Component)

    def fab(self, entry_id: str) -> FabClass:
        """Return the fab class called *entry_id*, or raise as :meth:`module` does."""
        return self._one(entry_id, "fab", FabClass)

    def logic_family(self, entry_id: str) -> LogicFamily:
        """Return the logic family called *entry_id*, or raise as :meth:`module` does."""
        return self._one(entry_id, "logic", LogicFamily)

    def entry(self, entry_id: str) -> Entry:
        """Return the entry called *entry_id*, of whatever kind; raises InputError(s).

        A user's own entry that is broken is an error, also where we have one of that id.
        """
        for place in self._places.get(entry_id, ()):
            found = self._entry(place)
            if found is None:
                raise InputErrors(self._memory.problems[place.path])
            return found
        raise InputError(f"there is no catalogue entry {entry_id[:80]!r}{suggestion(entry_id, self._places)}")

    def footprint(self, name: str) -> Footprint:
        """Return the footprint called *name*, the user's own before ours; read once.

        Raises InputError where there is none or it cannot be read.
        """
        known = self._memory.footprints
        if name not in known:
            from boardgen.footprint import library  # noqa: PLC0415

            loaded = library.load(name, self.footprint_folders())
            known[name] = loaded if self._drilled is None else fit_drills(loaded, self._drilled)
        return known[name]

    def drilled(self, fab: FabClass) -> Catalog:
        """Return the catalogue whose footprints have their holes as *fab* drills them."""
        memory = _Memory(self._memory.entries, self._memory.problems)
        return replace(self, _memory=memory, _drilled=fab) if fab.drills else self

    def footprint_folders(self) -> tuple[Path, ...]:
        """The user's folders in which footprints may lie, in the order they are searched."""
        return tuple(place for folder in self.folders for place in (folder, folder / "footprints"))

    def _one(self, entry_id: str, kind: str, wanted: type[E]) -> E:
        other = ""
        for place in self._places.get(entry_id, ()):
            if place.kind not in ("", kind):
                other = place.kind
                continue
            found = self._entry(place)
            if isinstance(found, wanted):
                return found
            if found is None:
                raise InputErrors(self._memory.problems[place.path])
            other = _kind_of(found)
        named = NAMES[kind]
        if other:
            raise InputError(f"{entry_id!r} is a {NAMES[other]}, not a {named}")
        ids = (name for name, places in self._places.items() if any(p.kind in ("", kind) for p in places))
        raise InputError(f"there is no {named} {entry_id[:80]!r} in the catalogue{suggestion(entry_id, ids)}")

    def _all(self, kind: str, wanted: type[E]) -> Mapping[str, E]:
        entries: dict[str, E] = {}
        for entry_id in sorted(self._places):
            for place in self._places[entry_id]:
                if place.kind in ("", kind):
                    found = self._entry(place)
                    if isinstance(found, wanted):
                        entries[entry_id] = found
                        break
        return MappingProxyType(entries)

    def _entry(self, place: _Place) -> Entry | None:
        memory = self._memory
        if place.path in memory.entries:
            return memory.entries[place.path]
        if place.path in memory.problems:
            return None
        try:
            if place.inside is not None and leads_out(place.path, place.inside):
                raise InputError(
                    "a link leads out of the catalogue's folder",
                    place.where,
                    allowed="the file itself in the folder, or --catalog with the other folder",
                )
            entry = read_entry(place.path, place.where, place.kind)
        except InputErrors as error:
            memory.problems[place.path] = error.errors
        except InputError as error:
            memory.problems[place.path] = (error,)
        except BoardgenError as error:
            memory.problems[place.path] = (InputError(str(error)),)
        else:
            memory.entries[place.path] = entry
            return entry
        return None


NAMES = {
    "module": "module",
    "connector": "connector",
    "part": "part",
    "fab": "fab class",
    "logic": "logic family",
}


def _kind_of(entry: Entry) -> str:
    return next(kind for kind, form in _TYPES.items() if isinstance(entry, form))


def read_entry(path: Path, where: str = "", kind: str = "") -> Entry:
    """Read one entry's file; *kind* is what its folder promises ("" for none).

    Raises InputError or InputErrors that name file, key and line.
    """
    file = read_toml(path, where)
    said = file.data.get("kind")
    if not isinstance(said, str) or said not in FORMS:
        raise InputError(
            "the key is missing" if said is None else "the value is not allowed",
            file.where,
            "kind",
            file.line(("kind",)),
            "" if said is None else shown(said),
            ", ".join(sorted(FORMS)),
        )
    if kind and said != kind:
        raise InputError(
            f"a {NAMES[said]} in the folder {FOLDERS[kind]}", file.where, "kind", file.line(("kind",))
        )
    form = validate(FORMS[said], file)
    if form.id != path.stem:
        raise InputError(
            "the id must be the file's name",
            file.where,
            "id",
            file.line(("id",)),
            repr(form.id),
            repr(path.stem),
        )
    if isinstance(form, ConnectorForm):
        return _connector(form, file)
    twice = _twice([pin.number for pin in form.pins]) if isinstance(form, ModuleForm) else ""
    if twice:
        raise InputError(f"pin number {twice!r} is there twice", file.where, "pins", file.line(("pins",)))
    return cast(Entry, form.frozen(file.where))


def _connector(form: ConnectorForm, file: TomlFile) -> Connector:
    face: tuple[FaceContact, ...] = ()
    if not form.contacts:
        if form.family is None:
            raise InputError("contacts or a family is needed", file.where, "contacts")
        face = _family_face(form.family, file)
    numbers = [c.number for c in form.contacts] or [c.number for c in face]
    twice = _twice(numbers)
    if twice:
        raise InputError(
            f"contact number {twice!r} is there twice", file.where, "contacts", file.line(("contacts",))
        )
    return form.frozen(file.where, face)


def _family_face(params: dict[str, Any], file: TomlFile) -> tuple[FaceContact, ...]:
    from boardgen.footprint import families  # noqa: PLC0415

    try:
        drawn = families.build(params)
    except InputError as error:
        line = file.line(("family",))
        raise InputError(
            error.message, file.where, error.key or "family", line, error.found, error.allowed
        ) from None
    except (KeyError, TypeError, ValueError) as error:
        raise InputError(
            f"the family cannot draw this: {error}", file.where, "family", file.line(("family",))
        ) from None
    if not drawn.face:
        raise InputError("the family gives no mating face; write contacts", file.where, "family")
    return tuple(FaceContact(number, at) for number, at in drawn.face)


def _twice(words: list[str]) -> str:
    seen: set[str] = set()
    for word in words:
        if word in seen:
            return word
        seen.add(word)
    return ""


def load_catalog(folders: Sequence[Path] = ()) -> Catalog:
    """Return the catalogue of our entries and those in the user's *folders*.

    Only names are read here. Raises InputError where a named folder is not there.
    """
    places: dict[str, list[_Place]] = {}
    for folder in folders:
        if not folder.is_dir():
            raise InputError("there is no such catalogue folder", folder.as_posix())
        _index(folder, folder.as_posix(), places, folder)
    _index(DATA, "catalog", places)
    known = {name: tuple(found) for name, found in places.items()}
    return Catalog(tuple(folders), MappingProxyType(known))


def _index(folder: Path, shown_as: str, places: dict[str, list[_Place]], inside: Path | None = None) -> None:
    for kind, name in (*FOLDERS.items(), ("", "")):
        inner = folder / name if name else folder
        if not inner.is_dir():
            continue
        for path in sorted(inner.glob("*.toml")):
            where = f"{shown_as}/{name}/{path.name}" if name else f"{shown_as}/{path.name}"
            places.setdefault(path.stem, []).append(_Place(path, where, kind, inside))


_SEARCHED = ("id", "name", "description", "kind", "family", "gender", "mounting", "mcu", "mpn", "value")


def matching(entries: Mapping[str, Entry], words: Sequence[str]) -> tuple[Entry, ...]:
    """Return the *entries* in whose id, name, description or kind every word occurs (any case)."""
    return tuple(entry for entry in entries.values() if _holds(entry, words))


def _holds(entry: Entry, words: Sequence[str]) -> bool:
    text = " ".join(
        str(getattr(entry, name, ""))
        for name in (
            "id",
            "name",
            "description",
            "kind",
            "family",
            "gender",
            "mounting",
            "mcu",
            "mpn",
            "value",
        )
    ).lower()
    return all(word.lower() in text for word in words)
