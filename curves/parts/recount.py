"""Another number of cells: what follows from it, in a job and in arrays alike."""

from __future__ import annotations

import re
from collections.abc import Mapping
from typing import Any, Final

from curves.parts.edit import free_name, own_name
from curves.parts.notes import own, revalued
from curves.parts.pack import cell_curve
from curves.parts.reading import Tree, refuse, show

CELLS: Final = ("series", "parallel")
"""Fields of a pack that others follow."""
FOLLOWS: Final = {
    "pack.mass_kg": (1, 1),
    "pack.price": (1, 1),
    "pack.bms_cutoff_v": (1, 0),
    "pack.peak_current_a": (0, 1),
    "pack.continuous_current_a": (0, 1),
    "tune.low_voltage_cutoff_v": (1, 0),
}
"""The powers of cells in series and of parallel strings that a field grows with. Volts and
resistance are worked out from the cells and need no entry."""
SOLD_AS: Final[Mapping[str, Mapping[int, tuple[int, ...]]]] = {
    "nmc-21700": {36: (10,), 48: (13,), 52: (14,), 60: (16, 17), 72: (20,)},
    "lfp-26650": {36: (11, 12), 48: (15, 16), 52: (16,), 60: (19, 20), 72: (23, 24)},
}
"""By cell curve: volts on a pack's label, and the cells in series they stand for (common practice;
they count nominal volts, 3.6 and 3.2 a cell)."""

ESTIMATE: Final = "by the cell, from a pack of other cells"
"""Said of what nobody has weighed, priced or set."""
EXACT: Final = 1e-13
"""What some products and quotients of floating-point numbers are off by, relative, with room."""

_COUNTS = re.compile(
    r"(?<![\d.,])\d+(?=s\d*p?\b|[ -]?cells?\b)|(?<=\bcells[ _-])\d+", re.IGNORECASE
)
_STRINGS = re.compile(r"(?<=\ds)\d+(?=p\b)", re.IGNORECASE)
_VOLTS = re.compile(r"(?<![\d.,])\d+(?:[.,]\d+)?(?= ?V\b)")


def following(values: Mapping[str, Any], taller: Any, wider: Any) -> dict[str, Any]:
    """What follows from other cells, of numbers or of arrays.

    Args:
        values: ``part.field`` to value; those of ``FOLLOWS`` that are missing are left out.
        taller: Cells in series over those there were.
        wider: Parallel strings over those there were.
    """
    return {
        name: values[name] * (taller**up * wider**across)
        for name, (up, across) in FOLLOWS.items()
        if name in values
    }


def recounted(
    tree: Tree, pack: str, series: int, parallel: int | None = None, *, rename: bool = True
) -> Tree:
    """A job's tree with other cells in a pack; the one given is used up.

    A tune that setups with other packs have as well stays theirs: the setups with this pack get a
    copy, for its cut-off goes with the cells.

    Args:
        tree: The job.
        pack: Name of the pack.
        series: Cells in series.
        parallel: Parallel strings; None leaves them.
        rename: Whether a name that states cells or volts is to state the new ones.

    Raises:
        JobError: if there is no such pack, or it is a source.
    """
    old = tree["pack"].get(pack)
    place = f"pack.{pack}.series"
    if old is None:
        refuse(place, "there is no such pack", show(pack))
    if old.get("cell") is None:
        refuse(place, "a source pack has no cells to count", show(series))
    strings = old["parallel"] if parallel is None else parallel
    tree["pack"][pack] = other_cells(old, series, strings)
    if not _whole(series) or not _whole(strings):
        return tree
    if series != old["series"]:
        for tune in _own_tunes(tree, pack):
            tree["tune"][tune] = _followed(tree["tune"][tune], "tune", series / old["series"], 1.0)
    if rename:
        renamed(tree, pack)
    return tree if (series, strings) == (old["series"], old["parallel"]) else own(tree)


