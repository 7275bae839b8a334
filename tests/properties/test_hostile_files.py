"""Files that somebody made to break a reader: each is read or refused in words, none crashes.

``python -m pytest -m slow tests/properties/test_hostile_files.py`` tries some 24,000.
"""

import base64
import copy
import io
import json
import tomllib
from contextlib import suppress

import gpxpy
import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from curves import JobError, parse_job
from curves.measured.logs import demo_bench_text, demo_log, read_log
from curves.measured.profile import motor_profile
from curves.measured.readings import parse_bench
from curves.measured.xml_bounds import MOST_TAGS
from curves.parts.job import demo_job_text
from curves.parts.reading import decode
from dashboard.shell.editing import open_file

FEW, MANY = 100, 4000
COUNTS = pytest.mark.parametrize("count", [FEW, pytest.param(MANY, marks=pytest.mark.slow)])

TOKENS = st.sampled_from(
    ["=", "[", "]", "[[", "]]", "{", "}", '"', "'", '"""', "#", ".", ",", ":", ";", "\n", "\t", " ",
     "\0", "\ufeff", "\u2028", "\ud800", "é", "−", "0", "-1", "1e999", "nan", "inf", "0x1F", "1_0",
     "07:32:00", "1979-05-27", "true", "null", "setup", "motor.hub", "tyre", "profile",
     '"../../etc/passwd"', "<", "</script>", "<!DOCTYPE", "9" * 400, "a" * 300]
)  # fmt: skip
SOUP = st.lists(TOKENS | st.text(max_size=6), max_size=60).map("".join)
LEAVES = (
    st.none() | st.booleans() | st.integers() | st.floats() | st.text(max_size=8)
    | st.sampled_from([10**400, -(10**400), 1e308, 5e-324, "", "nan", "inf", "57-507", "peak"])
)  # fmt: skip
TREES = st.recursive(
    LEAVES,
    lambda inner: (
        st.lists(inner, max_size=4)
        | st.dictionaries(st.text(max_size=6) | st.just("profile"), inner, max_size=4)
    ),
    max_leaves=12,
)


@st.composite
def altered_text(draw, text):
    """A sound text with some stretches of it replaced, doubled or lost."""
    for _ in range(draw(st.integers(1, 4))):
        start = draw(st.integers(0, len(text)))
        end = min(len(text), start + draw(st.integers(0, 40)))
        text = text[:start] + draw(st.just("") | SOUP | st.just(text[start:end] * 3)) + text[end:]
    return text


@st.composite
def altered_tree(draw, tree):
    """A sound tree with random ones grafted on it, or branches cut off."""
    tree = copy.deepcopy(tree)
    for _ in range(draw(st.integers(1, 3))):
        node = tree
        while True:
            keys = list(node) if isinstance(node, dict) else range(len(node))
            if not keys:
                break
            key = draw(st.sampled_from(keys))
            inner = node[key]
            if isinstance(inner, dict | list) and inner and draw(st.integers(0, 3)):
                node = inner
                continue
            if isinstance(node, dict) and draw(st.booleans()):
                node[draw(st.text(max_size=6))] = node.pop(key)
            else:
                node[key] = draw(TREES)
            break
    return json.dumps(tree)


def every(files, count):
    """Have a reader try as many files."""

    def decorate(read):
        checked = settings(
            max_examples=count,
            deadline=None,
            database=None,
            suppress_health_check=list(HealthCheck),
        )(given(files)(read))
        return checked()

    return decorate


JOB, BENCH = demo_job_text(), demo_bench_text()
LOG = b"".join(demo_log().readlines()[:40]).decode()
GPX = """<?xml version="1.0"?><gpx version="1.1" creator="x"
xmlns="http://www.topografix.com/GPX/1/1"><trk><trkseg>
<trkpt lat="52.0" lon="4.0"><ele>1</ele><time>2026-01-01T10:00:00Z</time></trkpt>
<trkpt lat="52.0001" lon="4.0"><ele>1</ele><time>2026-01-01T10:00:01Z</time></trkpt>
<trkpt lat="52.0002" lon="4.0"><ele>2</ele><time>2026-01-01T10:00:02Z</time></trkpt>
</trkseg></trk></gpx>"""


