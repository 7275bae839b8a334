"""The job: named parts, conditions, goals, and the setups that combine them; load and save."""

from __future__ import annotations

import copy
import math
from collections.abc import Sequence
from functools import cache
from importlib import resources
from pathlib import Path
from typing import Annotated, Any, Literal, Self

from pydantic import Field, ValidationError, model_validator

from curves.errors import JobError, Problem
from curves.parts.base import FieldError, Listed, Table, text
from curves.parts.bike import Bike
from curves.parts.conditions import Conditions
from curves.parts.controller import Controller
from curves.parts.edit import put, retold, split
from curves.parts.goals import Goals
from curves.parts.motor import COPPER_COEFFICIENT_PER_K, Motor
from curves.parts.pack import Pack
from curves.parts.problems import PARTS, problems, suggest, where
from curves.parts.profiles import lay_over, profile_fields
from curves.parts.reading import (
    MOST_PAGE_BYTES,
    Kind,
    Tree,
    decode,
    plain,
    read_tree,
    refuse,
    refuse_half,
    show,
)
from curves.parts.recount import recounted
from curves.parts.rig import Rig
from curves.parts.setup import Setup
from curves.parts.tune import Tune
from curves.parts.writing import toml_text
from curves.plaintext import has_controls

FORMAT = "rimforce-job-1"


class Job(Table):
    """One comparison: everything a result needs is in it.

    >>> from curves import load_job
    >>> job = load_job()
    >>> job.replace("tune.town.pack_current_a", 30.0).tune["town"].pack_current_a
    30.0
    """

    format: Annotated[Literal["rimforce-job-1"], Field(description="Name of this file format")]
    title: Annotated[str, text("What the comparison is about")] = "Untitled"
    compare_to: Annotated[
        str | None, text("Name of the setup that differences are shown against")
    ] = None
    conditions: Annotated[Conditions, Field(description="Road and air")] = Conditions()
    goals: Annotated[Goals, Field(description="What the rider wants")] = Goals()
    motor: Annotated[dict[str, Motor], Field(description="Motors by name")]
    controller: Annotated[
        dict[str, Controller], Field(description="Controllers by name; may be left out")
    ] = {}
    pack: Annotated[dict[str, Pack], Field(description="Packs by name")]
    tune: Annotated[dict[str, Tune], Field(description="Tunes by name")]
    bike: Annotated[dict[str, Bike], Field(description="Bikes with rider, by name")]
    setup: Annotated[
        tuple[Setup, ...], Listed, Field(description="The rows compared", min_length=1)
    ]

    @model_validator(mode="after")
    def _fits_together(self) -> Self:
        errors = self._name_errors()
        if not errors:
            errors = [fault for index in range(len(self.setup)) for fault in self._state(index)]
        if errors:
            raise FieldError(errors)
        return self

    def _name_errors(self) -> list[tuple[tuple[str | int, ...], object, str]]:
        errors: list[tuple[tuple[str | int, ...], object, str]] = []
        errors.extend(
            ((kind, name), None, "a name must be one line of text without control characters")
            for kind in PARTS
            for name in getattr(self, kind)
            if has_controls(name)
        )
        seen: set[str] = set()
        for index, setup in enumerate(self.setup):
            if setup.name in seen:
                errors.append(
                    (("setup", index, "name"), setup.name, "is the name of an earlier setup too")
                )
            seen.add(setup.name)
            for kind in PARTS:
                name, known = getattr(setup, kind), getattr(self, kind)
                if name is not None and name not in known:
                    errors.append(
                        (
                            ("setup", index, kind),
                            name,
                            _no_such(f"[{kind}.{plain(name)}]", name, known),
                        )
                    )
        return errors

    def _state(self, index: int) -> list[tuple[tuple[str | int, ...], object, str]]:
        setup = self.setup[index]
        rig = self._rig(setup)
        errors: list[tuple[tuple[str | int, ...], object, str]] = []
        if 1 + rig.motor.magnet_coefficient_per_k * (rig.magnet_c - 20) <= 0:
            errors.append(
                (
                    ("setup", index, "magnet_c"),
                    setup.magnet_c,
                    "leaves the magnets no flux, with magnet_coefficient_per_k = "
                    f"{rig.motor.magnet_coefficient_per_k:g}",
                )
            )
        if 1 + COPPER_COEFFICIENT_PER_K * (rig.winding_c - 20) < 0:
            coldest = 20 - 1 / COPPER_COEFFICIENT_PER_K
            errors.append(
                (
                    ("setup", index, "winding_c"),
                    setup.winding_c,
                    "makes the winding's resistance negative: copper's law holds above "
                    f"{math.ceil(coldest)} °C",
                )
            )
        if rig.mass_kg <= 0:
            errors.append(
                (("bike", setup.bike, "bike_mass_kg"), 0.0, "bike and rider weigh nothing")
            )
        return errors

    def _rig(self, setup: Setup) -> Rig:
        return Rig(
            name=setup.name,
            motor=self.motor[setup.motor],
            controller=Controller()
            if setup.controller is None
            else self.controller[setup.controller],
            pack=self.pack[setup.pack],
            tune=self.tune[setup.tune],
            bike=self.bike[setup.bike],
            conditions=self.conditions,
            state_of_charge=setup.state_of_charge,
            winding_c=setup.winding_c,
            magnet_c=setup.magnet_c,
        )

    def rigs(self) -> tuple[Rig, ...]:
        """Every setup with its parts in hand, in the order of the file."""
        return tuple(self._rig(setup) for setup in self.setup)

    def rig(self, name: str) -> Rig:
        """The setup of that name with its parts in hand.

        Raises:
            JobError: if there is none.
        """
        for setup in self.setup:
            if setup.name == name:
                return self._rig(setup)
        names = [setup.name for setup in self.setup]
        raise JobError([Problem("setup", show(name), _no_such("such setup", name, names))])

    def tree(self) -> Tree:
        """The job as plain nested values: what the file gave and nothing it left out."""
        return self.model_dump(mode="json", exclude_unset=True, exclude_none=True)

    def replace(self, path: str | Sequence[str | int], value: object) -> Job:
        """The job with one value changed and everything checked again; nothing else follows it.

        Cells in series carry mass, cut-offs and price along: they go through ``with_cells``.

        What was said of the value's source and tolerance goes with it: see ``parts.notes``. A
        motor that loses a field stands on its own from then on, or its profile's would come back.

        Args:
            path: keys from the root, ``"pack.p14.price"`` or ``("pack", "p14", "price")``; a
                setup goes by its number or name; a whole table may be replaced too.
            value: plain numbers, texts, lists or dictionaries; None takes the value out.

        Returns:
            A new job; this one stays.

        Raises:
            JobError: if there is no such place, or the value is not allowed there.
        """
        tree = self.tree()
        keys = split(path, tree) if isinstance(path, str) else list(path)
        if len(keys) == 3 and keys[0] == "motor" and keys[2] == "profile" and value is not None:
            # Every field of a loaded motor is written out, and would hide another profile.
            keys, value = keys[:2], {"profile": value}
        put(tree, keys, copy.deepcopy(value))
        return build_job(retold(self.tree(), tree, keys), name="job")

    def with_cells(self, pack: str, series: int, *, parallel: int | None = None) -> Job:
        """The job with other cells in a pack, for every setup that has it.

        What follows from the count goes along: volts and resistance, both cut-offs by the cell,
        mass and price by the number of cells, current ratings by the strings, and a name that
        states cells or volts. A tune that setups with other packs have as well stays theirs; the
        setups with this pack get a copy of it.

        Args:
            pack: name of a pack made of cells.
            series: cells in series.
            parallel: parallel strings; None leaves them as they are.

        Returns:
            A new job; this one stays.

        Raises:
            JobError: if there is no such pack, it is a source, or a count is not allowed.

        >>> from curves import load_job
        >>> load_job().with_cells("cells-13", 14).rig("13 cells").pack.bms_cutoff_v
        39.2
        """
        return build_job(recounted(self.tree(), pack, series, parallel), name="job")