def other_cells(pack: Tree, series: int, parallel: int) -> Tree:
    """A pack's table with other cells, and what follows in it.

    Args:
        pack: The table; its pack is made of cells.
        series: Cells in series.
        parallel: Parallel strings.
    """
    made = revalued("pack", pack, {**pack, "series": series, "parallel": parallel})
    if not _whole(series) or not _whole(parallel):
        return made
    return _followed(made, "pack", series / pack["series"], parallel / pack["parallel"])


def renamed(tree: Tree, pack: str) -> str:
    """Make a pack's name state the cells and volts it has, where it states any.

    Args:
        tree: The job, changed in place.
        pack: Name of the pack.

    Returns:
        Its name now.
    """
    table = tree["pack"][pack]
    if table.get("cell") is None:
        return pack
    name = stated(pack, table["cell"], table["series"], table["parallel"])
    if name == pack:
        return pack
    name = own_name(name, set(tree["pack"]))
    tree["pack"] = {name if old == pack else old: kept for old, kept in tree["pack"].items()}
    for setup in tree["setup"]:
        if setup["pack"] == pack:
            setup["pack"] = name
    return name


def stated(name: str, cell: str, series: int, parallel: int) -> str:
    """A pack's name with the cells and volts it states put right.

    >>> stated("cells-13", "nmc-21700", 14, 5), stated("48 V 15 Ah", "nmc-21700", 20, 5)
    ('cells-14', '72 V 15 Ah')
    """
    labels = [v for v, counts in SOLD_AS.get(cell, {}).items() if series in counts]
    nominal = cell_curve(cell).nominal_v

    def volts(found: re.Match[str]) -> str:
        said = float(found[0].replace(",", "."))
        right = said in labels or abs(said / nominal - series) < 0.5
        return found[0] if right else f"{labels[0] if labels else round(nominal * series)}"

    name = _COUNTS.sub(str(series), name)
    return _VOLTS.sub(volts, _STRINGS.sub(str(parallel), name))


def _whole(value: object) -> bool:
    """Whether it may be a count at all; the model says what is wrong with one that may not."""
    return isinstance(value, int | float) and not isinstance(value, bool) and value >= 1


def _followed(table: Tree, part: str, taller: float, wider: float) -> Tree:
    """A table with what follows; what was said of a value does not hold for another."""
    given = {f"{part}.{key}": value for key, value in table.items() if value is not None}
    follow = {
        name.partition(".")[2]: _plain(value)
        for name, value in following(given, taller, wider).items()
    }
    changed = {key: value for key, value in follow.items() if value != table[key]}
    made = revalued(part, table, {**table, **changed})
    for key in changed:
        said = table.get("sources", {}).get(key) or table.get("source")
        if said is not None:
            kind = "invented" if said.lower().startswith("invented") else "typical"
            made["sources"] = {**made.get("sources", {}), key: f"{kind}: {ESTIMATE}"}
    return made


def _plain(value: float) -> float:
    """44.8, not 44.800000000000004; all digits where they are needed to come back the same."""
    short = float(f"{value:.9g}")
    return short if abs(short - value) <= EXACT * abs(value) else value


def _own_tunes(tree: Tree, pack: str) -> list[str]:
    """Tunes with a cut-off that only setups with this pack have; shared ones are copied first."""
    setups = tree["setup"]
    mine = [setup for setup in setups if setup["pack"] == pack]
    found = []
    for tune in dict.fromkeys(setup["tune"] for setup in mine):
        if tree["tune"][tune].get("low_voltage_cutoff_v") is None:
            continue
        name = tune
        if any(setup["tune"] == tune and setup["pack"] != pack for setup in setups):
            name = free_name(tune, set(tree["tune"]))
            tree["tune"][name] = dict(tree["tune"][tune])
            for setup in mine:
                if setup["tune"] == tune:
                    setup["tune"] = name
        found.append(name)
    return found
