"""Logs good and awful: what is read, what is said, and what is refused with line and reason."""

import io
import tracemalloc

import numpy as np
import pytest

from curves import JobError, load_job
from curves.measured import logs
from curves.measured.clock import seconds
from curves.measured.logs import look_at, read_log
from curves.measured.thinning import Thinner
from curves.measured.timeline import Timeline
from curves.measured.track import path_length, track
from curves.units import KMH, MPH, RPM

TIMES = np.arange(0.0, 4.0, 0.1)
SPEEDS = 9.0 * TIMES


def table(heading, template, comma=False):
    rows = "".join(
        template.format(t=t, v=v, ms=1000 * t) + "\n" for t, v in zip(TIMES, SPEEDS, strict=True)
    )
    return f"{heading}\n{rows.replace('.', ',') if comma else rows}"


def read(text, encoding="utf-8", **options):
    data = text if isinstance(text, bytes) else text.encode(encoding)
    return read_log(io.BytesIO(data), name="ride.csv", **options)


GOOD = {
    "plain": (table("time,speed (km/h)", "{t:.1f},{v:.2f}"), "utf-8"),
    "semicolons and decimal commas": (
        table("Zeit [s];Geschwindigkeit [km/h];Spannung", "{t:.1f};{v:.2f};48.2", comma=True),
        "utf-8",
    ),
    "tabs": (table("t\tspeed_kmh", "{t:.1f}\t{v:.2f}"), "utf-8"),
    "pipes": (table("time|speed_kmh", "{t:.1f}|{v:.2f}"), "utf-8"),
    "columns of blanks": (table("time speed_kmh", "{t:8.1f}   {v:6.2f}"), "utf-8"),
    "a byte order mark": (table("time,speed (km/h)", "{t:.1f},{v:.2f}"), "utf-8-sig"),
    "two bytes a letter": (table("time,speed (km/h)", "{t:.1f},{v:.2f}"), "utf-16"),
    "two bytes, no mark": (table("time,speed (km/h)", "{t:.1f},{v:.2f}"), "utf-16-le"),
    "western letters": (
        table("Temps (s);Vitesse (km/h);Température", "{t:.1f};{v:.2f};21", comma=True),
        "cp1252",
    ),
    "old line ends": (table("time,speed_kmh", "{t:.1f},{v:.2f}").replace("\n", "\r"), "ascii"),
    "windows line ends": (
        table("time,speed_kmh", "{t:.1f},{v:.2f}").replace("\n", "\r\n"),
        "ascii",
    ),
    "quotes": (table('"time","speed (km/h)"', '"{t:.1f}","{v:.2f}"'), "utf-8"),
    "quoted decimal commas": (
        '"time","speed (km/h)"\n'
        + "".join(
            f'"{t:.1f}","{v:.2f}"\n'.replace(".", ",").replace('","', '","')
            for t, v in zip(TIMES, SPEEDS, strict=True)
        ),
        "utf-8",
    ),
    "a preamble": (
        "# Logger 3\n# 2024-06-11\n\n" + table("time,speed (km/h)", "{t:.1f},{v:.2f}"),
        "utf-8",
    ),
    "a line of units": (table("time,v\ns,km/h", "{t:.1f},{v:.2f}"), "utf-8"),
    "milliseconds": (table("ms,speed_kmh", "{ms:.0f},{v:.2f}"), "utf-8"),
    "milliseconds unsaid": (table("time,speed_kmh", "{ms:.0f},{v:.2f}"), "utf-8"),
    "milliseconds since 1970": (
        "timestamp,speed_kmh\n"
        + "".join(
            f"{1718100000000 + 1000 * t:.0f},{v:.2f}\n" for t, v in zip(TIMES, SPEEDS, strict=True)
        ),
        "utf-8",
    ),
    "clock times": (table("Uhrzeit;km/h speed", "09:59:5{t:.1f};{v:.2f}", comma=True), "utf-8"),
    "dates and times": (
        table("time,speed_kmh", "2024-06-11T12:00:0{t:.1f}Z,{v:.2f}"),
        "utf-8",
    ),
    "a trailing separator": (table("time,speed_kmh,", "{t:.1f},{v:.2f},"), "utf-8"),
    "blank lines and remarks": (
        table("time,speed_kmh", "{t:.1f},{v:.2f}").replace("1.0,", "\n# half way\n1.0,", 1),
        "utf-8",
    ),
    "another order, more columns": (
        table("id,motor temp,speed_kmh,time,note", "7,40,{v:.2f},{t:.1f},fine"),
        "utf-8",
    ),
}


@pytest.mark.parametrize("name", GOOD)
def test_the_same_run_however_it_is_written(name):
    text, encoding = GOOD[name]
    log = read(text, encoding)
    assert log.time == pytest.approx(TIMES, abs=1e-6)
    assert log.values["speed"] == pytest.approx(SPEEDS * KMH, abs=0.005)
    assert log.lines == TIMES.size


