"""Files that are no job: one clear line each, and soon."""

import json
import os
import tomllib

import pytest

from curves import JobError, load_job, parse_job
from curves.parts.reading import CARRIED, MOST_BYTES, MOST_PAGE_BYTES
from tests.spent import loops

NOISE = bytes(range(256)) * 40_000
TEXTS = {
    "empty": ("", "is empty"),
    "blank": (" \n\n\t", "is empty"),
    "no TOML": ("hello there", "is not valid TOML"),
    "brackets": ("[" * 100_000, "is not valid TOML"),
    "nested lists": ("a = " + "[" * 100_000, "nested too deeply"),
    "nested tables": ("a = " + "{a = " * 100_000, "nested too deeply"),
    "nested, closed": ("a = " + "[" * 50 + "]" * 50, "nested too deeply"),
    "dotted key": ("a." * 300_000 + "a = 1", "nested too deeply"),
    "quoted dotted key": ('"a b" . ' * 100_000 + "a = 1", "nested too deeply"),
    "nested JSON": ('{"a":' * 100_000, "nested too deeply"),
    "JSON list": ("[1, 2]", "is not valid TOML"),
    "broken JSON": ('{"a": 1', "is not valid JSON"),
    "JSON key twice": ('{"a": 1, "a": 2}', 'has the key "a" twice'),
    "TOML key twice": ("a = 1\na = 2", "is not valid TOML"),
    "huge JSON number": ('{"a": ' + "1" * 5000 + "}", "is not valid JSON"),
    "many setups": ('format = "rimforce-job-1"\n' + "[[setup]]\n" * 60_000, "more than"),
    "many keys": ("".join(f"x{n} = 1\n" for n in range(60_000)), "more than"),
    "long text": ("a" * (MOST_BYTES + 1), "is larger than"),
    "NUL": ("a = 1\0", "is not valid TOML"),
    "no such date": ("a = 2023-02-31", "is not valid TOML"),
    "words": ("a " * 400_000, "is not valid TOML"),
    "quotes": ('"' * 900_000, "is not valid TOML"),
}


@pytest.mark.parametrize("name", TEXTS)
def test_text_that_is_no_job(name):
    text, message = TEXTS[name]
    caught = []

    def read():
        with pytest.raises(JobError) as error:
            parse_job(text, name="shop.toml")
        caught.append(error)

    # Bounds what a hostile text costs: 250 loops are some five seconds of a slow machine.
    assert loops(read, tries=1) < 250
    assert len(caught[0].value.problems) == 1
    assert str(caught[0].value).startswith("shop.toml: ")
    assert message in str(caught[0].value)
    assert len(str(caught[0].value)) < 300


@pytest.mark.parametrize("key", ["a.", '"a b" . '])
def test_a_long_key_never_reaches_the_slow_reader(key, monkeypatch):
    monkeypatch.setattr(tomllib, "loads", lambda _: pytest.fail("it was read"))
    with pytest.raises(JobError, match="nested too deeply"):
        parse_job(key * 100 + "a = 1")


FILES = {
    "noise": (NOISE, "is larger than 1 MB"),
    "some noise": (NOISE[:1000], "is not UTF-8"),
    "latin": ("title = 'Müller'".encode("latin-1"), "line 1 is not UTF-8"),
    "utf-16": ('format = "rimforce-job-1"'.encode("utf-16"), "is not UTF-8"),
    "nothing": (b"", "is empty"),
}


@pytest.mark.parametrize("name", FILES)
def test_files_that_are_no_job(tmp_path, name):
    content, message = FILES[name]
    (tmp_path / "x.toml").write_bytes(content)
    with pytest.raises(JobError, match=message):
        load_job(tmp_path / "x.toml")


def test_places_that_are_no_file(tmp_path):
    with pytest.raises(JobError, match="is a folder"):
        load_job(tmp_path)
    with pytest.raises(JobError, match="there is no such file"):
        load_job(tmp_path / "gone.toml")
    with pytest.raises(JobError, match="cannot be read"):
        load_job("a\0b")
    with pytest.raises(JobError, match="cannot be read"):
        load_job("x" * 5000)


def page(filler, carried=None):
    """A page that carries a job, the demonstration if none is given."""
    job = json.dumps(load_job().tree()) if carried is None else carried
    return f"<html>{' ' * filler}{CARRIED}{job}</script></html>"


def test_a_page_may_be_far_larger_than_a_job(tmp_path):
    # A report of 40 setups has some 1.1 MB, of which the job is a hundredth.
    (tmp_path / "report.html").write_text(page(3 * MOST_BYTES), encoding="utf-8")
    assert load_job(tmp_path / "report.html") == load_job()


@pytest.mark.parametrize(
    ("text", "message"),
    [
        (page(MOST_PAGE_BYTES), "is larger than 20 MB"),
        (page(0, '{"a": "' + "a" * MOST_BYTES + '"}'), "is larger than 1 MB"),
        (page(0, '{"a":' * 100_000), "nested too deeply"),
    ],
)
def test_a_page_and_the_job_in_it_have_bounds_of_their_own(text, message):
    with pytest.raises(JobError, match=message):
        parse_job(text)


@pytest.mark.skipif(os.name == "nt", reason="there is no such device on Windows")
def test_an_endless_file():
    with pytest.raises(JobError, match="is larger than"):
        load_job("/dev/zero")


def test_a_byte_order_mark_does_no_harm(tmp_path):
    text = json.dumps(load_job().tree())
    (tmp_path / "x.json").write_text(text, encoding="utf-8-sig")
    assert load_job(tmp_path / "x.json") == load_job()


def test_long_ordinary_text_is_no_nested_key():
    sentence = "Measured on the bench. Twice. " * 40
    job = load_job().replace("source", f"measured: {sentence}")
    assert job.source.endswith("Twice. ")
