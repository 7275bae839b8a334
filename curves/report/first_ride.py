"""A staged first ride after the controller was set, with what to look for and when to stop."""

from __future__ import annotations

from curves.cautions.caution import PRACTICE
from curves.report.markup import Child, Markup, tag
from curves.report.pieces import NONE, Column, given, name, number, section, table
from curves.report.results import Results
from curves.units import KMH

STOP = (
    "the wheel turns the wrong way, jerks, grinds or whines where it did not before",
    "a brake lever does not end the drive at once, or the throttle does not return by itself",
    "the bike slows by itself when the throttle is let go, unless braking was set",
    "motor, controller, pack, fuse, a connector or a lead gets too hot to hold (about {hot})",
    "smoke, a smell, a swollen cell, a loose axle or a turned torque arm",
    "the pack's volts fall to its BMS's cut-off before the controller's own cut-off acts",
    "any reading is more than a tenth off what is expected here",
    "anything feels wrong to the rider",
)
SLOW_KMH = 15.0
HOT_C = 60.0


def first_ride(found: Results) -> Markup:
    """Stages in their order, each to be passed before the next."""
    stages = [tag("li", tag("b", title), " ", said) for title, said in _stages(found)]
    return section(
        "The first ride, in stages",
        tag("ol", stages, class_="stages"),
        _expected(found),
        tag("h3", "Stop, switch off and find the cause if"),
        tag("ul", [tag("li", said.format(hot=_hot(found))) for said in STOP], class_="notes stop"),
        tag("p", f"Source: {PRACTICE}.", class_="soft"),
        id_="first-ride",
        lead=(
            "On closed, level, dry ground, with a helmet, a second person and the tools to open "
            "the pack's connector; never first on the road. Go on only when a stage went as it "
            "should."
        ),
    )


def _stages(found: Results) -> list[tuple[str, str]]:
    unit = found.speed_unit
    weakened = any(found.rigs[k].tune.field_weakening_a > 0 for k in found.chosen)
    slow = number(SLOW_KMH * KMH / found.per, 2)
    stages = [
        (
            "At rest, switched off.",
            "Polarity, fuse, every connector, torque arms and axle nuts, brakes and tyres. Both "
            "cut-offs and every other value read back and noted.",
        ),
        (
            "Wheel off the ground, a quarter of the phase current, no field weakening.",
            "It turns the right way and smoothly; each brake lever ends the drive; the throttle "
            "returns. Then, with nobody near the wheel, full throttle; read the speed.",
        ),
        (
            "Rolling, half of the phase and pack current.",
            f"Pull away and stop ten times, not above {slow} {unit}. Torque arms once more.",
        ),
        (
            "Ten minutes, still at half of both currents.",
            "Up to half of the top speed. Then feel motor, controller, connectors and leads.",
        ),
        (
            "Full currents, still without field weakening." if weakened else "Full currents.",
            "With a full pack up to top speed on level ground; read speed and volts. Let go of the "
            "throttle there: it must roll on freely.",
        ),
    ]
    if weakened:
        stages.append(
            (
                "Field weakening, a third more each time.",
                "After each step top speed, a let-go of the throttle there, the motor's warmth.",
            )
        )
    stages.append(
        (
            "Nearly empty.",
            "Ride the pack down gently. The controller has to fade or cut out by itself, before "
            "the BMS opens.",
        )
    )
    return stages


def _expected(found: Results) -> Markup:
    """What should be read at the stages, one row a setup."""
    unit = found.speed_unit
    weakened = any(found.rigs[k].tune.field_weakening_a > 0 for k in found.chosen)
    columns = [
        Column("Expect"),
        Column("Full pack", "V at rest"),
        Column("Wheel off the ground", f"{unit}, no weakening"),
        Column("Top speed", f"{unit}, no weakening"),
        Column("Pack there", "V under load"),
        *[Column("Top speed", f"{unit}, weakened")] * weakened,
        Column("Back-EMF there", "V, drive off, cold"),
        Column("Cut-offs", "V, controller; BMS"),
    ]
    rows: list[list[Child]] = []
    for k in found.chosen:
        rig, facts, plain = found.rigs[k], found.facts[k], found.plain
        fresh = float(found.fresh.speed[k])
        right = found.instead(k)
        cuts = [
            right[field].value if field in right else value
            for field, value in (
                ("low_voltage_cutoff_v", rig.tune.low_voltage_cutoff_v),
                ("bms_cutoff_v", rig.pack.bms_cutoff_v),
            )
        ]
        top: list[Child] = [_about(found, fresh)] * weakened
        rows.append(
            [
                name(found, k),
                number(facts.full_v),
                _about(found, float(plain.no_load_speed[k])),
                _about(found, float(plain.speed[k])),
                number(float(plain.pack_voltage[k])),
                *top,
                number(fresh * facts.rotor_per_road * facts.volts_per_rotor_speed),
                "; ".join(NONE if v is None else given(v) for v in cuts),
            ]
        )
    return table(columns, rows, caption="What to expect on the first ride", kind="small expected")


def _hot(found: Results) -> str:
    return f"{number(float(found.units.shown(HOT_C, '°C')), 2)} {found.units.name('°C')}"


def _about(found: Results, speed: float) -> str:
    return number(speed / found.per, 2)
