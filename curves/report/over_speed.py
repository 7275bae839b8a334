"""Force, power and currents over road speed: a panel a quantity, one axis for all."""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from typing import NamedTuple

import numpy as np

from curves.numerics.roots import Array
from curves.report.look import shape
from curves.report.markup import Child, Markup
from curves.report.pieces import (
    Column,
    figure,
    given,
    legend,
    number,
    section,
    table,
)
from curves.report.plot import (
    CHARACTER,
    NARROW,
    Axes,
    beads,
    largest,
    line,
    round_up,
    rule,
    scales,
    svg,
    upright,
    words,
)
from curves.report.results import Results
from curves.report.stretches import limits_figure
from curves.steady.envelope import Envelope
from curves.steady.starting import starts
from curves.units import KMH, PERCENT


class Panel(NamedTuple):
    """A quantity over road speed."""

    title: str
    unit: str
    height: float
    lead: str
    read: Callable[[Envelope], Array]


PANELS = (
    Panel(
        "Power at the rim, W",
        "W",
        190,
        "What is left for the road after the motor and its gears.",
        lambda e: e.rim_power,
    ),
    Panel(
        "Power from the pack, W",
        "W",
        190,
        "Drawn at the controller's input; the gap to the power at the rim is heat.",
        lambda e: e.pack_power,
    ),
    Panel(
        "Pack current, A",
        "A",
        170,
        "What pack, BMS, fuse and leads have to carry.",
        lambda e: e.pack_current,
    ),
    Panel(
        "Phase current, A peak",
        "A",
        170,
        "What winding and phase leads have to carry; divide by 1.41 for rms.",
        lambda e: e.phase_current,
    ),
)
FORCE = Panel(
    "Force at the rim, N",
    "N",
    340,
    "Where a setup's line meets the road load is its top speed, marked large.",
    lambda e: e.rim_force,
)


NEAR, APART = 13.0, 15.0
"""Large marks nearer than the one are hung lower by the other, px."""


class Road(NamedTuple):
    """A road load: its name, and its force, N, over speed, m/s."""

    name: str
    speed: Array
    force: Array


def over_speed(found: Results) -> Markup:
    """All panels, the force first and what limits it next."""
    return section(
        "Over road speed",
        _figure(found, FORCE),
        limits_figure(found, last(found)),
        [_figure(found, panel) for panel in PANELS],
        id_="curves",
        lead="Full throttle, in steady state. All panels share one axis of road speed.",
    )


def last(found: Results) -> float:
    """The end of the axis, in the unit shown."""
    end = float(np.max(found.lines.speed)) / found.per
    return float(math.ceil(end * 1.02 / 5) * 5)


def _figure(found: Results, panel: Panel) -> Markup:
    return figure(
        panel.title,
        panel.lead,
        lambda width: _draw(found, panel, width),
        legend=legend(found),
        numbers=_numbers(found, panel),
    )


def _draw(found: Results, panel: Panel, width: float) -> Markup:
    top = round_up(1.04 * largest([panel.read(found.lines)]))
    height = panel.height if width > NARROW else min(panel.height, 260)
    axes = Axes(width, height, 0.0, last(found), 0.0, top)
    force = panel is FORCE
    inside: list[Child] = [scales(axes, f"road speed, {found.speed_unit}")]
    goal = found.job.goals.top_speed_kmh
    if force and goal is not None and goal * KMH / found.per < axes.x1:
        wanted = goal * KMH / found.per
        inside.append(upright(axes, wanted, f"wanted {given(round(wanted, 1))}", drop=20))
    if force:
        inside.append([_road(axes, road, found.per) for road in roads(found)])
    count = len(found.rigs)
    speeds, values = found.lines.speed / found.per, panel.read(found.lines)
    inside += [line(axes, speeds[k], values[k], found.mark(k).colour, 2.2) for k in range(count)]
    inside += [beads(axes, speeds[k], values[k], found.mark(k), k, count) for k in range(count)]
    if force:
        inside.append(_tops(found, axes))
    return svg(axes, f"{panel.title} over road speed for every setup.", inside)


def _road(axes: Axes, road: Road, per: float) -> list[Markup]:
    x, force = road.speed / per, road.force
    seen = np.flatnonzero((force <= axes.y1) & (x <= axes.x1))
    made = [line(axes, x, force, "", 1.3, "road")]
    if seen.size:
        k = int(seen[-1])
        at, y = axes.x(float(x[k])), axes.y(float(force[k]))
        near = at - len(road.name) * CHARACTER - 20 > axes.left
        made.append(
            words(
                at - 20 if near else at + 6,
                y + 2,
                road.name,
                anchor="end" if near else "start",
                ink="soft",
                halo=True,
            )
        )
    return made


def roads(found: Results) -> list[Road]:
    """Road loads: the job's own slope and the goal's hill, once for bikes that ask the same."""
    speed = np.linspace(0.0, last(found) * found.per, 121)
    own = found.job.conditions.grade_percent
    hill = found.job.goals.hill
    slopes = dict.fromkeys((own, own if hill is None else hill.grade_percent))
    made: list[Road] = []
    road = found.stacked.batch().road
    for slope in slopes:
        steep = road._replace(grade=np.full_like(road.grade, slope * PERCENT))
        said = "level road" if slope == 0 else f"{given(slope)} % grade"
        for force in np.broadcast_to(steep.force(speed), (len(found.rigs), speed.size)):
            # Packs differ by a few hundred grams: one line stands for all of them.
            if not any(np.allclose(force, old.force, rtol=0.03, atol=1.0) for old in made):
                made.append(Road(said, speed, force))
    return made


def _tops(found: Results, axes: Axes) -> list[Markup]:
    """Top speeds on the road load; marks that would hide each other hang below on a staff."""
    staffs: list[Markup] = []
    marks: list[Markup] = []
    taken: list[tuple[float, float]] = []
    for k in range(len(found.rigs)):
        top = float(found.top.speed[k])
        if not starts(top):
            continue
        load = float(np.interp(top, found.lines.speed[k], found.lines.road_force[k]))
        x, at = axes.x(top / found.per), axes.y(load)
        y = at
        while any(abs(x - a) < NEAR and abs(y - b) < NEAR for a, b in taken):
            y += APART
        taken.append((x, y))
        if y > at:
            staffs.append(rule(x, at, x, y, "soft"))
        marks.append(shape(found.mark(k), x, y, 7.0, outlined=True))
    return staffs + marks


def _numbers(found: Results, panel: Panel) -> Markup:
    speeds = found.table.speed / found.per
    values = panel.read(found.table)
    columns = [Column(found.speed_unit), *(Column(rig.name) for rig in found.rigs)]
    columns += [Column("road load")] * (panel is FORCE)
    rows = [_line(found, panel, values[:, j], j, speeds) for j in range(speeds.size)]
    return table(columns, rows, caption=f"{panel.title} over road speed", kind="small")


def _line(found: Results, panel: Panel, values: Array, j: int, speeds: Array) -> Sequence[str]:
    load = [number(float(found.table.road_force[0, j]))] if panel is FORCE else []
    return [given(float(speeds[j].round(6))), *(number(float(v)) for v in values), *load]
