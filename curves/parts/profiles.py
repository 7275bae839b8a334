"""A motor profile, and the job's own fields laid over it; touches no file."""

from __future__ import annotations

from curves.parts.motor import Motor
from curves.parts.notes import values_of, well_formed, without
from curves.parts.problems import unknown_field
from curves.parts.reading import Tree, read_tree, refuse, show

PROFILE_FORMAT = "rimforce-motor-1"


def profile_fields(content: str, name: str) -> Tree:
    """Fields of a profile from its TOML text.

    Args:
        content: the text: fields of a motor, without a table around them.
        name: of the file, for messages.

    Raises:
        JobError: if it is no TOML or holds a field a motor does not have.
    """
    tree = read_tree(content, name, "toml")
    if tree.pop("format", PROFILE_FORMAT) != PROFILE_FORMAT:
        refuse(f"{name}: format", f'must be "{PROFILE_FORMAT}"')
    for key, value in tree.items():
        if key == "profile":
            refuse(f"{name}: profile", "a profile cannot rest on another", show(value))
        if key not in Motor.model_fields:
            refuse(f"{name}: {key}", unknown_field(key, Motor), show(value))
        if key in ("sources", "tolerance") and not isinstance(value, dict):
            refuse(f"{name}: {key}", "must be a table", show(value))
    return tree


def lay_over(under: Tree, over: Tree) -> Tree:
    """Fields laid over those of a profile, or of another motor.

    What is said of a value's source and tolerance does not hold for one laid over it, nor does a
    line of source above the fields laid over hold for the rest.

    Args:
        under: fields of the profile.
        over: the job's table, ``profile`` included.
    """
    given = {key: value for key, value in over.items() if key != "profile"}
    own = values_of(given).keys()
    kept = without(under, own)
    rest = values_of(kept).keys() - own
    if own and well_formed(given) and not rest <= kept.get("sources", {}).keys():
        given = without(given, rest)
    merged = {**kept, **given}
    for note in ("sources", "tolerance"):
        merged[note] = _joined(kept.get(note, {}), given.get(note, {}))
    return {key: value for key, value in merged.items() if value not in (None, {})}


def _joined(kept: Tree, given: object) -> object:
    # A wrong kind of value is left for the model to refuse.
    return {**kept, **given} if isinstance(given, dict) else given
