"""The report of the setups on the page: asks ``curves.report``, keeps what takes time of it."""

from __future__ import annotations

import datetime
from collections.abc import Callable, Iterable
from contextlib import suppress
from dataclasses import asdict, dataclass, fields, replace
from typing import Any

from curves import Job, JobError
from curves.parts.job import build_job
from curves.report import PackStudy, Results, WeakeningStudy, Wish, results
from dashboard.answers.memory import Memory
from dashboard.answers.setups import Comparison, Reading
from dashboard.state.session import View
from dashboard.widgets.progress import Task

MOST_LETTERS = 20_000
MOST_STUDIES = 4
SERIES = tuple(range(8, 25))
AMPS = tuple(float(a) for a in range(0, 61, 2))

_kept = Memory(8)


@dataclass(frozen=True)
class Asked:
    """What the user wants in it; setups by their slots, the date None for today's."""

    title: str = ""
    notes: str = ""
    workshop: str = ""
    date: str | None = None
    to_set: tuple[int, ...] = ()
    packs: tuple[int, ...] = ()
    weakening: tuple[int, ...] = ()
    endurance: bool = True

    @classmethod
    def of(cls, view: View) -> Asked:
        """As the view keeps it; what cannot be read is left at its default."""
        kept = view.extra.get("report", {})
        kept = kept if isinstance(kept, dict) else {}
        read = {f.name: _like(f.default, kept.get(f.name)) for f in fields(cls)}
        return cls(**{name: value for name, value in read.items() if value is not None})

    def kept(self) -> dict[str, object]:
        """For the view to keep."""
        return asdict(self)


def _like(usual: Any, value: Any) -> Any:
    """A value if it is of the usual one's kind, or else None."""
    match usual, value:
        case ((str() | None), str()):
            return value[:MOST_LETTERS]
        case bool(), bool():
            return value
        case tuple(), list():
            return tuple(dict.fromkeys(x for x in value if type(x) is int))
    return None


def today() -> str:
    """The date a report bears unless told."""
    return datetime.date.today().isoformat()


def job_of(compared: Comparison) -> Job:
    """The job of the setups that are shown."""
    if len(compared.shown) == len(compared.job.setup):
        return compared.job
    tree, names = compared.job.tree(), {r.name for r in compared.shown}
    tree["setup"] = [setup for setup in tree["setup"] if setup["name"] in names]
    if tree.get("compare_to") not in names:
        tree.pop("compare_to", None)
    return build_job(tree, name="job")


def wish(compared: Comparison, view: View) -> Wish:
    """What ``curves.report`` is asked for."""
    asked = Asked.of(view)

    def names(slots: Iterable[int], among: Iterable[Reading]) -> list[str]:
        return [r.name for r in among if r.slot in slots]

    return Wish(
        title=asked.title,
        notes=asked.notes,
        workshop=asked.workshop,
        date=today() if asked.date is None else asked.date,
        units=view.units,
        to_set=tuple(names(asked.to_set, compared.shown)),
        packs=tuple(
            PackStudy(name, SERIES)
            for name in names(asked.packs, of_cells(compared))[:MOST_STUDIES]
        ),
        weakenings=tuple(
            WeakeningStudy(name, AMPS)
            for name in names(asked.weakening, compared.shown)[:MOST_STUDIES]
        ),
        endurance=asked.endurance,
        slots=tuple(r.slot for r in compared.shown),
    )


def of_cells(compared: Comparison) -> list[Reading]:
    """The shown setups whose cells can be counted."""
    return [r for r in compared.shown if r.rig.pack.from_cells]


def worked_out(compared: Comparison, view: View) -> bool:
    """Whether nothing is left to be worked out."""
    return not compared.shown or _kept.has(_key(compared, view))


def work(compared: Comparison, view: View, task: Task) -> None:
    """Work it out; why there can be none is remembered too."""
    with suppress(JobError):
        _results(compared, view, task.told)


def made(compared: Comparison, view: View) -> Results | None:
    """Everything the report says; None where that is still to be worked out, or there is none.

    Raises:
        JobError: if there can be none.
    """
    ready = compared.shown and worked_out(compared, view)
    return _results(compared, view, lambda _done, _of: None) if ready else None


def _results(compared: Comparison, view: View, told: Callable[[int, int], object]) -> Results:
    job, wished = job_of(compared), wish(compared, view)

    def work_out(_: Any) -> list[Results | JobError]:
        try:
            return [results(job, _bare(wished), told)]
        except JobError as error:
            return [error]

    known = _kept.each([_key(compared, view)], work_out)[0]
    if isinstance(known, JobError):
        raise known
    return replace(known, wish=wished)


def _bare(wished: Wish) -> Wish:
    """Without what only stands in the report: to change that takes no time."""
    return replace(wished, title="", notes="", workshop="", date="", to_set=(), slots=())


def _key(compared: Comparison, view: View) -> tuple[str, Wish]:
    return job_of(compared).model_dump_json(exclude_unset=True), _bare(wish(compared, view))