def _no_such(what: str, name: str, known: Sequence[str] | set[str] | dict[str, Any]) -> str:
    near = suggest(name, list(known))
    there = ", ".join(plain(name) for name in sorted(known)[:20]) or "none"
    return f"there is no {what}; " + (
        f"did you mean {plain(near[0])}?" if near else f"the file has {there}"
    )


def build_job(tree: Tree, *, name: str, folder: Path | None = None) -> Job:
    """Check a tree of plain values and make it a job.

    Args:
        tree: as read from a file.
        name: of the file, for messages.
        folder: where profiles given by a path are looked for; None allows packaged ones only.

    Raises:
        JobError: with every problem found.
    """
    if tree.get("format") != FORMAT:
        place = where(name, tree, ["format"])
        refuse(
            place, f'must be "{FORMAT}", the format this version reads', show(tree.get("format"))
        )
    resolved = {**tree, "motor": _with_profiles(tree.get("motor"), name, folder)}
    if resolved["motor"] is None:
        del resolved["motor"]
    try:
        return Job.model_validate(resolved)
    except ValidationError as error:
        raise JobError(problems(error, Job, resolved, name)) from None
    except UnicodeEncodeError as error:
        refuse_half(name, error)


def _with_profiles(motors: object, file: str, folder: Path | None) -> object:
    if not isinstance(motors, dict):
        return motors
    return {
        name: _over_profile(motor, where(file, {}, ["motor", name, "profile"]), folder)
        if isinstance(motor, dict) and "profile" in motor
        else motor
        for name, motor in motors.items()
    }


def _over_profile(motor: Tree, place: str, folder: Path | None) -> Tree:
    """A motor's fields laid over those of its profile."""
    named = motor["profile"]
    if not isinstance(named, str):
        refuse(place, "must be text in quotes", show(named))
    merged = lay_over(_profile_tree(named, place, folder), motor)
    # A packaged profile can be named again anywhere; a path holds only beside this file.
    return {**merged, "profile": named} if named in profile_names() else merged


