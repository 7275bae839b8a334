"""What the user wants in a report beside the job."""

from __future__ import annotations

from dataclasses import dataclass

from curves.units import AS_WRITTEN, Units


@dataclass(frozen=True)
class PackStudy:
    """A pack sweep that the report shall hold: whose, and cells in series."""

    setup: str
    series: tuple[int, ...]


@dataclass(frozen=True)
class WeakeningStudy:
    """A field-weakening sweep that the report shall hold: whose, and settings in its basis, A."""

    setup: str
    amps: tuple[float, ...]


@dataclass(frozen=True)
class Wish:
    """What the user wants in a report beside the job.

    Attributes:
        title: the question; the job's title if empty.
        notes: the user's own paragraphs.
        workshop: whose report it is.
        date: as it shall stand there; empty for none.
        units: what is read; the job inside the report keeps its own.
        to_set: setups the page for the controller is about; empty for all but the one compared to.
        packs: pack sweeps.
        weakenings: field-weakening sweeps.
        endurance: whether heat and range are worked out, which takes the most time.
        slots: the number each setup's colour and shape go by, one a setup of the job; empty for
            its place in the job.
    """

    title: str = ""
    notes: str = ""
    workshop: str = ""
    date: str = ""
    units: Units = AS_WRITTEN
    to_set: tuple[str, ...] = ()
    packs: tuple[PackStudy, ...] = ()
    weakenings: tuple[WeakeningStudy, ...] = ()
    endurance: bool = True
    slots: tuple[int, ...] = ()

    @property
    def has_studies(self) -> bool:
        """Whether any study was asked for."""
        return bool(self.packs or self.weakenings)
