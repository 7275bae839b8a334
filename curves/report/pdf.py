"""The report as a PDF, by a library that only those who want one install."""

from __future__ import annotations

import contextlib
import logging
import os
import re
from collections.abc import Iterator

from curves.errors import JobError, Problem

MISSING = (
    "PDF needs one more package: pip install 'rimforce[pdf]'. Or write the .html file, open it in "
    "a browser and print it there"
)
NO_LIBRARY = (
    "PDF needs the Pango libraries of the system (Debian: apt-get install libpango-1.0-0 "
    "libpangoft2-1.0-0). Or write the .html file, open it in a browser and print it there"
)
CLOCK = "SOURCE_DATE_EPOCH"
ONE_COLUMN = "<style>.columns { columns: auto !important }</style>"
"""It fails at tables that run over columns and pages at once."""
PHONE_DRAWING = re.compile(r'<svg [^>]*class="narrow".*?</svg>', re.DOTALL)


def pdf(page: str, *, where: str = "PDF") -> bytes:
    """A report as a PDF of A4 pages; nothing is fetched.

    Args:
        page: the report's HTML.
        where: what the user asked with, for messages.

    Raises:
        JobError: if the library is not installed; the message says how to get it.
    """
    try:
        import weasyprint
        from weasyprint.urls import URLFetcher
    except ModuleNotFoundError:
        raise JobError([Problem(where, "", MISSING)]) from None
    except OSError:
        raise JobError([Problem(where, "", NO_LIBRARY)]) from None
    # It warns of every style that only screens know.
    logging.getLogger("weasyprint").setLevel(logging.ERROR)
    text = PHONE_DRAWING.sub("", page).replace("</head>", f"{ONE_COLUMN}</head>", 1)
    document = weasyprint.HTML(string=text, url_fetcher=URLFetcher(allowed_protocols={"data"}))
    with _no_clock():
        written: bytes = document.write_pdf()
    return written


@contextlib.contextmanager
def _no_clock() -> Iterator[None]:
    """The type in the file is stamped with the time unless this says otherwise."""
    kept = os.environ.get(CLOCK)
    os.environ.setdefault(CLOCK, "0")
    try:
        yield
    finally:
        if kept is None:
            os.environ.pop(CLOCK, None)
