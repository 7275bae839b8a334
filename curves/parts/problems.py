"""What pydantic found wrong, in a tuner's words."""

from __future__ import annotations

import difflib
from collections.abc import Sequence
from typing import Any, get_args

from pydantic import BaseModel, ValidationError

from curves.errors import Problem
from curves.parts.base import SMALLEST, FieldError
from curves.parts.reading import Tree, plain, show

Path = Sequence[str | int]

PARTS = ("motor", "controller", "pack", "tune", "bike")
NOTES = ("source", "sources", "tolerance")
UNITS = frozenset(
    word
    for words in (
        "rpm v mv per ohm mohm uohm uh mh nh h a ma ah mah w kw wh kwh hz rad nm n j",
        "kg g lb m mm cm km km kmh mph ms s c k f deg percent ratio m2 kg m",
    )
    for word in words.split()
)


def problems(error: ValidationError, root: type[BaseModel], tree: Tree, file: str) -> list[Problem]:
    """One problem a line from pydantic's errors.

    Args:
        error: what pydantic raised.
        root: the model that was validated.
        tree: the values it was given.
        file: name of the file, for messages.
    """
    found: list[Problem] = []
    errors = error.errors(include_url=False)
    # An unknown field is often a needed one misspelt: said once, as what it was meant to be.
    meant = {
        (*item["loc"][:-1], name)
        for item in errors
        if item["type"] == "extra_forbidden"
        for name in _meant(str(item["loc"][-1]), owner(root, item["loc"][:-1]))
    }
    for item in sorted(errors, key=lambda item: item["type"] == "missing"):
        path = list(item["loc"])
        if item["type"] == "missing" and item["loc"] in meant:
            continue
        raised = item.get("ctx", {}).get("error")
        if isinstance(raised, FieldError):
            found.extend(
                Problem(where(file, tree, [*path, *below]), show(value), message)
                for below, value, message in raised.errors
            )
            continue
        value = "" if item["type"] == "missing" else show(item["input"])
        found.append(Problem(where(file, tree, path), value, _message(dict(item), root, path)))
    return found


def where(file: str, tree: Tree, path: Path) -> str:
    """Place of a value: file, table and field.

    Args:
        file: name of the file.
        tree: the whole job, from which a setup's name is read.
        path: keys from the root to the value.
    """
    keys = list(path)
    if not keys:
        return file
    head, depth = str(keys[0]), 1
    if head == "setup" and len(keys) > 1:
        table, depth = f"[[setup]] {_setup_name(tree, keys[1])}", 2
    elif head in PARTS and len(keys) > 1:
        table, depth = f"[{head}.{plain(keys[1])}]", 2
    elif head in ("conditions", "goals"):
        table = f"[{head}]"
    elif head in ("setup", *PARTS):
        table = f"[[{head}]]" if head == "setup" else f"[{head}]"
    else:
        table, depth = "", 0
    field = ""
    for key in keys[depth:]:
        field += f"[{key + 1}]" if isinstance(key, int) else f"{'.' * bool(field)}{plain(key)}"
    return f"{file}: " + " ".join(part for part in (table, field) if part)


def _setup_name(tree: Tree, index: str | int) -> str:
    try:
        return show(str(tree["setup"][index]["name"]))
    except (KeyError, IndexError, TypeError):
        return f"number {index + 1}" if isinstance(index, int) else str(index)


def _message(item: dict[str, Any], root: type[BaseModel], path: Path) -> str:
    said = _rule(item, root, path)
    described = _description(root, path)
    known = described and item["type"] not in ("extra_forbidden", "literal_error", "model_type")
    return f"{said} ({described})" if known else said


RULES = {
    "missing": "is missing",
    "greater_than_equal": "must be at least {ge:g}",
    "less_than_equal": "must be at most {le:g}",
    "float_type": "must be a number",
    "int_type": "must be a whole number",
    "int_from_float": "must be a whole number",
    "finite_number": "must be a finite number",
    "bool_type": "must be true or false",
    "string_type": "must be text in quotes",
    "string_too_short": "must not be empty",
    "string_too_long": "must be no longer than {max_length} characters",
    "string_pattern_mismatch": "must be one line of text without control characters",
    "model_type": "must be a table",
    "dict_type": "must be a table",
    "tuple_type": "must be a list",
    "too_short": "must have at least {min_length}",
    "too_long": "must have no more than {max_length} values",
}


def _rule(item: dict[str, Any], root: type[BaseModel], path: Path) -> str:
    kind, context = item["type"], item.get("ctx", {})
    if kind == "extra_forbidden":
        return unknown_field(str(path[-1]), owner(root, path[:-1]))
    if kind == "literal_error":
        return f"must be {context['expected'].replace(chr(39), chr(34))}"
    if kind == "greater_than_equal" and context["ge"] == SMALLEST:
        return "must be above 0"
    if kind == "model_type" and len(path) == 2 and path[0] in PARTS:
        return f"must be a table, as under [{path[0]}.NAME]"
    return RULES[kind].format(**context) if kind in RULES else str(item["msg"])


def unknown_field(name: str, model: type[BaseModel] | None) -> str:
    """Message for a field that does not exist, with what was probably meant."""
    if model is None:
        return "unknown field"
    if meant := _meant(name, model):
        described = "; ".join(f"{f} ({model.model_fields[f].description})" for f in meant)
        return f"unknown field, did you mean {described}?"
    return f"unknown field; allowed are {', '.join(model.model_fields)}"


def _meant(name: str, model: type[BaseModel] | None) -> list[str]:
    known = [] if model is None else list(model.model_fields)
    return suggest(name, [field for field in known if field not in NOTES])


def suggest(name: str, known: Sequence[str]) -> list[str]:
    """Names probably meant: the same quantity in its right unit first, then close spellings."""
    stem = _stem(name.lower())
    same = [field for field in known if stem and _stem(field) == stem]
    return same[:2] or difflib.get_close_matches(name.lower()[:80], list(known), n=1, cutoff=0.7)


def _stem(field: str) -> str:
    words = field.split("_")
    while words and words[-1] in UNITS:
        words.pop()
    return "_".join(words)


def owner(root: type[BaseModel], path: Path) -> type[BaseModel] | None:
    """The model of the table at a path, None where it is no table of known fields."""
    model: type[BaseModel] | None = root
    for key in path:
        if model is None or not isinstance(key, str) or key not in model.model_fields:
            # A part's name or a setup's number: the model is that of the table above.
            continue
        model = _model_in(model.model_fields[key].annotation)
    return model


def _description(root: type[BaseModel], path: Path) -> str:
    names = [index for index, key in enumerate(path) if isinstance(key, str)]
    if not names:
        return ""
    last = names[-1]
    model = owner(root, path[:last])
    field = model.model_fields.get(str(path[last])) if model is not None else None
    return (field.description or "") if field is not None else ""


def _model_in(annotation: Any) -> type[BaseModel] | None:
    if isinstance(annotation, type) and issubclass(annotation, BaseModel):
        return annotation
    for inner in get_args(annotation):
        if (model := _model_in(inner)) is not None:
            return model
    return None
