"""What the browser keeps: the job as edited, and how it is looked at. No Dash here."""

from __future__ import annotations

import json
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field, replace
from functools import lru_cache
from typing import Any

from curves import Job, JobError, load_job
from curves.errors import Problem
from curves.parts.edit import free_name, own_name
from curves.parts.invented import invented
from curves.parts.job import build_job, parse_job
from curves.parts.notes import own, revalued
from curves.units import AS_WRITTEN, Units
from dashboard.state import kept

MOST_SETUPS = 40
"""Setups on a page at most, in its table, its plots and its studies; a job may have more."""
MOST_SLOTS = 1_000_000
MOST_TEXT = 100_000
"""Characters of a file whose comments are kept: it goes to and fro with every change."""
USUAL_PINS = (25.0,)
PIN_KMH, PIN_GRADE = (0.0, 400.0), (-40.0, 40.0)
"""Ends of pinned speeds, km/h, and of slopes, %."""
PARTS = ("motor", "controller", "pack", "tune", "bike")


@dataclass(frozen=True)
class Session:
    """A job with what the page adds to it.

    Attributes:
        job: The job.
        slots: For each setup the number its colour and marker go by; it stays when others go.
        hidden: Slots not drawn; always enough of them that no page has more than ``MOST_SETUPS``.
        text: Of the file it was opened from, for its comments; empty for none.
        over: The table of the field that is edited, as it was before: see ``typed_over``.
    """

    job: Job
    slots: tuple[int, ...]
    hidden: frozenset[int] = frozenset()
    text: str = ""
    over: Mapping[str, Any] | None = field(default=None, compare=False)

    def __post_init__(self) -> None:
        shown = [slot for slot in self.slots if slot not in self.hidden]
        if len(shown) > MOST_SETUPS:
            first = self.reference
            shown.sort(key=lambda slot: slot != first)
            object.__setattr__(self, "hidden", self.hidden | set(shown[MOST_SETUPS:]))

    @classmethod
    def of(cls, job: Job, text: str = "") -> Session:
        """A job as just opened."""
        return cls(job, tuple(range(len(job.setup))), text=text if len(text) <= MOST_TEXT else "")

    @classmethod
    def parse(cls, data: Any) -> Session:
        """From what the browser kept.

        Raises:
            JobError: if the job in it is not one any more.
            TypeError, ValueError, RecursionError: if it never was.
        """
        if not isinstance(data, Mapping) or not isinstance(data.get("tree"), dict):
            raise TypeError("a job is a table")
        job = _job(json.dumps(data["tree"]))
        slots = tuple(_slots(data.get("slots")))
        if len(slots) != len(job.setup) or len(set(slots)) != len(slots):
            slots = tuple(range(len(job.setup)))
        hidden = frozenset(_slots(data.get("hidden"))) & frozenset(slots)
        text, over = data.get("text"), data.get("over")
        short = isinstance(text, str) and len(text) <= MOST_TEXT
        over = over if isinstance(over, dict) else None
        return cls(job, slots, hidden, str(text) if short else "", over)

    def data(self) -> dict[str, Any]:
        """For the browser to keep."""
        return {
            "tree": self.job.tree(),
            "slots": list(self.slots),
            "hidden": sorted(self.hidden),
            "text": self.text,
            **({"over": self.over} if self.over else {}),
        }

    def index(self, slot: int) -> int:
        """Place of a setup in the job."""
        return self.slots.index(slot)

    @property
    def listed(self) -> tuple[int, ...]:
        """Slots on the page: all, or where there are too many for it those that are not hidden."""
        if len(self.slots) <= MOST_SETUPS:
            return self.slots
        return tuple(slot for slot in self.slots if slot not in self.hidden)

    @property
    def reference(self) -> int | None:
        """Slot of the setup that differences are shown against, if the job has it."""
        names = [setup.name for setup in self.job.setup]
        told = self.job.compare_to
        return self.slots[names.index(told)] if told in names else None

    @property
    def invented(self) -> bool:
        """Whether any value of a setup's parts is made up."""
        return bool(invented(self.job))

    def table(self, part: str, name: str) -> Any:
        """A part by its kind and name, a setup by its slot; job, conditions, goals have no name.

        Raises:
            KeyError: if the job has none of that name.
        """
        if part == "setup":
            known = dict(zip(map(str, self.slots), self.job.setup, strict=True))
            return known[name]
        if part == "job":
            return self.job
        if part not in (*PARTS, "conditions", "goals"):
            raise KeyError(part)
        return getattr(self.job, part)[name] if part in PARTS else getattr(self.job, part)

    def edit(self, path: tuple[str | int, ...], value: object) -> Session:
        """One value of the job changed.

        Raises:
            JobError: if it is not allowed.
        """
        return replace(self, job=self.job.replace(path, value))

    def edit_field(self, part: str, name: str, key: str, value: object) -> Session:
        """One field of what ``table`` gives changed; its key dotted below a table within.

        Raises:
            JobError: if it is not allowed.
        """
        if part == "setup":
            return self.edit_setup(int(name), key, value)
        where = () if part == "job" else (part, name) if name else (part,)
        return self.edit((*where, *key.split(".")), value)

    def edit_setup(self, slot: int, key: str, value: object) -> Session:
        """One value of a setup changed; differences follow a setup that is renamed."""
        at = self.index(slot)
        if key == "name" and self.job.setup[at].name == self.job.compare_to:
            tree = self.job.tree()
            tree["setup"][at]["name"] = tree["compare_to"] = value
            return replace(self, job=build_job(tree, name="job"))
        return self.edit(("setup", at, key), value)

    def _with_room(self) -> None:
        if len(self.slots) >= MOST_SETUPS:
            said = f"the page adds none beyond {MOST_SETUPS} setups: remove one first"
            raise JobError([Problem("setup", "", said)])

    def duplicate(self, slot: int) -> Session:
        """A copy of a setup below it.

        Raises:
            JobError: if there are too many already.
        """
        at = self.index(slot)
        self._with_room()
        tree = self.job.tree()
        setups = tree["setup"]
        name = free_name(setups[at]["name"], {s["name"] for s in setups})
        setups.insert(at + 1, {**setups[at], "name": name})
        new = next(n for n in range(len(self.slots) + 1) if n not in self.slots)
        slots = (*self.slots[: at + 1], new, *self.slots[at + 1 :])
        return replace(self, job=build_job(tree, name="job"), slots=slots)

    def variant(self, slot: int, numbers: Mapping[str, float], told: str = "") -> Session:
        """A copy of a setup at the end, with other numbers, in parts of its own.

        Args:
            slot: The setup.
            numbers: ``part.field`` to value.
            told: What sets it apart, behind its name and those of its parts; else a count is.

        Raises:
            JobError: if a value is not allowed, or there are too many setups already.
        """
        self._with_room()
        tree = self.job.tree()
        old = tree["setup"][self.index(slot)]
        apart = f", {told}" if told else ""
        taken = {setup["name"] for setup in tree["setup"]}
        made = {**old, "name": own_name(f"{old['name']}{apart}", taken)}
        for name, value in numbers.items():
            part, _, key = name.partition(".")
            if part == "setup":
                made[key] = value
                continue
            known = tree.setdefault(part, {})
            if made.get(part) == old.get(part):
                made[part] = own_name(f"{old.get(part) or part}{apart}", set(known))
                known[made[part]] = dict(known.get(old.get(part), {}))
            known[made[part]][key] = int(value) if value == int(value) else float(f"{value:.9g}")
        for part in (part for part in PARTS if made.get(part) != old.get(part)):
            known, new = tree[part], made[part]
            known[new] = revalued(part, known.get(old.get(part), {}), known[new])
        tree["setup"].append(revalued("setup", old, made))
        new = next(n for n in range(len(self.slots) + 1) if n not in self.slots)
        return replace(self, job=build_job(own(tree), name="job"), slots=(*self.slots, new))

    def remove(self, slot: int) -> Session:
        """A setup taken out; the last one stays."""
        if len(self.slots) == 1:
            return self
        at = self.index(slot)
        tree = self.job.tree()
        gone = tree["setup"].pop(at)
        if tree.get("compare_to") == gone["name"]:
            del tree["compare_to"]
        slots = (*self.slots[:at], *self.slots[at + 1 :])
        job = build_job(tree, name="job")
        return replace(self, job=job, slots=slots, hidden=self.hidden - {slot})

    def compare_to(self, slot: int) -> Session:
        """Differences shown against this setup."""
        return self.edit(("compare_to",), self.job.setup[self.index(slot)].name)

    def toggle(self, slot: int) -> Session:
        """A setup hidden or shown again."""
        return replace(self, hidden=self.hidden ^ {slot})

    def showing(self, slots: Iterable[int]) -> Session:
        """These setups shown, and no others."""
        return replace(self, hidden=frozenset(self.slots) - frozenset(slots))

    def show_all(self, _slot: int) -> Session:
        """No setup hidden."""
        return replace(self, hidden=frozenset())

    def own_part(self, slot: int, part: str) -> tuple[Session, str]:
        """A copy of a part for one setup alone, and its name."""
        tree = self.job.tree()
        setup = tree["setup"][self.index(slot)]
        known = tree.setdefault(part, {})
        old = setup.get(part)
        name = free_name(old or part, set(known))
        known[name] = dict(known[old]) if old else {}
        setup[part] = name
        return replace(self, job=build_job(tree, name="job")), name


