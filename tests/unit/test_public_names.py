"""What ``import curves`` gives: each name is documented with an example that runs."""

import doctest
import importlib.util
from pathlib import Path

import pytest

import curves
from curves import job_schema

ROOT = Path(__file__).resolve().parents[2]
NAMES = {
    "Bike", "Conditions", "Controller", "Goals", "Job", "JobError", "Motor", "Pack", "Problem",
    "Rig", "Setup", "Tune", "dump_job", "job_schema", "load_job", "load_profile", "parse_job",
    "profile_names", "top_speed",
}  # fmt: skip
"""A name that goes breaks somebody's script: it is kept, or its going told in the changes."""


def test_the_public_names_are_these():
    assert set(curves.__all__) == NAMES
    assert curves.__all__ == sorted(curves.__all__)
    assert (Path(curves.__file__).parent / "py.typed").exists()


@pytest.mark.parametrize("name", sorted(NAMES))
def test_each_has_an_example_that_runs(name):
    found = doctest.DocTestFinder(recurse=False).find(getattr(curves, name), name, globs={})
    assert [example for test in found for example in test.examples], "has no example"
    for test in found:
        assert doctest.DocTestRunner().run(test).failed == 0


def test_no_example_goes_into_the_schema():
    schema = job_schema()
    assert not [t for t in (schema, *schema["$defs"].values()) if ">>>" in t["description"]]


def test_the_example_script_answers_its_question(capsys):
    spec = importlib.util.spec_from_file_location("example", ROOT / "tests" / "example.py")
    spec.loader.exec_module(importlib.util.module_from_spec(spec))
    said = capsys.readouterr().out.splitlines()
    assert len(said) == 4
    assert said[0].startswith("13 cells: 44.8 km/h, held by power cap")
    assert said[-1].endswith("N at 25 km/h")
