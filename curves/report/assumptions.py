"""Every input with where it comes from and how sure it is; and how sure the results are."""

from __future__ import annotations

from collections.abc import Iterator
from typing import NamedTuple

from curves.parts.base import SOURCE_KINDS, Table
from curves.parts.job import Job
from curves.parts.notes import NOT_GIVEN, USUAL
from curves.parts.pack import CELL_FIELDS, SOURCE_FIELDS, cell_curve
from curves.report.markup import Child, Markup, tag
from curves.report.pieces import Column, amount, converted, listed, section, table
from curves.report.results import Results
from curves.studies.tolerances import tolerance_of

INSTEAD = {
    *CELL_FIELDS,
    *SOURCE_FIELDS,
    "circumference_m",
    "tyre",
    "rolling_coefficient",
    "drag_area_m2",
    "road_load_n",
    "final_drive_ratio",
    "gear_ratios",
} - {"resistance_factor", "wiring_resistance_mohm", "full_charge_v"}
"""Fields one of which stands for another: that it is not given tells nothing."""
KINDS = ("motor", "controller", "pack", "tune", "bike")
NOTES = {"source", "sources", "tolerance", "profile"}
MEANT = {
    "measured": "read on the very part",
    "maker": "from its papers",
    "typical": "usual for its kind",
    "invented": "made up for the example",
}
DEFAULT = "not given: the program's default"


class Input(NamedTuple):
    """One number of the job: what it is, its value, tolerance and source."""

    meaning: str
    value: str
    tolerance: str
    source: str


def assumptions(found: Results) -> Markup:
    """Every input of the parts in use, part by part."""
    made: list[Child] = []
    for title, kind, part in tables_of(found.job):
        inputs = list(_inputs(found, kind, part))
        if not inputs:
            continue
        columns = [
            Column("Input"),
            Column("Value"),
            Column("±"),
            Column("Where from", words=True),
        ]
        rows = [[i.meaning, i.value, i.tolerance, i.source] for i in inputs]
        made.append(
            tag(
                "div",
                tag("h3", title),
                tag("p", part.source, class_="source") if part.source else None,
                table(columns, rows, caption=title, kind="small inputs"),
                _absent(part),
                class_="part",
            )
        )
    return section(
        "Every input, and where it comes from",
        tag("div", made, _curves(found.job), class_="columns"),
        id_="inputs",
        lead=" ".join([*_kinds(found.job), "± is one standard uncertainty of the value."]),
    )


def _kinds(job: Job) -> list[str]:
    """What the words for sources mean, as far as the inputs have them."""
    there = {
        part.source_kind(field)
        for _, _, part in tables_of(job)
        for field in (*part.model_fields_set, "")
    }
    return [f"{kind.capitalize()}: {MEANT[kind]}." for kind in SOURCE_KINDS if kind in there]


def _curves(job: Job) -> Markup | None:
    """The published curves of the cells in use."""
    cells = dict.fromkeys(job.pack[s.pack].cell for s in job.setup)
    known = [cell_curve(cell) for cell in cells if cell is not None]
    if not known:
        return None
    return tag(
        "div",
        tag("h3", "Open-circuit curves of cells"),
        [tag("p", tag("b", f"{c.name}: "), f"{c.title}. {c.source}") for c in known],
        class_="part",
    )


def tables_of(job: Job) -> Iterator[tuple[str, str, Table]]:
    """The tables in use: a heading, the kind of part, and the part."""
    for kind in KINDS:
        used = dict.fromkeys(getattr(s, kind) for s in job.setup)
        for name in used:
            if name is not None:
                yield f"{kind.capitalize()} “{name}”", kind, getattr(job, kind)[name]
    yield "Road and air", "conditions", job.conditions


def _inputs(found: Results, kind: str, part: Table) -> Iterator[Input]:
    for field, info in type(part).model_fields.items():
        value = getattr(part, field)
        if field in NOTES or value is None:
            continue
        extra = info.json_schema_extra
        unit = str(extra.get("unit", "")) if isinstance(extra, dict) else ""
        meaning = (info.description or field).removesuffix(f", {unit}" if unit else "")
        share = tolerance_of(part, kind, field)
        said = converted(found, value, unit)
        source = part.sources.get(field) or part.source_kind(field)
        if field not in part.model_fields_set:
            source = DEFAULT
        is_usual = ", usual" * (source is None and share == USUAL.get(f"{kind}.{field}"))
        yield Input(
            meaning,
            said,
            amount(f"{100 * share:.3g} %{is_usual}") if share else "",
            source or NOT_GIVEN,
        )


def _absent(part: Table) -> Markup | None:
    """What the part could say and does not, so that it is no limit or not modelled."""
    absent = [
        (info.description or field).split(",")[0].split(":")[0]
        for field, info in type(part).model_fields.items()
        if field not in NOTES | INSTEAD and getattr(part, field) is None
    ]
    if not absent:
        return None
    return tag("p", tag("b", "Not given: "), f"{'; '.join(absent)}.", class_="absent")


def sureness(found: Results) -> Markup:
    """How far the results can be trusted, and a check that makes a misread motor show."""
    counts = dict.fromkeys((*SOURCE_KINDS, NOT_GIVEN), 0)
    total = 0
    for _, kind, part in tables_of(found.job):
        for entry in _inputs(found, kind, part):
            if entry.source == DEFAULT:
                continue
            total += 1
            first = next((k for k in SOURCE_KINDS if entry.source.lower().startswith(k)), NOT_GIVEN)
            counts[first] += 1
    words = {NOT_GIVEN: "without a word on their source", "maker": "from makers"}
    parts = [f"{n} {words.get(kind, kind)}" for kind, n in counts.items() if n]
    checks: dict[str, str] = {}
    for rig, verdict in zip(found.rigs, found.fits, strict=True):
        checks.setdefault(repr(rig.motor), verdict.plausible)
    return section(
        "How sure these numbers are",
        tag(
            "p",
            f"The results rest on {total} inputs: {listed(parts)}. A result is no surer than they "
            "are. The solver itself is exact to about a millionth; that is not the accuracy on the "
            "road. Where a speed carries a ±, nine of ten bikes whose inputs scatter as their "
            "tolerances say would lie within it; inputs without a tolerance are taken as exact, so "
            "the true band is wider.",
        ),
        tag("h3", "Is that so?"),
        [tag("p", said) for said in checks.values()],
        id_="sure",
    )
