"""The studies asked for: pack sweeps and field-weakening sweeps, each led by its answer."""

from __future__ import annotations

import math
from collections.abc import Sequence

import numpy as np

from curves.numerics.roots import Array
from curves.present.marks import Mark
from curves.present.packs import pack_columns
from curves.present.table import picked
from curves.present.weakening import weakening_columns
from curves.report.look import shape
from curves.report.markup import Child, Markup, tag
from curves.report.pieces import figure, number, results, section
from curves.report.plot import (
    NARROW,
    Axes,
    largest,
    line,
    round_up,
    scales,
    svg,
    ticks,
    upright,
    words,
)
from curves.report.results import Results
from curves.studies.helping import marks
from curves.studies.packs import PackSweep
from curves.studies.weakening import WeakeningSweep
from curves.words import packs as packs_words
from curves.words import weakening as weakening_words

HEIGHT = 230.0
WEAKENING = ("amps", "top_speed_kmh", "loss_w", "wh_per_km", "drive_off_emf_cold_v", "limited_by")
CHARGES = {1.0: "full", 0.5: "half"}


def studies(found: Results) -> Markup | None:
    """Every study asked for, or nothing."""
    made = [_packs(found, sweep) for sweep in found.packs]
    made += [_weakening(found, sweep) for sweep in found.weakenings]
    return section("Studies", made, id_="studies") if made else None


def _packs(found: Results, sweep: PackSweep) -> Markup:
    unit = found.speed_unit
    mark = found.mark(found.place(sweep.name))
    said = [CHARGES.get(c, f"{100 * c:.0f} %") for c in sweep.charge.tolist()]
    tops = sweep.top_speed[:, 0, :] / found.per
    tops_kmh = (f"top_speed_kmh_{k}" for k in range(sweep.charge.size))
    columns = picked(pack_columns(sweep), "series", "full_v", *tops_kmh, "pack_kg", "limited_by")
    guides = [(count, f"{told} at {count:.0f}") for count, told in marks(sweep.line())]

    def draw(width: float) -> Markup:
        lines = list(zip(said, tops, strict=True))
        return _lines(
            sweep.series, lines, mark, width, "cells in series", guides, f"Top speed, {unit}"
        )

    return tag(
        "div",
        figure(
            f"How many cells in series for “{sweep.name}”? Top speed at these charges, {unit}",
            packs_words.sentence(sweep, found.units),
            draw,
            numbers=results(found, columns, caption="Top speed over cells in series", kind="small"),
        ),
        class_="study",
    )


def _weakening(found: Results, sweep: WeakeningSweep) -> Markup:
    unit = found.speed_unit
    basis = f"A {sweep.basis}"
    mark = found.mark(found.place(sweep.name))
    top = sweep.top.speed / found.per
    columns = picked(weakening_columns(sweep), *WEAKENING)
    guides = _settings(sweep)
    numbers = results(found, columns, caption="Field weakening and what it brings", kind="small")

    def drawn(values: Array, what: str, marked: Sequence[tuple[float, str]]) -> Markup:
        def draw(width: float) -> Markup:
            return _lines(
                sweep.amps,
                [("", values)],
                mark,
                width,
                f"field-weakening current, {basis}",
                marked,
                what,
            )

        return figure(
            f"How much field weakening for “{sweep.name}”? {what}"
            if marked is guides
            else f"{what}, at that top speed",
            weakening_words.sentence(sweep, found.units) if marked is guides else "",
            draw,
            numbers=numbers if marked is guides else None,
        )

    return tag(
        "div",
        drawn(top, f"Top speed, {unit}", guides),
        drawn(sweep.running.loss, "Loss on the way to the rim, W", ()),
        class_="study",
    )


def _settings(sweep: WeakeningSweep) -> list[tuple[float, str]]:
    """The answers that are single figures and lie within the range, to be marked."""
    if sweep.spread is not None:
        return []
    said = sweep.answers
    found = {"fastest": said.fastest[0], "pays to here": said.diminishing[0]}
    marked: list[tuple[float, str]] = []
    for what, amps in found.items():
        if math.isfinite(amps) and sweep.amps[0] < amps < sweep.amps[-1]:
            if marked and abs(marked[-1][0] - amps) < 0.05 * (sweep.amps[-1] - sweep.amps[0]):
                continue
            marked.append((float(amps), f"{what}, {number(float(amps))} A"))
    return marked


def _lines(
    x: Array,
    lines: Sequence[tuple[str, Array]],
    mark: Mark,
    width: float,
    x_title: str,
    guides: Sequence[tuple[float, str]],
    told: str,
) -> Markup:
    """Lines of one setup over a setting, each named at its end."""
    values = [y for _, y in lines]
    low, high = _span(values)
    tall = HEIGHT if width > NARROW else 210.0
    axes = Axes(width, tall, float(x[0]), float(max(x[-1], x[0] + 1)), low, high)
    inside: list[Child] = [scales(axes, x_title)]
    inside += [upright(axes, at, said, low=True) for at, said in guides]
    for y in values:
        inside.append(line(axes, x, y, mark.colour, 2.2))
        if x.size <= 40:
            inside += [
                shape(mark, axes.x(float(a)), axes.y(float(b)), 3.4, outlined=True)
                for a, b in zip(x, y, strict=True)
                if math.isfinite(b)
            ]
    inside += _named(axes, x, lines)
    return svg(axes, f"{told} over {x_title}.", inside)


def _span(values: Sequence[Array]) -> tuple[float, float]:
    """Ends of the axis: from 0 unless the values are far above it."""
    high = largest(values)
    low = -largest([-y for y in values])
    if high <= 0 or low < high / 3:
        return 0.0, round_up(1.08 * high)
    step = ticks(0.0, max(high - low, high / 10), 3)[1]
    return step * math.floor(low / step - 0.3), step * math.ceil(high / step + 0.1)


def _named(axes: Axes, x: Array, lines: Sequence[tuple[str, Array]]) -> list[Markup]:
    """Names beside lines, at the place where they are most apart."""
    said = [name for name, _ in lines]
    if not any(said):
        return []
    values = np.array([y for _, y in lines])
    with np.errstate(invalid="ignore"):
        apart = np.abs(np.diff(np.sort(values, axis=0), axis=0)).min(axis=0)
    known = np.isfinite(apart)
    k = int(np.nanargmax(np.where(known, apart, -1.0))) if known.any() else x.size - 1
    at = axes.x(float(x[k]))
    early = at < axes.width / 2
    return [
        words(
            at + (8 if early else -8),
            axes.y(float(y[k])) + 10,
            name,
            anchor="start" if early else "end",
            ink="soft",
            halo=True,
        )
        for name, y in lines
        if math.isfinite(y[k])
    ]
