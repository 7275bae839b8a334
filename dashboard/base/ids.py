"""Names of the things in the page that callbacks speak of; patterns are built here too."""

from __future__ import annotations

from typing import Any

URL = "url"
SERVED = "served"
"""The job the server was started with: never changes while it runs."""
SESSION = "session"
"""The job as edited here, see ``state.Session``."""
VIEW = "view"
"""How it is looked at, see ``state.View``."""
SETTLED = "settled"
"""Counts up when job and view have rested for a moment: tables and sentences follow it."""
DRAWN = "drawn"
"""What the page shows at the moment: decides between patching and building anew."""
KEPT = "kept"
"""Set where the browser has kept what was typed and chosen on pages: the page shows it."""
EDITING = "editing"
"""The part open in the form, or None."""
WIDTH = "width"
"""Class of the window's width: ``narrow`` or ``wide``."""

PAGE = "page"
"""Path of the page that is open."""
MESSAGE = "message"
PAGE_ANSWER = "page-answer"
PAGE_BODY = "page-body"
SETUPS = "setups"
"""The table of setups, painted by the browser."""
ACTED = "acted"
"""The button of a setup that was pressed last: its slot and what it does."""
LISTED = "listed"
"""Where a job of too many setups says which of them the page has."""
LISTED_PICK = "listed-pick"
CELLS = "cells"
"""Results in the table of setups, painted by the browser."""
ADD_SETUP = "add-setup"
FORM = "part-form"
FORM_UNITS = "part-form-units"
"""What the browser turns the form's inputs into other units by."""
FORM_CLOSE = "part-form-close"
FORM_PICK = "part-form-pick"
PARTS = "parts"
UNDO = "undo"
REDO = "redo"
SAVE = "save"
DOWNLOAD = "download"
OPEN = "open"
RESET = "reset"
INTAKE = "intake-window"
INTAKE_BODY = "intake-body"
INTAKE_OPEN = "intake-open"
INTAKE_MAKE = "intake-make"
INTAKE_SAID = "intake-said"
INTAKE_BUYS = "intake-buys"
TERMS = "terms"
SHARE = "share"
SHARE_CSV = "share-csv"
SHARE_JSON = "share-json"
SHARE_PAGE_CSV = "share-page-csv"
SHARE_PAGE_JSON = "share-page-json"
SHARE_PAGE = "share-page"
"""What is to be saved of the page, and the tables that the browser alone has."""
SHARE_SAID = "share-said"
SHARE_FIGURES = "share-figures"
LINK = "link"
LINK_COPY = "link-copy"
LINK_SAID = "link-said"
LINKED = "linked"
"""What a link brought: a session, or what is wrong with it."""
THEME = "theme"
TITLE = "job-title"
BADGE = "job-badge"


def row(slot: int, field: str) -> dict[str, Any]:
    """An input in a row of the setups table."""
    return {"type": "row", "slot": slot, "field": field}


def field(part: str, name: str, key: str) -> dict[str, Any]:
    """An input of the part form; a key below a table is dotted, as in ``hill.speed_kmh``."""
    return {"type": "field", "part": part, "name": name, "key": key.replace(".", "/")}


def part_name(part: str, name: str) -> dict[str, Any]:
    """The input of a part's own name."""
    return {"type": "part-name", "part": part, "name": name}


def form_act(do: str) -> dict[str, Any]:
    """A button of the part form."""
    return {"type": "form-act", "do": do}


def figure(key: str) -> dict[str, Any]:
    """The plot of a figure card."""
    return {"type": "figure", "key": key}


def sentence(key: str) -> dict[str, Any]:
    """The sentence of a figure card."""
    return {"type": "sentence", "key": key}


def numbers(key: str) -> dict[str, Any]:
    """The switch that opens the table of a figure card."""
    return {"type": "numbers", "key": key}


def numbers_body(key: str) -> dict[str, Any]:
    """The place of the table of a figure card."""
    return {"type": "numbers-body", "key": key}


def csv(key: str) -> dict[str, Any]:
    """The button that saves a figure card's numbers."""
    return {"type": "csv", "key": key}


def intake(field: str) -> dict[str, Any]:
    """A field of the short form."""
    return {"type": "intake", "field": field}


def unit(name: str, usual: str) -> dict[str, Any]:
    """The switch between a unit and the usual one."""
    return {"type": "unit", "name": name, "usual": usual}


PINS = "pins"


def pin(kind: str, unit: str) -> dict[str, Any]:
    """The list of pinned speeds or of slopes; named by unit, for its numbers are in it."""
    return {"type": "pin", "kind": kind, "unit": unit}


HANDLES = "pin-handles"


def handle(place: int, kmh: float) -> dict[str, Any]:
    """What a pinned speed is dragged by, or moved by keys; one of its steps is so many km/h."""
    return {"type": "handle", "place": place, "kmh": kmh}


def paint(key: str) -> dict[str, Any]:
    """What the browser paints: name of the place to tree, see ``components.paint``."""
    return {"type": "paint", "key": key}


def quantity(key: str) -> dict[str, Any]:
    """The choice of quantity in a table of numbers."""
    return {"type": "quantity", "key": key}
