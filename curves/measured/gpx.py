"""GPX tracks to samples; touches no file."""

from __future__ import annotations

import re
from typing import Any

import numpy as np

from curves.measured.xml_bounds import refuse_costly_xml
from curves.numerics.roots import Array, Index
from curves.parts.reading import refuse

PLACE = re.compile(r"line (\d+)")


def gpx_rows(data: bytes, name: str) -> tuple[Array, Index, Array]:
    """Times, line numbers (here those of points) and latitude, longitude, altitude and speed.

    Args:
        data: content of the file.
        name: what to call it in messages.

    Raises:
        JobError: if it is no GPX, or its points have no times.
    """
    import gpxpy  # slow to import, and needed for GPX alone
    from gpxpy.gpx import GPXException

    refuse_costly_xml(data, name)
    try:
        parsed = gpxpy.parse(data)
    except (GPXException, ValueError, LookupError) as error:
        line = PLACE.search(str(error))
        where = f"line {line[1]}: " if line else ""
        refuse(name, f"{where}is no GPX that can be read ({str(error)[:120]})")
    points = [
        point for track in parsed.tracks for segment in track.segments for point in segment.points
    ]
    if not points:
        refuse(name, "has no track: routes and waypoints alone have no times")
    timed = [(k, point) for k, point in enumerate(points, 1) if point.time is not None]
    if len(timed) < 2:
        refuse(name, "its points have no times: record a track, do not draw one")
    # Times without a zone are taken as of one zone.
    times = [point.time.timestamp() for _, point in timed if point.time is not None]
    time = np.array(times) - times[0]
    rows = [(point.latitude, point.longitude, point.elevation, _speed(point)) for _, point in timed]
    values = np.array(rows, dtype=np.float64)
    return time, np.array([k for k, _ in timed], dtype=np.intp), values


def _speed(point: Any) -> float | None:
    """Speed of a point, m/s, where the logger wrote one."""
    if point.speed is not None:
        return float(point.speed)
    for extension in point.extensions:
        for element in extension.iter():
            if element.tag.rpartition("}")[2].lower() == "speed" and element.text:
                try:
                    return float(element.text)
                except ValueError:
                    return None
    return None