@dataclass(frozen=True)
class View:
    """How a job is looked at.

    Attributes:
        units: What quantities are read in.
        pinned_kmh: Speeds with a column in the table and a line in the plots.
        grades: Slopes, %, with a line of their own beside the job's.
        width: Of the plots, px, as last measured.
        extra: What single pages keep.
    """

    units: Units = AS_WRITTEN
    pinned_kmh: tuple[float, ...] = USUAL_PINS
    grades: tuple[float, ...] | None = None
    width: int = 1200
    extra: Mapping[str, Mapping[str, Any]] = field(default_factory=dict)

    @classmethod
    def parse(cls, data: Any) -> View:
        """From what the browser kept; what cannot be read is left at its default."""
        data = data if isinstance(data, Mapping) else {}
        pinned, grades = data.get("pinned_kmh"), data.get("grades")
        return cls(
            units=Units.of(_list(data.get("units"))),
            pinned_kmh=_numbers(pinned, *PIN_KMH)[:4] if isinstance(pinned, list) else USUAL_PINS,
            grades=_numbers(grades, *PIN_GRADE)[:4] if isinstance(grades, list) else None,
            width=int(next(iter(_numbers([data.get("width")], 200, 4000)), 1200)),
            extra=kept.of_pages(data.get("extra")),
        )

    def data(self) -> dict[str, Any]:
        """For the browser to keep."""
        return {
            "units": sorted(self.units.chosen),
            "pinned_kmh": list(self.pinned_kmh),
            "grades": None if self.grades is None else list(self.grades),
            "width": self.width,
            "extra": dict(self.extra),
        }

    @property
    def speed(self) -> str:
        """The unit of speed."""
        return self.units.name("km/h")

    def slopes(self, job: Job) -> tuple[float, ...]:
        """Slopes drawn, %: the user's, or the goal hill's to begin with."""
        if self.grades is not None:
            return self.grades
        return () if job.goals.hill is None else (job.goals.hill.grade_percent,)


def read_session(data: Any) -> Session:
    """What the browser kept; the demonstration where that cannot be read (any more)."""
    try:
        return Session.parse(data)
    except (JobError, TypeError, ValueError, RecursionError):
        return Session.of(load_job())


@lru_cache(maxsize=64)
def _job(text: str) -> Job:
    return parse_job(text, name="job", kind="json")


def _list(values: Any) -> list[Any]:
    return list(values) if isinstance(values, list | tuple) else []


def _slots(values: Any) -> list[int]:
    """The numbers of setups in a list that the browser kept; none where one of them is none."""
    found = _list(values)
    return found if all(type(slot) is int and 0 <= slot < MOST_SLOTS for slot in found) else []


def _numbers(values: Any, least: float, most: float) -> tuple[float, ...]:
    numbers = [v for v in _list(values) if type(v) in (int, float) and least <= v <= most]
    return tuple(dict.fromkeys(map(float, numbers)))
