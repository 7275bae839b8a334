"""How each reading for a motor is taken with what a workshop has."""

from __future__ import annotations

from typing import NamedTuple

from dashboard.widgets.readings import Table


class Guide(NamedTuple):
    """One kind of reading.

    Attributes:
        title: What it gives, in a few words.
        table: Where it is typed.
        steps: How it is taken, in order.
        gives: Values that follow, by their name in a profile.
    """

    title: str
    table: Table
    steps: tuple[str, ...]
    gives: tuple[str, ...]


GUIDES = (
    Guide(
        "Pole pairs",
        Table("poles", ("electrical_hz", "electrical_rpm", "rotor_rpm", "wheel_rpm")),
        (
            "Turn the motor and read its electrical speed: a meter that shows hertz between two "
            "leads, or the electrical rpm that the controller shows.",
            "Read the wheel’s or the rotor’s own speed at the same moment. One speed of each pair "
            "of columns is enough.",
            "Or count the magnets, halve the count, and type it under “What was not measured”.",
        ),
        ("pole_pairs",),
    ),
    Guide(
        "Winding resistance: milliohms from amperes and millivolts",
        Table("resistance", ("pair", "amperes", "millivolts", "winding_c")),
        (
            "Disconnect the controller. Send 2 to 6 A from a bench supply through two motor leads.",
            "Read the millivolts at the motor’s own leads, inside the supply’s clips, so that "
            "clips and cable do not count. Millivolts over amperes are milliohms.",
            "Swap the supply’s leads and read again (both numbers negative). Do so for all three "
            "pairs, quickly, before the winding warms; note its temperature.",
        ),
        ("resistance_ohm",),
    ),
    Guide(
        "Inductance over the rotor’s angle",
        Table("inductance", ("pair", "microhenries", "rim_mm", "rotor_deg")),
        (
            "Clip an LCR meter (1 kHz) to two leads, the third free.",
            "Turn the rotor a little, hold it still, read. Go on in five or more even steps over "
            "half an electrical turn: the tyre’s roll-out divided by twice the pole pairs.",
            "Type how far the tread has moved past a mark, mm, or the rotor’s angle. Least and "
            "most come from a curve through all readings, not from the two extremes.",
        ),
        ("inductance_d_uh", "inductance_q_uh"),
    ),
    Guide(
        "Kv by spinning the motor, leads open",
        Table("back_emf", ("volts", "per", "rotor_rpm", "wheel_rpm", "magnet_c")),
        (
            "Spin the wheel with a drill, leads open and apart; keep hands and clothes clear.",
            "Read the volts between two leads and say how they were read: a multimeter on AC shows "
            "rms line-to-line, an oscilloscope peak.",
            "Three speeds or more. This is the surest way to Kv.",
        ),
        ("kv_rpm_per_v",),
    ),
    Guide(
        "No-load speed and amperes, wheel off the ground",
        Table("no_load", ("pack_v", "pack_a", "rotor_rpm", "wheel_rpm", "winding_c")),
        (
            "Clamp the bike, lift the driven wheel, turn field weakening off.",
            "Full throttle; wait until the speed is steady; read volts and amperes at the "
            "controller’s input, and the speed.",
            "Three pack voltages or more tell what drags always from what grows with speed. "
            "Resistance and pole pairs are needed first.",
        ),
        ("no_load_torque_nm", "no_load_torque_nm_per_rad_s", "max_modulation"),
    ),
    Guide(
        "Kv as others state it",
        Table("kv_stated", ("rpm_per_v", "per"), several=False),
        (
            "Type the number and the kind of volt it is meant for; it is converted. Where Kv was "
            "measured too, this is only compared with it.",
        ),
        (),
    ),
    Guide(
        "Pack resistance from resting and loaded volts",
        Table("pack_load", ("resting_v", "loaded_v", "amperes")),
        (
            "Read the pack’s volts after some minutes of rest.",
            "Draw a known steady current (a heater, a climb) for ten seconds and read again. Volts "
            "lost over amperes are ohms.",
            "Two or three currents, always after the same time.",
        ),
        ("pack_resistance_ohm",),
    ),
    Guide(
        "Roll-out of the driven wheel",
        Table("roll_out", ("distance_m", "turns")),
        (
            "Sit on the loaded bike, valve down, mark the floor; roll straight ahead some whole "
            "turns, mark again, measure between the marks.",
        ),
        ("circumference_m",),
    ),
    Guide(
        "The controller that turned the motor",
        Table("drive", ("max_modulation", "resistance_mohm", "standby_w"), several=False),
        (
            "For the no-load readings: the share of the voltage it uses (0.90 to 0.95 is typical, "
            "1 if unknown), its resistance, and the watts it draws with the motor at rest.",
        ),
        (),
    ),
    Guide(
        "What was not measured",
        Table("not_measured", ("pole_pairs", "gear_ratio"), several=False),
        (
            "Pole pairs if they were counted; for a geared motor the rotor’s turns per turn of its "
            "output, so that wheel speeds can be used.",
        ),
        (),
    ),
    Guide(
        "How good the meters are",
        Table(
            "meters",
            (
                "volts_percent",
                "amperes_percent",
                "henries_percent",
                "rpm_percent",
                "metres_percent",
                "temperature_k",
            ),
            several=False,
        ),
        (
            "Standard uncertainty of each instrument; empty means a usual one (0.5, 1, 2, 0.2 and "
            "0.1 %, 2 K). What an instrument has wrong is alike in all its readings, so no "
            "number of readings takes it away.",
        ),
        (),
    ),
)
