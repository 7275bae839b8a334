"""Parts that come, go and are renamed: a session in, a session out. No Dash here."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

from curves.errors import JobError, Problem
from curves.parts.job import build_job
from dashboard.state import Session, own_name


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


def removed(session: Session, part: str, name: str) -> Session:
    """A part taken out; one that a setup has stays."""
    if any(getattr(setup, part) == name for setup in session.job.setup):
        return session
    tree = session.job.tree()
    del tree[part][name]
    return _with(session, tree)


def _with(session: Session, tree: dict[str, Any]) -> Session:
    return replace(session, job=build_job(tree, name="job"))
