"""Turning pydantic's complaints into InputErrors with key, line, found and allowed."""

from __future__ import annotations

from collections.abc import Mapping
from types import MappingProxyType
from typing import Any, TypeVar

from pydantic import BaseModel, ValidationError

from boardgen.catalog.tomlfile import KeyPath, TomlFile
from boardgen.errors import InputError, InputErrors, nearest, suggestion

Form = TypeVar("Form", bound=BaseModel)

MOST_ERRORS = 20
MOST_TEXT = 60

_TYPES = {
    "string_type": "a text",
    "int_type": "a whole number",
    "int_parsing": "a whole number",
    "int_from_float": "a whole number",
    "float_type": "a number",
    "float_parsing": "a number",
    "bool_type": "true or false",
    "bool_parsing": "true or false",
    "tuple_type": "a list",
    "list_type": "a list",
    "dict_type": "a table",
    "model_type": "a table",
    "model_attributes_type": "a table",
    "finite_number": "a finite number",
}


def shown(value: object) -> str:
    """Return *value* as short text for a message."""
    if isinstance(value, bool):
        return "true" if value else "false"
    if isinstance(value, dict):
        return "a table"
    if isinstance(value, list | tuple):
        return f"a list of {len(value)}"
    if isinstance(value, str):
        cut = value if len(value) <= MOST_TEXT else value[:MOST_TEXT] + "..."
        return repr(cut)
    try:
        text = str(value)
    except ValueError:  # an integer of thousands of digits
        return "a number of thousands of digits"
    return text if len(text) <= MOST_TEXT else text[:MOST_TEXT] + "..."


def dotted(path: KeyPath) -> str:
    """Return a key path as people write it: ``contacts[3].signal``, counting items from 1."""
    text = ""
    for step in path:
        if isinstance(step, int):
            text += f"[{step + 1}]"
        else:
            text += f".{step}" if text else step
    return text


def keys_at(form: type[BaseModel], path: KeyPath) -> tuple[str, ...]:
    """Return the keys that the form knows in the table at *path*; empty for a free table."""
    table: Any = form
    for step in path:
        if isinstance(step, int):
            continue
        if not (isinstance(table, type) and issubclass(table, BaseModel)):
            return ()
        field = table.model_fields.get(step)
        if field is None:
            return ()
        table = _form_inside(field.annotation)
    if isinstance(table, type) and issubclass(table, BaseModel):
        return tuple(sorted(table.model_fields))
    return ()


def _form_inside(annotation: Any) -> Any:
    """Return the form that an annotation such as ``tuple[X, ...] | None`` speaks of."""
    if isinstance(annotation, type) and issubclass(annotation, BaseModel):
        return annotation
    for inner in getattr(annotation, "__args__", ()):
        found = _form_inside(inner)
        if found is not None:
            return found
    return None


def _allowed(kind: str, context: dict[str, Any], words: Mapping[str, str]) -> str:
    bounds = {
        "greater_than": ("more than", "gt"),
        "greater_than_equal": ("at least", "ge"),
        "less_than": ("less than", "lt"),
        "less_than_equal": ("at most", "le"),
    }
    if kind in bounds:
        word, key = bounds[kind]
        return f"{word} {context[key]:g}"
    if kind in ("literal_error", "enum"):
        return str(context["expected"]).replace("'", "").replace(" or ", ", ")
    if kind == "string_pattern_mismatch":
        pattern = str(context["pattern"])
        return words.get(pattern, f"text like {pattern}")
    if kind in ("string_too_long", "string_too_short"):
        key = "max_length" if kind == "string_too_long" else "min_length"
        return f"{'at most' if kind == 'string_too_long' else 'at least'} {context[key]} characters"
    if kind in ("too_long", "too_short"):
        key = "max_length" if kind == "too_long" else "min_length"
        count = context[key]
        return (
            f"{'at most' if kind == 'too_long' else 'at least'} {count} {'item' if count == 1 else 'items'}"
        )
    return _TYPES.get(kind, "")


def translate(
    error: ValidationError, form: type[BaseModel], file: TomlFile, words: Mapping[str, str]
) -> InputErrors:
    """Return what pydantic found in the order of the lines; at most MOST_ERRORS of them."""
    found: list[InputError] = []
    faults = error.errors(include_url=False)
    unknown = [tuple(f["loc"]) for f in faults if f["type"] == "extra_forbidden"]
    misspelt = _misspelt(unknown[: MOST_ERRORS * 5], form)
    for item in faults[:MOST_ERRORS]:
        path: KeyPath = tuple(item["loc"])
        if item["type"] == "missing" and path in misspelt:
            continue  # it is there under a wrong name, which is said
        kind, context = item["type"], item.get("ctx", {})
        if kind == "too_short" and len(item["input"]) >= context["min_length"]:
            continue  # a list that is short only because its items are wrong, which is said already
        key, line = dotted(path), file.line(path)
        if kind == "extra_forbidden":
            known = keys_at(form, path[:-1])
            word = str(path[-1])[:MOST_TEXT]
            message = f"unknown key {word!r}{suggestion(word, known)}"
            found.append(InputError(message, file.where, dotted(path[:-1]), line, allowed=", ".join(known)))
        elif kind == "missing":
            found.append(InputError("the key is missing", file.where, key, line))
        elif kind == "value_error":
            message = str(context.get("error", "the value is not allowed"))
            found.append(InputError(message, file.where, key, line, shown_scalar(item["input"])))
        else:
            allowed = _allowed(kind, context, words)
            message = "the value is not allowed"
            if not allowed:
                message = f"{message} ({item['msg'][:120]})"
            found.append(InputError(message, file.where, key, line, shown(item["input"]), allowed))
    return InputErrors(sorted(found, key=lambda item: item.line or 0))


def _misspelt(unknown: list[KeyPath], form: type[BaseModel]) -> set[KeyPath]:
    """Return the keys that the *unknown* ones are likely meant to be."""
    return {
        (*path[:-1], key) for path in unknown for key in nearest(str(path[-1]), keys_at(form, path[:-1]), 1)
    }


def shown_scalar(value: object) -> str:
    """Return *value* for a message where it is a single one, nothing for a table or list."""
    return "" if isinstance(value, dict | list | tuple) else shown(value)


def validate(form: type[Form], file: TomlFile, words: Mapping[str, str] = MappingProxyType({})) -> Form:
    """Return *file* as *form*; raises InputErrors that name every fault found.

    *words* says in words what a pattern of the form allows.
    """
    try:
        return form.model_validate(file.data)
    except ValidationError as error:
        raise translate(error, form, file, words) from None
