"""Files that a browser sends, and logs kept at hand while they are looked at."""

from __future__ import annotations

import base64
import hashlib
import threading
from collections import OrderedDict

from curves.errors import JobError, Problem

MOST_BYTES = 40_000_000
"""A larger log is for the command line, which reads it in bounded memory."""
KEPT_BYTES = 4 * MOST_BYTES

_kept: OrderedDict[str, bytes] = OrderedDict()
_lock = threading.Lock()


def decoded(contents: str | None, name: str) -> bytes:
    """A file as the browser sends it.

    Args:
        contents: A data address.
        name: Of the file, for messages.

    Raises:
        JobError: if it did not arrive whole.
    """
    try:
        return base64.b64decode((contents or "").partition(",")[2], validate=True)
    except ValueError:
        raise JobError([Problem(name, "", "did not arrive whole: choose it again")]) from None


def keep(data: bytes, name: str) -> str:
    """Keep a log at hand; those longest unused go when there are too many.

    Args:
        data: The file.
        name: Its name, for messages.

    Returns:
        A word to ask for it by; the same file has the same.

    Raises:
        JobError: if it is too large.
    """
    if len(data) > MOST_BYTES:
        size = f"{len(data) / 1e6:.0f} MB"
        said = f"{size} are too many for the page (40 MB); `rimforce fit {name}` reads any length"
        raise JobError([Problem(name, "", said)])
    token = hashlib.sha256(data).hexdigest()[:24]
    with _lock:
        _kept[token] = data
        _kept.move_to_end(token)
        while sum(map(len, _kept.values())) > KEPT_BYTES:
            _kept.popitem(last=False)
    return token


def at_hand(token: str) -> bytes | None:
    """A log that was kept, or None where it is gone."""
    with _lock:
        if token not in _kept:
            return None
        _kept.move_to_end(token)
        return _kept[token]
