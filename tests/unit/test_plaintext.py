"""Text of others: nothing in it acts on a terminal, a page, a report or a spreadsheet."""

import copy
import csv
import io
import json
import re
from pathlib import Path

import pytest

from curves import JobError, load_job, parse_job
from curves.cli import main
from curves.commands.output import write_file
from curves.errors import Problem
from curves.measured.logs import read_log
from curves.measured.readings import parse_bench
from curves.parts.job import build_job
from curves.plaintext import has_controls, no_formula, showable
from curves.present.serial import csv_line, csv_text
from curves.report.markup import escape
from curves.units import AS_WRITTEN
from dashboard.shell.editing import attempt, edit_part, edit_row
from dashboard.state.session import Session

ASSETS = Path(__file__).parents[2] / "dashboard" / "assets"
ESCAPE, BELL, CSI, TURNED, HALF = "\x1b[31m", "\x07", "\x9b31m", "\u202e", "\ud800"
ACTING = [ESCAPE, BELL, CSI, TURNED, HALF, "\x00", "\x7f", "\u2028", "\u2066", "\ufffe"]


def acts(text):
    """What of a text is not shown but done."""
    return re.findall(r"[\x00-\x08\x0b-\x1f\x7f-\x9f\u2028-\u202e\u2066-\u2069\ud800-\udfff]", text)


@pytest.mark.parametrize("text", ACTING, ids=ascii)
def test_what_would_act_is_shown_as_a_mark(text):
    assert showable(f"a{text}b").startswith("a\ufffd")
    assert not acts(showable(text) + escape(text) + str(Problem(text, text, text)))
    assert has_controls(text)
    assert not acts((csv_text([{text: text}]) + csv_line([text])).replace("\r\n", ""))


@pytest.mark.parametrize(
    "text", ["Ständer", "−3 °C", "שלום\u200f", "👩\u200d🔧", "n\u0303", "13 × 2"]
)
def test_what_people_write_stays(text):
    assert showable(text) == no_formula(text) == text
    assert not has_controls(text)


def places(node, path=()):
    """Every key and first item of a tree, with the way to it."""
    if isinstance(node, dict):
        for key, inner in node.items():
            yield path, key
            yield from places(inner, (*path, key))
    elif isinstance(node, list):
        yield from places(node[0], (*path, 0)) if node else ()


@pytest.mark.parametrize("text", ACTING, ids=ascii)
def test_no_key_and_no_text_of_a_job_is_told_or_taken_raw(text):
    sound = load_job().tree()
    for path, key in list(places(sound))[::13]:
        for change in ("key", "value", "below", "sources"):
            tree = node = copy.deepcopy(sound)
            for step in path:
                node = node[step]
            if change == "key":
                node[f"{text}{key}"] = node.pop(key)
            elif change == "sources":
                node["sources"] = {text: f"typical {text}", key: f"typical {text}"}
            else:
                node[key] = f"{text}x" if change == "value" else {text: text}
            for said in (
                refusal(parse_job, json.dumps(tree), text),
                refusal(build_job, tree, "job"),
            ):
                assert not acts(said), (path, key, change)


def refusal(read, what, name):
    """All that is said where a job is refused."""
    with pytest.raises(JobError) as said:
        read(what, name=name)
    problems = said.value.problems
    return "".join([str(said.value), *(p.where + p.value + p.message for p in problems)])


def test_names_typed_on_the_page_are_refused_in_words():
    session = Session.of(load_job())
    for text in ACTING:
        for edit, where in (
            (edit_row, {"slot": 0, "field": "name"}),
            (edit_part, {"part": "job", "name": "", "key": "title"}),
        ):
            after, said = attempt(session, edit, where, f"a{text}", AS_WRITTEN)
            assert after is session
            assert said
            assert not acts(said)


def test_the_command_line_tells_no_key_raw(tmp_path, capsys):
    file = tmp_path / "job.toml"
    for key in ('"\\u001b[31m"', '"\\u0007"', '"\\u009b"', '"\\u202e"'):
        file.write_text(f'format = "rimforce-job-1"\n[motor.{key}]\n{key} = 1\n', encoding="utf-8")
        assert main(["check", str(file)]) == 2
        assert not acts(capsys.readouterr().err)
    assert main(["check", f"{tmp_path}/\x1b[31m.toml"]) == 2
    assert main(["top-speed", "--\x1b[31m", "1"]) == 2
    assert main(["\x1b[31m"]) == 2
    assert not acts(capsys.readouterr().err)