def test_what_the_columns_of_a_controllers_log_mean():
    text = (
        "time_ms,voltage_in,current_in,current_motor,erpm,temp_motor,temp_mosfet,latitude,longitude"
        ",speed_mph\n"
        + "".join(f"{100 * k},48.{k},12,30,{100 * k},41,35,52.1,13.2,{k}\n" for k in range(9))
    )
    columns = {c.quantity: (c.name, c.unit.lower()) for c in look_at(stream(text)).columns}
    assert columns == {
        "time": ("time_ms", "ms"),
        "pack_v": ("voltage_in", "v"),
        "pack_a": ("current_in", "a"),
        "electrical_rpm": ("erpm", "rpm"),
        "motor_c": ("temp_motor", "°c"),
        "latitude": ("latitude", "deg"),
        "longitude": ("longitude", "deg"),
        "speed": ("speed_mph", "mph"),
    }
    log = read_log(stream(text))
    assert log.values["speed"][-1] == pytest.approx(8 * MPH)
    assert log.values["electrical_rpm"][-1] == pytest.approx(800 * RPM)


def test_a_person_has_the_last_word_on_columns():
    text = table("time,GPS,wheel", "{t:.1f},{v:.2f},{t:.1f}")
    assert "speed" not in read(text + "", columns={"wheel_rpm": "wheel"}).values
    log = read(text, columns={"speed": "GPS:mph", "wheel_rpm": "wheel:rpm"})
    assert log.values["speed"] == pytest.approx(SPEEDS * MPH, abs=0.005)
    for said, message in (
        ({"wheel_rpm": "whel:rpm"}, "did you mean wheel"),
        ({"speed": "GPS:furlong"}, "is no unit of speed"),
        ({"sped": "GPS"}, "did you mean speed"),
    ):
        with pytest.raises(JobError, match=message):
            read(text, columns=said)


def stream(text):
    return io.BytesIO(text.encode())


BAD = {
    "nothing": (b"", "is empty"),
    "a spreadsheet": (b"PK\x03\x04" + bytes(100), "export it as CSV"),
    "a picture": (bytes(range(256)) * 40, "is not text"),
    "prose": (b"Dear tuner,\nthe bike is slow.\nYours\n", "line 1: no table of numbers"),
    "a heading alone": (b"time,speed\n", "no table of numbers"),
    "no time": (
        b"lap,speed\n" + b"".join(b"%d,5\n" % (k % 2) for k in range(20)),
        "no column is a time",
    ),
    "nothing but time": (
        b"time,weather\n" + b"".join(b"%d,sun\n" % k for k in range(20)),
        "no table of numbers|no column but the time",
    ),
    "decimal commas between commas": (
        b"time,speed\n" + b"".join(b"%d,5,7,%d\n" % (k, k) for k in range(20)),
        "line 2 has 4 values under 2 headings",
    ),
    "an open quote": (
        b'time,speed\n0,1\n1,2\n2,3\n3,"4\n' + b"".join(b"%d,5\n" % k for k in range(4, 40000)),
        "line 5 .* quotation mark",
    ),
    "one endless line": (b"0.1,2;" * 100_000, "line 1 is longer"),
    "mostly garbage": (
        b"time,speed\n0,1\n1,2\n2,3\n" + b"what,3\n" * 30,
        '30 of 33 lines cannot be read. line 5: time = "what" is no time',
    ),
    "one sample": (b"time,speed\n0,1\n", "samples"),
    "a map without a track": (b"<?xml version='1.0'?><gpx version='1.1'></gpx>", "has no track"),
    "broken GPX": (b"<?xml version='1.0'?>\n<gpx>\n<trk>\n</gpx>", "line 4: is no GPX"),
    "another XML": (b"<?xml version='1.0'?><kml></kml>", "no GPX|no track"),
    "an XML bomb": (
        b"<?xml version='1.0'?><!DOCTYPE gpx [<!ENTITY a 'b'>]><gpx/>",
        "document type",
    ),
    "a document type elsewhere": (
        b"<?xml version='1.0'?><!DOCTYPE gpx SYSTEM 'http://example.org/gpx.dtd'><gpx/>",
        "document type",
    ),
    "an XML bomb behind much else": (
        b"<?xml version='1.0'?><!--%s--><!DOCTYPE gpx [<!ENTITY a 'b'>]><gpx/>" % (b"-. " * 2000),
        "document type",
    ),
}


@pytest.mark.parametrize("name", BAD)
def test_what_cannot_be_read_says_where_and_why(name):
    data, said = BAD[name]
    with pytest.raises(JobError, match=f"ride.csv: .*({said})"):
        read(data)


