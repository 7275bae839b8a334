"""A file of thousands of setups: worked out a few at a time, written as it goes."""

import csv
import io
import json

import pytest

from curves import load_job
from curves.cli import main
from curves.commands import output
from curves.commands.people import MOST_TOLD
from curves.present.serial import csv_pieces, json_pieces

COUNT = 104


@pytest.fixture(scope="module")
def many(tmp_path_factory):
    """Setups that differ in their charge."""
    tree = load_job().tree()
    rows = [
        {**tree["setup"][k % 6], "name": f"setup {k}", "state_of_charge": 0.3 + 0.005 * k}
        for k in range(COUNT)
    ]
    file = tmp_path_factory.mktemp("many") / "job.json"
    file.write_text(json.dumps({**tree, "setup": rows, "compare_to": "setup 0"}))
    return str(file)


@pytest.fixture
def asked(capsys):
    """Run a command, and give what it printed."""

    def run(*words):
        capsys.readouterr()
        assert main(list(words)) == 0
        return capsys.readouterr().out

    return run


COMMANDS = [
    ("top-speed",),
    ("curves", "--speeds-kmh", "0:60:20"),
    ("curves", "--speeds-kmh", "0:60:20", "--gains", "--braking"),
]


@pytest.mark.parametrize("command", COMMANDS, ids=" ".join)
def test_blocks_give_what_one_batch_gives(command, asked, many, monkeypatch, tmp_path):
    def both():
        file = tmp_path / "out.csv"
        text = asked(*command, many, "--json", "--csv", str(file))
        return json.loads(text), list(csv.reader(io.StringIO(file.read_text())))

    monkeypatch.setattr(output, "MOST_AT_ONCE", 10**6)
    whole = both()
    monkeypatch.setattr(output, "MOST_AT_ONCE", 45)
    assert len(whole[0]["setups"]) == COUNT
    near = pytest.approx
    pieces = both()
    assert [x["name"] for x in pieces[0]["setups"]] == [x["name"] for x in whole[0]["setups"]]
    for one, other in zip(pieces[0]["setups"], whole[0]["setups"], strict=True):
        # To the accuracy that the model promises: root searches stop when all of a batch are there.
        assert one["top_speed_kmh"] == near(other["top_speed_kmh"], rel=1e-6)
    assert [row[0] for row in pieces[1]] == [row[0] for row in whole[1]]


@pytest.mark.parametrize("command", COMMANDS[:2], ids=" ".join)
def test_no_more_setups_at_a_time_than_the_bound(command, asked, many, monkeypatch):
    from curves.commands import curves, top_speed

    seen = []
    for module in (curves, top_speed):
        kept = module._asked
        monkeypatch.setattr(
            module, "_asked", lambda rigs, *a, kept=kept: seen.append(len(rigs)) or kept(rigs, *a)
        )
    monkeypatch.setattr(output, "MOST_AT_ONCE", 40)
    asked(*command, many, "--json")
    assert sum(seen) == COUNT
    assert max(seen) <= 40


@pytest.mark.parametrize("command", COMMANDS[:2], ids=" ".join)
def test_tables_for_people_say_how_many_they_leave_out(command, asked, many):
    said = asked(*command, many)
    assert f"setup {MOST_TOLD - 1}" in said
    assert f"setup {MOST_TOLD}" not in said
    assert f"The first {MOST_TOLD} of {COUNT} setups are shown; --json and --csv give all." in said


def test_pieces_of_json_are_the_text_of_the_whole():
    document = {"format": "x", "list": [1, float("nan")], "none": {}}
    streamed = {**document, "setups": lambda: iter([{"a": 1}, {"b": [2.5]}]), "no": list}
    whole = {**document, "list": [1, None], "setups": [{"a": 1}, {"b": [2.5]}], "no": []}
    assert "".join(json_pieces(streamed)) == json.dumps(whole) + "\n"
    assert "".join(json_pieces({})) == "{}\n"


def test_a_csv_of_no_rows_is_empty():
    assert "".join(csv_pieces([])) == ""
    assert list(csv_pieces([{"a": 1}, {"a": "=2"}])) == ["a\r\n", "1\r\n", "'=2\r\n"]
