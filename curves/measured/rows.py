"""What a meter, a supply and a tape show: the rows of a bench file, one model a reading."""

from __future__ import annotations

from typing import Annotated, Literal, Self

from pydantic import BaseModel, ConfigDict, Field, model_validator

from curves.parts.base import FieldError, Whole, count, quantity

Pair = Annotated[
    Literal["A-B", "B-C", "C-A"], Field(description="Which two of the three motor leads")
]
VoltKind = Literal[
    "dc volt", "peak line-to-line", "rms line-to-line", "peak phase", "rms phase", "peak to peak"
]
Rpm = Annotated[float | None, quantity("Speed of the rotor", "rpm", above=0)]
WheelRpm = Annotated[float | None, quantity("Speed of the wheel", "rpm", above=0)]
Celsius = Annotated[float | None, quantity("Temperature", "°C", least=-60.0, most=300.0)]


class Row(BaseModel):
    """One reading."""

    model_config = ConfigDict(frozen=True, extra="forbid")


class Meters(Row):
    """Standard uncertainty of the instruments; what each has wrong is alike in all its readings."""

    volts_percent: Annotated[float, quantity("Of volts", "%", least=0.0, most=50.0)] = 0.5
    amperes_percent: Annotated[float, quantity("Of amperes", "%", least=0.0, most=50.0)] = 1.0
    henries_percent: Annotated[float, quantity("Of the LCR meter", "%", least=0.0, most=50.0)] = 2.0
    rpm_percent: Annotated[float, quantity("Of rpm and hertz", "%", least=0.0, most=50.0)] = 0.2
    metres_percent: Annotated[float, quantity("Of the tape", "%", least=0.0, most=50.0)] = 0.1
    temperature_k: Annotated[float, quantity("Of temperatures", "K", least=0.0, most=50.0)] = 2.0
    modulation_percent: Annotated[
        float, quantity("Of the controller's max_modulation", "%", least=0.0, most=50.0)
    ] = 2.0


class Drive(Row):
    """The controller that turned the motor without load, weakening off."""

    max_modulation: Annotated[
        float, quantity("Share of the linear voltage limit it reaches", above=0, most=1.1027)
    ] = 1.0
    resistance_mohm: Annotated[
        float, quantity("One phase: switch that conducts, and lead", "mΩ", least=0.0)
    ] = 0.0
    standby_w: Annotated[float, quantity("Drawn with the motor at rest", "W", least=0.0)] = 0.0


class Resistance(Row):
    """Four-wire: a current through two leads, the millivolts across them at the motor."""

    pair: Pair
    amperes: Annotated[float, quantity("Through the pair, its sign as the meter shows", "A")]
    millivolts: Annotated[float, quantity("Across the pair, at the motor's own leads", "mV")]
    winding_c: Celsius = None

    @model_validator(mode="after")
    def _conducts(self) -> Self:
        if self.amperes * self.millivolts <= 0:
            raise FieldError(
                [
                    (
                        ("millivolts",),
                        self.millivolts,
                        "amperes and millivolts must both be given, with the same sign",
                    )
                ]
            )
        return self


class Inductance(Row):
    """LCR meter across two leads while the rotor is turned by hand."""

    pair: Pair
    microhenries: Annotated[float, quantity("Terminal to terminal", "µH", above=0)]
    electrical_deg: Annotated[float | None, quantity("Electrical angle", "°")] = None
    rotor_deg: Annotated[float | None, quantity("Angle of the rotor", "°")] = None
    rim_mm: Annotated[float | None, quantity("Way of the tyre's tread past a mark", "mm")] = None

    @model_validator(mode="after")
    def _one_angle(self) -> Self:
        _exactly_one(self, "electrical_deg", "rotor_deg", "rim_mm")
        return self