def test_a_number_of_another_writing_is_a_bad_cell():
    rows = [f"{k / 10:.1f},{k}.5" for k in range(20)]
    rows[7] = "1.234.567,5"
    assert read("time,speed_kmh\n" + "\n".join(rows)).time.size == 19
    with pytest.raises(JobError, match="no column is a time"):
        read("first,battery_a\n" + "\n".join(rows))


def test_files_that_are_not_there(tmp_path):
    with pytest.raises(JobError, match="there is no such file"):
        read_log(tmp_path / "none.csv")
    with pytest.raises(JobError, match="is a folder"):
        read_log(tmp_path)


def test_bad_lines_are_named_and_the_rest_is_kept():
    rows = [f"{t:.1f},{v:.2f}" for t, v in zip(TIMES, SPEEDS, strict=True)]
    rows[3] = "oops,1"
    rows[5] = "0.5"
    rows[7] = f"{TIMES[7]:.1f},fast"
    rows[9] = f"{TIMES[9]:.1f},--"
    rows[11] = f"{TIMES[11]:.1f},9,9,9"
    log = read("time,speed_kmh\n" + "\n".join(rows) + "\n3.95")
    assert log.time.size == TIMES.size - 3
    assert np.isnan(log.values["speed"][[5, 7]]).all()
    (note,) = (note for note in log.notes if "left out" in note)
    assert note.startswith("4 lines and 1 single values are left out: ")
    assert "line 7: ends after 1 of 2 values" in note


def test_gaps_reversals_repeats_and_restarts():
    rows = [(0, 1), (1, 2), (1, 4), (3, 5), (2, 4), (4, 6), (500, 1), (501, 2), (10, 5), (11, 6)]
    log = read("time s,speed m/s\n" + "".join(f"{t},{v}\n" for t, v in rows))
    assert log.time.tolist() == [0, 1, 2, 3, 4, 500, 501, 561, 562]
    assert log.values["speed"].tolist() == [1, 3, 4, 5, 6, 1, 2, 5, 6]
    said = " ".join(log.notes)
    assert "1 samples were out of order, first on line 6" in said
    assert "1 times repeat, first on line 4" in said
    assert "falls back 1 times, first at line 10" in said


def test_midnight():
    rows = "".join(f"23:59:{50 + k},{k}\n" for k in range(10)) + "".join(
        f"00:00:0{k},{10 + k}\n" for k in range(5)
    )
    log = read("time,speed m/s\n" + rows)
    assert log.time.tolist() == list(range(15))


def test_a_clock_coarser_than_the_samples():
    rows = "".join(f"12:00:0{k // 5},{k}\n" for k in range(2, 45))
    log = read("time,speed m/s\n" + rows)
    assert log.time == pytest.approx(np.arange(43) / 5)


def test_a_slow_receiver_in_a_fast_log():
    rows = "".join(f"{0.02 * k:.2f},{0.5 * (k // 10):.1f}\n" for k in range(400))
    found = track(read("time s,speed m/s\n" + rows))
    assert found.time.size == 40
    assert np.diff(found.time) == pytest.approx(0.2)
    assert "slower than the log" in found.notes[0]


@pytest.mark.parametrize(
    ("text", "expected"),
    [
        ("12:00:01", 43201.0),
        ("12:00:01.25", 43201.25),
        ("12:00:01,250", 43201.25),
        ("1:02.5", 62.5),
        ("01:02", 62.0),
        ("2:00:00 PM", 50400.0),
        ("12:00:00 am", 0.0),
    ],
)
def test_clock_times(text, expected):
    assert seconds(text) == pytest.approx(expected)


@pytest.mark.parametrize(
    ("later", "earlier"),
    [
        ("2024-03-01T00:00:00Z", "2024-02-29T23:59:59Z"),
        ("01/03/2024 00:00:00", "29/02/2024 23:59:59"),
        ("12/31/2024 10:00:01", "12/31/2024 10:00:00"),
        ("2024-06-11 09:30:01+02:00", "2024-06-11 09:30:00+02:00"),
    ],
)
def test_dates_go_on(later, earlier):
    assert seconds(later) - seconds(earlier) == pytest.approx(1.0)


@pytest.mark.parametrize("text", ["25:61:00", "2024-13-01T00:00:00", "noon", "12", ""])
def test_what_is_no_time(text):
    with pytest.raises(ValueError):  # noqa: PT011 - whatever the calendar says of it
        seconds(text)


def gpx(points, speed=""):
    body = "".join(
        f'<trkpt lat="{52 + north / 111194.93:.8f}" lon="13.0">'
        f"<time>2024-06-11T12:00:{t:06.3f}Z</time>{speed.format(v=v)}</trkpt>"
        for t, north, v in points
    )
    return (
        '<?xml version="1.0" encoding="UTF-8"?><gpx version="1.1" creator="none" '
        'xmlns="http://www.topografix.com/GPX/1/1" xmlns:x="http://example.org/x">'
        f"<trk><trkseg>{body}</trkseg></trk></gpx>"
    )


