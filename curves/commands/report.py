"""``report``: the customer's page, as one file that needs nothing else."""

from __future__ import annotations

import datetime
from pathlib import Path
from typing import Annotated, Literal

import typer

from curves.commands.options import JobFile, number_list, opened_job, units_of
from curves.commands.output import refuse, warn, write_file

SUFFIXES = (".html", ".htm", ".pdf")
MOST_SETTINGS = 400


def report(
    job: JobFile = None,
    output: Annotated[
        Path | None,
        typer.Option("--output", "-o", metavar="FILE", help="Where to: an .html file, or a .pdf."),
    ] = None,
    title: Annotated[str, typer.Option(help="The question; the job's title if left out.")] = "",
    notes: Annotated[str, typer.Option(help="Your own words, above the numbers.")] = "",
    workshop: Annotated[str, typer.Option(help="Whose report it is.")] = "",
    endurance: Annotated[
        bool, typer.Option(help="Heat and range too; they take most of the time.")
    ] = True,
    date: Annotated[
        str | None, typer.Option(help="The date it bears; today if left out, '' for none.")
    ] = None,
    speed_unit: Annotated[
        Literal["km/h", "mph"], typer.Option(help="Unit of road speeds and distances.")
    ] = "km/h",
    units: Annotated[
        str,
        typer.Option(metavar="mph,lb,F,lbf-ft", help="Units that it is read in, not the job's."),
    ] = "",
    to_set: Annotated[
        list[str] | None,
        typer.Option("--set", metavar="SETUP", help="Setup to be set in the controller; repeat."),
    ] = None,
    packs: Annotated[
        list[str] | None,
        typer.Option(metavar="SETUP", help="Add a study of cells in series for it; repeat."),
    ] = None,
    series: Annotated[
        str, typer.Option(metavar="FIRST:LAST:1", help="Cells in series of those studies.")
    ] = "8:24:1",
    weakening: Annotated[
        list[str] | None,
        typer.Option(metavar="SETUP", help="Add a study of field weakening for it; repeat."),
    ] = None,
    amps: Annotated[
        str, typer.Option(metavar="START:STOP:STEP", help="Settings of those studies, A.")
    ] = "0:60:2",
) -> None:
    """A page for the customer and one for whoever sets the controller, in one file."""
    from curves.report import PackStudy, WeakeningStudy, Wish
    from curves.report import report as page_of

    file = _output(output)
    counts = tuple(int(n) if n == int(n) else n for n in number_list(series, "--series").tolist())
    settings = tuple(number_list(amps, "--amps").tolist())
    for values, option, said in ((counts, "--series", series), (settings, "--amps", amps)):
        if len(values) > MOST_SETTINGS:
            refuse(option, said, f"gives {len(values)} values: a report shows at most 400")
    wish = Wish(
        title=title,
        notes=notes,
        workshop=workshop,
        date=datetime.date.today().isoformat() if date is None else date,
        units=units_of(units, "--units", speed_unit),
        endurance=endurance,
        to_set=tuple(to_set or ()),
        packs=tuple(PackStudy(name, counts) for name in packs or ()),
        weakenings=tuple(WeakeningStudy(name, settings) for name in weakening or ()),
    )
    opened = opened_job(job)
    page = page_of(opened, wish)
    content: str | bytes = page
    if file.suffix.lower() == ".pdf":
        from curves.report.pdf import pdf

        content = pdf(page, where=f"-o {file}")
    write_file(file, content, option="-o")
    warn(f"{file}: {len(opened.setup)} setups")


def _output(path: Path | None) -> Path:
    if path is None:
        refuse("-o", "", "name the file to write, such as -o report.html")
    if path.suffix.lower() not in SUFFIXES:
        refuse("-o", str(path), "must end in .html or .pdf")
    return path