def test_half_a_letter_is_refused_in_words(tmp_path, capsys):
    tree = load_job().tree()
    tree["sources"] = {HALF: "typical"}
    file = tmp_path / "job.json"
    file.write_text(json.dumps(tree), encoding="utf-8")
    assert main(["check", str(file)]) == 2
    assert capsys.readouterr().err == "job.json: holds half of a letter, U+D800: write it anew\n"
    with pytest.raises(JobError, match=r"half of a letter, U\+D800"):
        parse_bench('{"format": "rimforce-bench-1", "\\ud800": 1}')


def test_a_log_has_headings_that_can_be_shown():
    rows = "".join(f"{k},{k},0\n" for k in range(30))
    log = read_log(
        io.BytesIO(f"time,speed_kmh \x1b[31m\u202e,\x9b\n{rows}".encode()), name="a\x07.csv"
    )
    assert not acts(log.name + "".join(column.name for column in log.columns))


def test_a_profile_that_leads_back_to_itself_is_refused_in_words(tmp_path, capsys):
    (tmp_path / "round.toml").symlink_to(tmp_path / "again.toml")
    (tmp_path / "again.toml").symlink_to(tmp_path / "round.toml")
    tree = load_job().tree()
    tree["motor"]["hub"] = {"profile": "round.toml"}
    file = tmp_path / "job.json"
    file.write_text(json.dumps(tree), encoding="utf-8")
    assert main(["check", str(file)]) == 2
    assert "must be a packaged profile" in capsys.readouterr().err
    assert main(["profiles", str(tmp_path / "round.toml")]) == 2
    assert main(["check", str(tmp_path / "round.toml")]) == 2
    assert main(["fit", str(tmp_path / "round.toml")]) == 2
    assert "fault" not in capsys.readouterr().err


FORMULAS = {
    "=1+1": "'=1+1",
    "\uff1d1": "'\uff1d1",
    "\uff20sum(A1)": "'\uff20sum(A1)",
    "\ufe66 1": "'\ufe66 1",
    "a;=1+1": "a;'=1+1",
    "a;\uff1d1": "a;'\uff1d1",
    "a|@sum(A1)": "a|'@sum(A1)",
    "a,  +cmd|' /C calc'!A0": "a,  '+cmd|' /C calc'!A0",
    "a;-1+cmd|' /C calc'!A0": "a;'-1+cmd|' /C calc'!A0",
    " =1": " '=1",
    "a\n=1": "a\n'=1",
}
HARMLESS = ["phase current; voltage", "1; -2; +3.5", "a - b", "20 cells, -5 °C", "x=1", "a; b@c"]


@pytest.mark.parametrize(("text", "safe"), FORMULAS.items(), ids=ascii)
def test_nothing_a_spreadsheet_reads_is_a_formula(text, safe):
    assert no_formula(text) == safe
    for written in (csv_text([{"a": text}]), "a\r\n" + csv_line([text])):
        assert next(iter(list(csv.reader(io.StringIO(written, newline="")))[1])) == safe
    assert formula_of_the_browser().sub(lambda found: f"{found[0]}'", text) == safe


@pytest.mark.parametrize("text", HARMLESS)
def test_what_is_no_formula_stays(text):
    assert no_formula(text) == text
    assert not formula_of_the_browser().search(text)


def formula_of_the_browser():
    """The pattern by which tables that are saved in the browser are made safe."""
    script = (ASSETS / "tables.js").read_text(encoding="utf-8")

    def told(name):
        return json.loads(re.search(rf'const {name} = ("[^\n]*");', script)[1])

    pattern = re.search(r"new RegExp\(\s*`([^`]*)`", script)[1].replace("\\\\", "\\")
    for name in ("SIGNS", "NUMBER"):
        pattern = pattern.replace(f"${{{name}}}", told(name))
    return re.compile(pattern)


@pytest.mark.parametrize("mode", [0o444, 0o555, 0o400])
def test_a_file_marked_read_only_is_not_replaced(tmp_path, mode):
    file = tmp_path / "old.csv"
    file.write_text("old", encoding="utf-8")
    file.chmod(mode)
    with pytest.raises(JobError, match="is marked read-only"):
        write_file(file, "new", option="--csv")
    assert file.read_text(encoding="utf-8") == "old"
    file.chmod(0o644)
    write_file(file, "new", option="--csv")
    assert file.read_text(encoding="utf-8") == "new"
