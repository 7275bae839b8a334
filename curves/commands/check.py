"""``check``: what does not fit in a job, and what is risky."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import asdict
from typing import Annotated, TypeAlias

import typer
from rich.console import RenderableType
from rich.text import Text

from curves.cautions import (
    CLASSES,
    Caution,
    Facts,
    Fit,
    Link,
    Reason,
    Wiring,
    cautions,
    fit,
    survey,
    weakest_link,
    wire_size,
)
from curves.commands.options import AsJson, CsvFile, JobFile, opened_job
from curves.commands.output import Answer, give, refuse
from curves.commands.people import NONE, digits, indented, table
from curves.parts.rig import Rig
from curves.units import KMH

Checked: TypeAlias = tuple[Facts, Fit, tuple[Caution, ...], tuple[Link, ...]]

FORMAT = "rimforce-check-1"
COLUMNS = ("setup", "EMF at top V", "EMF no load V", "fits?", "most serious", "weakest link")
LAST = "Estimates and general information, not advice: local law and a qualified person decide."


def check(
    job: JobFile = None,
    road_class: Annotated[
        str | None,
        typer.Option("--class", help=f"Class of vehicle to hold it to: {', '.join(CLASSES)}."),
    ] = None,
    cell_a: Annotated[float | None, typer.Option(help="Continuous amperes of one cell.")] = None,
    fuse_a: Annotated[float | None, typer.Option(help="The fuse, amperes.")] = None,
    connector_a: Annotated[float | None, typer.Option(help="Pack connector, amperes.")] = None,
    pack_awg: Annotated[str | None, typer.Option(help="Wire size of the pack's leads.")] = None,
    phase_awg: Annotated[str | None, typer.Option(help="Wire size of the phase leads.")] = None,
    as_json: AsJson = False,
    csv: CsvFile = None,
) -> None:
    """What does not fit in a job, what is risky, and which part has the least to spare."""
    if road_class is not None and road_class not in CLASSES:
        refuse("--class", road_class, f"must be one of {', '.join(CLASSES)}")
    wiring = Wiring(
        cell_current_a=_above_zero(cell_a, "--cell-a"),
        fuse_a=_above_zero(fuse_a, "--fuse-a"),
        connector_a=_above_zero(connector_a, "--connector-a"),
        pack_wire_awg=_awg(pack_awg, "--pack-awg"),
        phase_wire_awg=_awg(phase_awg, "--phase-awg"),
    )
    rigs = opened_job(job).rigs()
    facts = survey(rigs)
    pairs = list(zip(rigs, facts, strict=True))
    fits = [fit(rig, f) for rig, f in pairs]
    risks = [cautions(rig, f, road_class=road_class) for rig, f in pairs]
    links = [weakest_link(rig, f, wiring) for rig, f in pairs]
    whole = list(zip(facts, fits, risks, links, strict=True))
    answer = Answer(
        document={"format": FORMAT, "setups": [entry(*setup) for setup in whole]},
        rows=lambda: [row for setup in whole for row in _rows(*setup[:3])],
        tables=lambda: _tables(rigs, whole),
    )
    give(answer, as_json=as_json, csv_file=csv)


def entry(
    f: Facts, found: Fit, risks: Sequence[Caution], links: Sequence[Link]
) -> dict[str, object]:
    """One setup's verdict, reasons and cautions as the JSON gives them."""
    return {
        "name": f.name,
        "verdict": found.verdict,
        "reasons": [asdict(reason) for reason in found.reasons],
        "plausible": found.plausible,
        "cautions": [asdict(caution) for caution in risks],
        "links": [{**asdict(link), "load": link.load} for link in links],
        "drive_off": {
            "magnet_c": f.coldest_c,
            "top_speed_kmh": f.top_speed / KMH,
            "top_speed_v": f.top_emf,
            "no_load_speed_kmh": f.no_load_speed / KMH,
            "no_load_v": f.no_load_emf,
        },
    }


def _rows(f: Facts, found: Fit, risks: Sequence[Caution]) -> Iterator[dict[str, object]]:
    lines: list[tuple[str, str, Reason | Caution]] = [
        *(("fit", reason.status, reason) for reason in found.reasons),
        *(("caution", caution.severity, caution) for caution in risks),
    ]
    for kind, grade, item in lines:
        yield {
            "setup": f.name,
            "verdict": found.verdict,
            "kind": kind,
            "grade": grade,
            "key": item.key,
            "text": item.text,
            "value": item.value,
            "limit": item.limit,
            "unit": item.unit,
            "source": item.source,
        }


def _tables(rigs: Sequence[Rig], whole: Sequence[Checked]) -> Iterable[RenderableType]:
    rows = [
        [
            f.name,
            digits(f.top_emf, 2),
            digits(f.no_load_emf, 2),
            found.verdict,
            _most_serious(risks),
            f"{links[0].part}, {links[0].told}" if links else NONE,
        ]
        for f, found, risks, links in whole
    ]
    yield table(COLUMNS, rows, words=4)
    for f, found, risks, _ in whole:
        lines = [f"{r.status}: {r.text}" for r in found.against]
        lines += [f"{c.severity}: {c.text}" for c in risks if c.severity != "reminder"]
        yield Text(f.name)
        yield from map(indented, lines or ["nothing against it"])
        yield ""
    yield "Is that so?"
    yield from map(indented, _first_of_each_motor(rigs, whole))
    yield ""
    yield "For every setup"
    yield from map(indented, _reminders([risks for _, _, risks, _ in whole]))
    yield ""
    yield LAST


def _first_of_each_motor(rigs: Sequence[Rig], whole: Sequence[Checked]) -> Iterable[str]:
    said: dict[str, str] = {}
    for rig, (_, found, _, _) in zip(rigs, whole, strict=True):
        said.setdefault(repr(rig.motor), found.plausible)
    return said.values()


def _most_serious(risks: Sequence[Caution]) -> str:
    worst = risks[0] if risks else None
    return NONE if worst is None or worst.severity == "reminder" else worst.title


def _reminders(risks: Sequence[Sequence[Caution]]) -> list[str]:
    """One of each reminder, of the setup for which its number is highest."""
    most: dict[str, Caution] = {}
    for caution in (c for setup in risks for c in setup if c.severity == "reminder"):
        held = most.get(caution.key)
        if held is None or (caution.value or 0) > (held.value or 0):
            most[caution.key] = caution
    return [caution.text for caution in most.values()]


def _above_zero(value: float | None, option: str) -> float | None:
    if value is not None and not 0 < value < float("inf"):
        refuse(option, str(value), "must be above 0")
    return value


def _awg(text: str | None, option: str) -> int | None:
    if text is None:
        return None
    try:
        return wire_size(text)
    except ValueError:
        refuse(option, text, "must be a wire size from 4/0 (or 0000) to 40, such as 10")
