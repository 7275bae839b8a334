"""What all figures share: number arrays on the wire, and the bare layout."""

from __future__ import annotations

import base64
import math
from collections.abc import Sequence
from typing import Any

import numpy as np

from dashboard.base.theme import FONT, TOKENS

Spec = dict[str, Any]
INK = TOKENS["light"]["ink"]
SOFT = TOKENS["light"]["soft"]
GRID = TOKENS["light"]["grid"]
LINE = TOKENS["light"]["line"]
CARD = TOKENS["light"]["card"]
SIZE = 13
CHARACTER = 6.6
"""Mean width of a character at ``SIZE``, px."""


def packed(values: Any) -> Spec:
    """Numbers as Plotly's typed array: half the bytes of text, and quick to read."""
    data = np.ascontiguousarray(values, dtype="<f4")
    return {"dtype": "f4", "bdata": base64.b64encode(data.tobytes()).decode("ascii")}


def unpacked(spec: Any) -> Any:
    """The numbers of a typed array again, for tests and tables."""
    if isinstance(spec, dict):
        return np.frombuffer(base64.b64decode(spec["bdata"]), dtype=f"<{spec['dtype']}")
    return np.asarray(spec)


def layout(height: int, left: int = 52, right: int = 14, top: int = 30, bottom: int = 44) -> Spec:
    """A layout without axes. Colours are those of light paper; the style sheet turns them."""
    return {
        "height": height,
        "margin": {"l": left, "r": right, "t": top, "b": bottom, "pad": 0},
        "paper_bgcolor": "rgba(0,0,0,0)",
        "plot_bgcolor": "rgba(0,0,0,0)",
        "font": {"family": FONT, "size": SIZE, "color": INK},
        "showlegend": False,
        "uirevision": "kept",
        "hovermode": "x unified",
        "hoverdistance": 24,
        "spikedistance": -1,
        "hoverlabel": {"font": {"family": FONT, "size": SIZE}, "bgcolor": CARD, "namelength": -1},
        "dragmode": "zoom",
        "modebar": {"bgcolor": "rgba(0,0,0,0)"},
        "bargap": 0,
        "barmode": "overlay",
        "annotations": [],
        "shapes": [],
    }


def axis(**more: Any) -> Spec:
    """An axis in the style of all."""
    return {
        "gridcolor": GRID,
        "linecolor": LINE,
        "zeroline": False,
        "ticks": "",
        "tickfont": {"color": SOFT, "size": SIZE - 1},
        "automargin": False,
        "tickangle": 0,
        **more,
    }


def titled(text: str) -> Spec:
    """What an axis shows, with its unit."""
    return {"text": text, "font": {"color": SOFT, "size": SIZE}, "standoff": 8}


def note(text: str, **more: Any) -> Spec:
    """A text at a fixed place; a bold one is a title, which tells what it means when pressed."""
    return {
        "text": text,
        "captureevents": text.startswith("<b>"),
        "showarrow": False,
        "xref": "paper",
        "yref": "paper",
        "font": {"size": SIZE, "color": INK},
        **more,
    }


def round_up(value: float) -> float:
    """The next of 1, 1.2, 1.5, 2, 2.5, 3, 4, 5, 6 or 8 times a power of ten."""
    if not math.isfinite(value) or value <= 0:
        return 1.0
    power = 10.0 ** math.floor(math.log10(value))
    steps = (1, 1.2, 1.5, 2, 2.5, 3, 4, 5, 6, 8, 10)
    return next(s * power for s in steps if s * power >= value * (1 - 1e-9))


def finite_max(arrays: Sequence[Any]) -> float:
    """The largest finite number in some arrays, 0 if there is none."""
    values = [float(np.nanmax(a)) for a in arrays if np.size(a) and np.any(np.isfinite(a))]
    return max((v for v in values if math.isfinite(v)), default=0.0)
