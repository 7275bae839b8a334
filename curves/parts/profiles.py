"""A motor profile, and the job's own fields laid over it; touches no file."""

from __future__ import annotations

from curves.parts.motor import Motor
from curves.parts.problems import NOTES, unknown_field
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


def lay_over(profile: Tree, motor: Tree) -> Tree:
    """A motor's own fields over those of a profile.

    What the profile says of a value's source and tolerance does not hold for one laid over it.

    Args:
        profile: fields of the profile.
        motor: the job's table, ``profile`` included.
    """
    given = {key: value for key, value in motor.items() if key != "profile"}
    own = given.keys() - set(NOTES)
    merged = {**profile, **given}
    for note in ("sources", "tolerance"):
        kept = {key: said for key, said in profile.get(note, {}).items() if key not in own}
        merged[note] = _joined(kept, given.get(note, {}))
    if own and "source" in profile:
        rest = {key: profile["source"] for key in profile if key not in own | set(NOTES)}
        merged["sources"] = _joined(rest, merged["sources"])
        merged["source"] = given.get("source")
    return {key: value for key, value in merged.items() if value not in (None, {})}


def _joined(kept: Tree, given: object) -> object:
    # A wrong kind of value is left for the model to refuse.
    return {**kept, **given} if isinstance(given, dict) else given
