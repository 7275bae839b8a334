"""Parts that come, go and are renamed: a session in, a session out. No Dash here."""

from __future__ import annotations

from dataclasses import replace
from functools import lru_cache
from typing import Any

from curves import Motor, load_profile
from curves.errors import JobError, Problem
from curves.parts import recount
from curves.parts.edit import own_name
from curves.parts.job import build_job
from dashboard.state.session import Session


def copied(session: Session, part: str, name: str) -> tuple[Session, str]:
    """A copy of a part that no setup has yet, and its name."""
    return added(session, part, name, session.job.tree()[part][name])


def added(session: Session, part: str, like: str, table: dict[str, Any]) -> tuple[Session, str]:
    """A new part that no setup has yet, and its name.

    Args:
        session: What is edited.
        part: Its kind.
        like: The name it is to have, or one like it.
        table: Its fields; ``{"profile": …}`` for a motor from a profile.

    Raises:
        JobError: if it is not allowed.
    """
    tree = session.job.tree()
    known = tree.setdefault(part, {})
    name = own_name(like, set(known))
    known[name] = table
    return _with(session, tree), name


def renamed(session: Session, part: str, old: str, new: str) -> Session:
    """A part under another name, in its place, for every setup that has it.

    Raises:
        JobError: if the name is taken or none at all.
    """
    new = new.strip()
    if new == old:
        return session
    tree = session.job.tree()
    if not new or new in tree[part]:
        wrong = "is taken by another one" if new else "must not be empty"
        raise JobError([Problem(f"{part}.{old}", repr(new), wrong)])
    tree[part] = {new if name == old else name: table for name, table in tree[part].items()}
    for setup in tree["setup"]:
        if setup.get(part) == old:
            setup[part] = new
    return _with(session, tree)


def recounted(session: Session, pack: str, key: str, value: object) -> Session:
    """Other cells in a pack and what follows; its name waits, for an open form goes by it.

    Args:
        session: What is edited.
        pack: Its name.
        key: ``series`` or ``parallel``.
        value: How many.

    Raises:
        JobError: if it is not allowed.
    """
    tree = session.job.tree()
    counts = {"series": tree["pack"][pack]["series"], "parallel": None, key: value}
    return _with(session, recount.recounted(tree, pack, **counts, rename=False))


def named_by_cells(session: Session, pack: str) -> tuple[Session, str]:
    """A pack's name put right where it states cells or volts, and that name."""
    tree = session.job.tree()
    name = recount.renamed(tree, pack)
    return (session if name == pack else _with(session, tree)), name


def removed(session: Session, part: str, name: str) -> Session:
    """A part taken out; one that a setup has stays."""
    if any(getattr(setup, part) == name for setup in session.job.setup):
        return session
    tree = session.job.tree()
    del tree[part][name]
    return _with(session, tree)


USUAL_HILL = {"grade_percent": 8.0, "length_m": 500.0, "speed_kmh": 15.0}
"""What a goal's hill begins with (common practice)."""


def with_hill(session: Session, *, there: bool) -> Session:
    """The goals with a usual hill, said to be one, or with none."""
    if not there:
        return session.edit(("goals", "hill"), None)
    session = session.edit(("goals", "hill"), dict(USUAL_HILL))
    return session.edit(("goals", "sources", "hill"), "typical: common practice")


def profile_of(motor: Motor) -> Motor | None:
    """The packaged profile that a motor rests on; None for none."""
    return None if motor.profile is None else _profile(motor.profile)


@lru_cache(maxsize=32)
def _profile(name: str) -> Motor:
    return load_profile(name)


def takes(motor: Motor, key: str) -> Any:
    """The value of a field that a motor's profile has for it; None for none."""
    profile = profile_of(motor)
    given = profile is not None and key in profile.model_fields_set
    return getattr(profile, key) if given else None


def is_profiles(motor: Motor, key: str) -> bool:
    """Whether a motor's field is as its profile has it, and says so."""
    profile = profile_of(motor)
    return profile is not None and _told(profile, key) == _told(motor, key)


def _told(motor: Motor, key: str) -> tuple[Any, ...]:
    return getattr(motor, key), motor.source_of(key), motor.tolerance.get(key)


def taken_back(session: Session, name: str, key: str) -> Session:
    """A motor's field as its profile has it, with its source and tolerance.

    Args:
        session: What is edited.
        name: The motor; it must rest on a profile.
        key: The field.

    Raises:
        JobError: if the motor would not be one any more.
    """
    motor = session.job.motor[name]
    profile = profile_of(motor)
    if profile is None or takes(motor, key) is None:
        return session
    at = ("motor", name)
    session = session.edit((*at, key), profile.model_dump(mode="json")[key])
    session = session.edit((*at, "sources", key), profile.source_of(key))
    return session.edit((*at, "tolerance", key), profile.tolerance.get(key))


def _with(session: Session, tree: dict[str, Any]) -> Session:
    return replace(session, job=build_job(tree, name="job"))
