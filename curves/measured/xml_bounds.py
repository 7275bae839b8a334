"""What no track needs and a reader of XML dies of; touches no file."""

from __future__ import annotations

import re
from typing import Final
from xml.parsers import expat

from curves.parts.reading import refuse

MOST_DEEP: Final = 50
"""GPX has five levels and what its extensions add; some 100,000 end the whole program."""
MOST_TAGS: Final = 2_000_000
"""Opening and closing ones, some three days at a point a second; each takes memory of its own."""
MOST_NAMESPACES: Final = 100
ENDLESS = re.compile(rb"xmlns(?![^=]{0,200}=)")
DECLARED = re.compile(rb'xmlns[^=]{0,200}="([^"]*)"')


def refuse_costly_xml(data: bytes, name: str) -> None:
    """Refuse XML that would take a reader without bounds too much time or memory.

    What is wrong in any other way is left to that reader.

    Args:
        data: content of the file.
        name: what to call it in messages.

    Raises:
        JobError: if it declares a document type or too many namespaces, or holds too much.
    """
    if data.count(b"<") > MOST_TAGS:
        refuse(name, f"holds more than {MOST_TAGS:,} tags: cut the track")
    # The reader looks for an equals sign behind each, and asks all it knows for each name.
    if ENDLESS.search(data) or len(set(DECLARED.findall(data))) > MOST_NAMESPACES:
        refuse(name, "declares namespaces as no GPX does")
    depth = 0

    def enter(_tag: str, _attributes: dict[str, str]) -> None:
        nonlocal depth
        depth += 1
        if depth > MOST_DEEP:
            refuse(name, f"is nested more than {MOST_DEEP} levels deep, which no GPX is")

    def leave(_tag: str) -> None:
        nonlocal depth
        depth -= 1

    def declare(*_said: object) -> None:
        refuse(name, "holds a document type of its own, which no GPX needs")

    parser = expat.ParserCreate()
    parser.StartElementHandler, parser.EndElementHandler = enter, leave
    parser.StartDoctypeDeclHandler = declare
    try:
        parser.Parse(data, True)
    except expat.ExpatError:
        return