def _profile_tree(named: str, place: str, folder: Path | None) -> Tree:
    if named in profile_names():
        entry = resources.files("motor_profiles") / f"{named}.toml"
        return profile_fields(entry.read_text(encoding="utf-8"), f"{named}.toml")
    allowed = f"a packaged profile ({', '.join(profile_names())})"
    if folder is None:
        refuse(place, f"must be {allowed}", show(named))
    allowed += ", or the path of a .toml file beside the job file or below it"
    try:
        file = (folder / named).resolve()
        inside = file.is_relative_to(folder.resolve()) and not Path(named).is_absolute()
        readable = inside and file.suffix == ".toml" and file.is_file()
    except (OSError, RuntimeError, ValueError):
        # A link that leads back to itself is a RuntimeError.
        readable = False
    if not readable:
        refuse(place, f"must be {allowed}", show(named))
    return profile_fields(_read(file, named), named)


def _read(path: Path, name: str) -> str:
    try:
        if path.is_dir():
            refuse(name, "is a folder, not a job file")
        with path.open("rb") as file:
            return decode(file.read(MOST_PAGE_BYTES + 1), name)
    except FileNotFoundError:
        refuse(name, "there is no such file")
    except (OSError, ValueError) as error:
        if isinstance(error, JobError):
            raise
        refuse(name, f"cannot be read: {getattr(error, 'strerror', None) or error}")


@cache
def profile_names() -> tuple[str, ...]:
    """Names of the packaged motor profiles.

    >>> from curves import profile_names
    >>> "demo-hub-direct" in profile_names()
    True
    """
    names = (entry.name for entry in resources.files("motor_profiles").iterdir())
    return tuple(sorted(name.removesuffix(".toml") for name in names if name.endswith(".toml")))


def load_profile(name: str, folder: Path | None = None) -> Motor:
    """A motor profile.

    Args:
        name: of a packaged one, or of a file in the folder.
        folder: where files are looked for; None allows packaged ones only.

    Raises:
        JobError: if there is none of that name, or something in it is not allowed.

    >>> from curves import load_profile
    >>> load_profile("demo-mid-drive").pole_pairs
    5
    """
    tree = _over_profile({"profile": name}, f"profile {name}", folder)
    try:
        return Motor.model_validate(tree)
    except ValidationError as error:
        raise JobError(problems(error, Motor, tree, f"{name.removesuffix('.toml')}.toml")) from None


def demo_job_text() -> str:
    """Text of the packaged demo job."""
    return (resources.files("curves") / "demo" / "courier.toml").read_text(encoding="utf-8")


def load_job(path: str | Path | None = None) -> Job:
    """Read a job file.

    Args:
        path: a TOML or JSON file (by its suffix); None for the packaged demo job.

    Raises:
        JobError: if it cannot be read or something in it is not allowed.

    >>> from curves import load_job
    >>> [setup.name for setup in load_job().setup][:2]
    ['as delivered', '13 cells']
    """
    if path is None:
        return parse_job(demo_job_text(), name="courier.toml")
    file = Path(path)
    kind: Kind | None = "json" if file.suffix.lower() == ".json" else None
    return parse_job(job_text(path), name=file.name, folder=file.parent, kind=kind)


def job_text(path: str | Path | None) -> str:
    """Text of a job file; None for the packaged demo job.

    Raises:
        JobError: if it cannot be read.
    """
    return demo_job_text() if path is None else _read(Path(path), str(path))


def parse_job(
    text: str, *, name: str = "job", folder: Path | None = None, kind: Kind | None = None
) -> Job:
    """Read a job from text.

    Args:
        text: TOML or JSON.
        name: what to call it in messages.
        folder: where profiles given by a path are looked for; None allows packaged ones only.
        kind: the format; None tells JSON by its opening brace.

    Raises:
        JobError: if it cannot be read or something in it is not allowed.

    >>> from curves import dump_job, load_job, parse_job
    >>> parse_job(dump_job(load_job())) == load_job()
    True
    """
    return build_job(read_tree(text, name, kind), name=name, folder=folder)


def dump_job(job: Job, over: str = "") -> str:
    """The job as TOML text, which reads back as an equal job.

    A motor that came from a profile is written out in full, so that the text stands alone.

    Args:
        job: The job.
        over: Text of the file it was read from: its comments and order are kept where they can be.

    >>> from curves import dump_job, load_job
    >>> dump_job(load_job()).splitlines()[0]
    'format = "rimforce-job-1"'
    """
    return toml_text(job.tree(), over)


def job_schema() -> dict[str, Any]:
    """The JSON Schema of a job file.

    >>> from curves import job_schema
    >>> job_schema()["properties"]["title"]["default"]
    'Untitled'
    """
    schema = Job.model_json_schema()
    for table in (schema, *schema["$defs"].values()):
        # What follows in a docstring is an example for those who call it from Python.
        table["description"] = table["description"].partition("\n\n")[0]
    return {"$schema": "https://json-schema.org/draft/2020-12/schema", **schema}