@COUNTS
def test_jobs(count):
    @every(altered_text(JOB) | altered_tree(tomllib.loads(JOB)) | SOUP, count)
    def read(text):
        with suppress(JobError):
            parse_job(text)


@COUNTS
def test_benches(count):
    @every(altered_text(BENCH) | altered_tree(tomllib.loads(BENCH)) | SOUP, count)
    def read(text):
        with suppress(JobError):
            motor_profile(parse_bench(text), name="bench")


@COUNTS
def test_logs_of_text(count):
    @every((altered_text(LOG) | SOUP).map(lambda text: text.encode("utf-8", "replace")), count)
    def read(data):
        with suppress(JobError):
            read_log(io.BytesIO(data), name="log.csv")


@COUNTS
def test_logs_of_tracks(count):
    @every(altered_text(GPX).map(lambda text: text.encode("utf-8", "replace")), count)
    def read(data):
        with suppress(JobError):
            read_log(io.BytesIO(data), name="log.gpx")


@COUNTS
def test_bytes(count):
    start = st.sampled_from([b"", b"\xff\xfe", b"\xef\xbb\xbf", b"<gpx", b"<?xml", b"PK\x03\x04"])

    @every(st.tuples(start, st.binary(max_size=300)).map(b"".join), count)
    def read(data):
        for name in ("log.csv", "log.gpx"):
            with suppress(JobError):
                read_log(io.BytesIO(data), name=name)
        with suppress(JobError):
            parse_job(decode(data, "job"))


@COUNTS
def test_jobs_as_the_browser_sends_them(count):
    sent = altered_text(JOB).map(lambda text: text.encode("utf-8", "replace"))

    @every(st.tuples(st.booleans(), sent | st.binary(max_size=100)), count)
    def read(given):
        encoded, data = given
        body = base64.b64encode(data).decode() if encoded else data.decode("latin-1")
        with suppress(JobError):
            open_file(f"data:text/plain;base64,{body}", "job.toml")


TRACK = b"<gpx version='1.1'><trk>%s</trk></gpx>"
MANY_LAUGHS = """<?xml version="1.0" encoding="{encoding}"?>
<!DOCTYPE gpx [<!ENTITY a "{ten}"><!ENTITY b "{b}"><!ENTITY c "{c}"><!ENTITY d "{d}">]>
<gpx version="1.1"><trk><name>&d;</name></trk></gpx>""".replace("{ten}", "a" * 10)


@pytest.mark.parametrize("encoding", ["utf-8", "utf-16"])
def test_a_track_whose_entities_multiply_is_refused(encoding):
    text = MANY_LAUGHS.format(encoding=encoding, b="&a;" * 2000, c="&b;" * 2000, d="&c;" * 2000)
    with pytest.raises(JobError, match="document type of its own"):
        read_log(io.BytesIO(text.encode(encoding)), name="log.gpx")


COSTLY = {
    # Freed one within the other, these end the whole program.
    "deep": (TRACK % (b"<a>" * 300_000 + b"</a>" * 300_000), "nested more than 50 levels deep"),
    # The time for these grows with the square of their number.
    "no name": (TRACK % (b"<!--" + b" xmlns" * 100_000 + b"-->"), "namespaces as no GPX does"),
    "names": (
        TRACK % b"".join(b'<a xmlns:b%d="c%d"/>' % (k, k) for k in range(50_000)),
        "namespaces as no GPX does",
    ),
    "tags": (TRACK % (b"<a/>" * MOST_TAGS), "more than 2,000,000 tags"),
}


@pytest.mark.parametrize("what", COSTLY)
def test_a_track_that_no_reader_of_xml_survives_is_refused_before(what, monkeypatch):
    data, said = COSTLY[what]
    monkeypatch.setattr(gpxpy, "parse", lambda _: pytest.fail("it was read"))
    with pytest.raises(JobError, match=said):
        read_log(io.BytesIO(data), name="log.gpx")