def test_gpx_positions_give_speed():
    t = np.arange(0.0, 20.0)
    found = track(read(gpx(zip(t, t**2 / 2, t, strict=True))))
    assert found.source == "positions"
    # The mean over a second of a steady rise is the speed at its middle.
    assert found.speed == pytest.approx(found.time, abs=0.02)


def test_gpx_is_read_whole_and_so_is_bounded(monkeypatch):
    text = gpx([(t, t, t) for t in range(20)])
    monkeypatch.setattr(logs, "MOST_GPX", len(text))
    assert read(text).time.size == 20
    monkeypatch.setattr(logs, "MOST_GPX", len(text) - 1)
    with pytest.raises(JobError, match="cut the track"):
        read(text)


def test_gpx_speed_of_the_receiver_is_preferred():
    t = np.arange(0.0, 20.0)
    tag = "<extensions><x:speed>{v:.3f}</x:speed></extensions>"
    found = track(read(gpx(zip(t, 0 * t, t, strict=True), tag)))
    assert found.source == "speed"
    assert found.speed == pytest.approx(t, abs=1e-3)


def test_revolutions_give_speed():
    rig = load_job().rig("13 cells")
    text = "time s,erpm\n" + "".join(f"{k},{1000 * k}\n" for k in range(10))
    found = track(read(text), rig)
    # 1000 electrical rpm over 20 pole pairs is 50 rpm of a 2.05 m wheel.
    assert found.speed[1] == pytest.approx(50 / 60 * 2.05)
    with pytest.raises(JobError, match="neither speed"):
        track(read(text))


def test_path_length():
    # One degree of latitude on a sphere of the earth's mean radius: 111.195 km (derived).
    found = path_length(np.array((0.0, 51.0, 52.0, np.nan)), np.array((0.0, 7.0, 7.0, 7.0)))
    assert found[2] == pytest.approx(111_195, rel=1e-5)
    assert np.isnan(found[[0, 3]]).all()


def test_rates_from_1_to_1000_hz():
    for rate in (1, 5, 18, 100, 1000):
        t = np.arange(0, 12, 1 / rate)
        rows = "".join(f"{x:.3f},{x:.3f}\n" for x in t)
        log = read("time s,speed m/s\n" + rows)
        assert log.interval == pytest.approx(1 / rate, rel=0.06)


def test_a_long_log_is_averaged_and_its_part_is_not():
    rows = "".join(f"{0.001 * k:.3f},{0.001 * k:.3f}\n" for k in range(30_000))
    whole = read("time s,speed m/s\n" + rows, keep=2000)
    assert 1000 <= whole.time.size <= 4000
    assert whole.averaged >= 8
    assert whole.values["speed"] == pytest.approx(whole.time, abs=1e-9)
    part = read("time s,speed m/s\n" + rows, keep=2000, window=(10.0, 11.0))
    assert part.averaged == 1
    assert (part.time[0], part.time[-1]) == pytest.approx((10.0, 11.0))


def test_averages_do_not_span_gaps():
    thinner = Thinner(1, keep=100)
    for start in (0.0, 1000.0):
        t = start + np.arange(205.0)
        thinner.add(t, t[:, None])
    thinner.add(np.zeros(0), np.zeros((0, 1)), last=True)
    time, values = thinner.result()
    assert time == pytest.approx(values[:, 0])
    assert not np.any((time > 210) & (time < 1000))


def test_order_is_kept_over_chunks():
    rng = np.random.default_rng(0)
    t = np.arange(5000) / 10
    shuffled = np.argsort(t + rng.uniform(0, 2, t.size))
    timeline = Timeline(1)
    parts = np.array_split(shuffled, 37)
    out = [timeline.feed(t[part], part, t[part, None]) for part in parts]
    out.append(timeline.finish())
    assert np.concatenate([time for time, _ in out]).tolist() == t.tolist()


def test_memory_does_not_grow_with_the_log(tmp_path):
    # 100 MB were tried by hand.
    def peak(seconds):
        path = tmp_path / "long.csv"
        with path.open("w") as file:
            file.write("ms,speed_kmh,voltage,current,motor temp\n")
            for k in range(1000 * seconds):
                file.write(f"{k},{k % 50}.25,48.123,12.345,61.5\n")
        tracemalloc.start()
        log = read_log(path, keep=2000)
        most = tracemalloc.get_traced_memory()[1]
        tracemalloc.stop()
        assert log.lines == 1000 * seconds
        return most

    assert peak(40) < 1.2 * peak(10)