class BackEmf(Row):
    """The wheel spun with the leads open: volts between two leads."""

    volts: Annotated[float, quantity("Between two leads, as `per` says", "V", above=0)]
    per: Annotated[VoltKind, Field(description="How the volts were read")] = "rms line-to-line"
    rotor_rpm: Rpm = None
    wheel_rpm: WheelRpm = None
    magnet_c: Celsius = None

    @model_validator(mode="after")
    def _one_speed(self) -> Self:
        _exactly_one(self, "rotor_rpm", "wheel_rpm")
        return self


class NoLoad(Row):
    """Wheel off the ground, full throttle, weakening off."""

    pack_v: Annotated[float, quantity("At the controller's input", "V", above=0)]
    pack_a: Annotated[float, quantity("At the controller's input", "A", above=0)]
    rotor_rpm: Rpm = None
    wheel_rpm: WheelRpm = None
    winding_c: Celsius = None
    magnet_c: Celsius = None

    @model_validator(mode="after")
    def _one_speed(self) -> Self:
        _exactly_one(self, "rotor_rpm", "wheel_rpm")
        return self


class Poles(Row):
    """Electrical against mechanical speed."""

    electrical_hz: Annotated[float | None, quantity("Of the voltage", "Hz", above=0)] = None
    electrical_rpm: Annotated[float | None, quantity("As controllers show it", "rpm", above=0)] = (
        None
    )
    rotor_rpm: Rpm = None
    wheel_rpm: WheelRpm = None

    @model_validator(mode="after")
    def _two_speeds(self) -> Self:
        _exactly_one(self, "electrical_hz", "electrical_rpm")
        _exactly_one(self, "rotor_rpm", "wheel_rpm")
        return self


class PackLoad(Row):
    """The pack at rest and under a known current."""

    resting_v: Annotated[float, quantity("Before the load", "V", above=0)]
    loaded_v: Annotated[float, quantity("Under the load", "V", above=0)]
    amperes: Annotated[float, quantity("Of the load", "A", above=0)]

    @model_validator(mode="after")
    def _sags(self) -> Self:
        if self.loaded_v >= self.resting_v:
            raise FieldError(
                [(("loaded_v",), self.loaded_v, f"must be below resting_v ({self.resting_v:g} V)")]
            )
        return self


class RollOut(Row):
    """The bike, loaded, rolled along a tape."""

    distance_m: Annotated[float, quantity("Rolled", "m", above=0)]
    turns: Annotated[Whole, count("Turns of the driven wheel")] = 1


class StatedKv(Row):
    """Kv as someone else states it."""

    rpm_per_v: Annotated[float, quantity("Stated", "rpm/V", above=0)]
    per: Annotated[VoltKind, Field(description="The volt it is stated for")]


class CoastTime(Row):
    """Time from one speed to a lower one, rolling freely."""

    direction: Annotated[Literal["out", "back"], Field(description="Which way along the road")]
    from_kmh: Annotated[float, quantity("Speed at the start of the time", "km/h", above=0)]
    to_kmh: Annotated[float, quantity("Speed at its end", "km/h", above=0)]
    seconds: Annotated[float, quantity("Time between them", "s", above=0)]

    @model_validator(mode="after")
    def _slows(self) -> Self:
        if self.to_kmh >= self.from_kmh:
            raise FieldError([(("to_kmh",), self.to_kmh, "must be below from_kmh")])
        return self


class CoastBike(Row):
    """What rolled in the coast-down, and in what air."""

    mass_kg: Annotated[float, quantity("Bike, pack, rider and load", "kg", above=0)]
    rotating_share: Annotated[
        float, quantity("Mass of what turns, over mass", least=0.0, most=1.0)
    ] = 0.04
    air_c: Annotated[float, quantity("Air temperature", "°C", least=-80.0, most=80.0)] = 20.0
    altitude_m: Annotated[
        float, quantity("Altitude above sea level", "m", least=-1000.0, most=11000.0)
    ] = 0.0


def _exactly_one(row: Row, *fields: str) -> None:
    given = [name for name in fields if getattr(row, name) is not None]
    if len(given) != 1:
        field = given[1] if given else fields[0]
        raise FieldError(
            [((field,), getattr(row, field), f"exactly one of {', '.join(fields)} must be given")]
        )
