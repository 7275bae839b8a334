"""What is this? A word opens its meaning: a head, a label, a term in a sentence."""

from __future__ import annotations

import re
from typing import Any

import dash_mantine_components as dmc
from dash import html
from dash.development.base_component import Component

from dashboard.base import ids
from dashboard.widgets.attributes import attributes
from dashboard.widgets.meanings import TERMS, Term
from dashboard.widgets.paint import painted, place
from dashboard.widgets.term_words import FIELDS, SAME, TITLES, WORDS

LIST = "terms"
"""Where they are painted."""


def terms() -> Any:
    """The window with all terms."""
    return dmc.Modal(
        html.Dl(className="terms", **place(LIST)),
        id=ids.TERMS,
        title="What is this?",
        size="lg",
        keepMounted=True,
        closeButtonProps={"aria-label": "Close"},
    )


def told() -> dict[str, Any]:
    """What the window says, for the browser to paint."""
    return {LIST: painted([_told(key, term) for key, term in TERMS.items()])}


def what(text: str, key: str) -> Any:
    """A word that opens its meaning, with mouse or key; plain where it has none.

    Args:
        text: The word as it stands on the page.
        key: As in ``TERMS`` or ``SAME``; what follows a hyphen may be left off.
    """
    known = next((k for k in (key, key.partition("-")[0]) if k in TERMS or k in SAME), key)
    known = SAME.get(known, known)
    if known not in TERMS:
        return text
    told = f"What is this: {TERMS[known].name}"
    return html.Button(
        text, className="what", type="button", title=told, **attributes(data_term=known)
    )


def label(text: str, field: str) -> Any:
    """The label of a field, as a word that opens its meaning; plain where it has none.

    A label may hold no button, so this is a text that acts like one.

    Args:
        text: The label.
        field: As in ``FIELDS``.
    """
    return _opening(text, FIELDS[field]) if field in FIELDS else text


def marked(part: Any, found: set[str] | None = None) -> Any:
    """Sentences in which every term opens its meaning where it stands first.

    Args:
        part: Text, a component of ``dash.html``, or a list of those; what is in it is replaced.
            What stands in quotes is a name that somebody gave, and no term.
        found: Terms that are marked already; what is marked is added.
    """
    found = set() if found is None else found
    if isinstance(part, str):
        return _split(part, found)
    if isinstance(part, list | tuple):
        made: list[Any] = []
        for child in part:
            one = marked(child, found)
            made += one if isinstance(one, list) else [one]
        return made
    if type(part) in _READ and getattr(part, "children", None) is not None:
        part.children = marked(part.children, found)
    return part


def with_leads(part: Any, found: set[str] | None = None) -> Any:
    """A page's body with the terms in the sentences below its headings marked.

    Args:
        part: A component, or a list of those; what is in it is replaced.
        found: As of ``marked``.
    """
    found = set() if found is None else found
    if isinstance(part, list | tuple):
        for child in part:
            with_leads(child, found)
    elif getattr(part, "className", None) == "lead":
        marked(part, found)
    elif isinstance(part, Component):
        with_leads(getattr(part, "children", None), found)
    return part


def term_of(title: str) -> str | None:
    """The term that explains a title or the head of a column; None where it is none."""
    known = [begin for begin in TITLES if title.startswith(begin)]
    return TITLES[max(known, key=len)] if known else None


def question(key: str) -> Any:
    """A mark beside a word that does something else when pressed."""
    told = f"What is this: {TERMS[key].name}"
    return html.Button(
        className="asks", type="button", title=told, **attributes(data_term=key, aria_label=told)
    )


_READ = (html.H1, html.P, html.Ul, html.Li, html.Div, html.Span, html.Caption)
"""What sentences stand in; nothing that is pressed itself."""
_LONGEST = "|".join(map(re.escape, sorted(WORDS, key=len, reverse=True)))
_WORD = re.compile(rf"“[^”]*”|(?<![\w-])(?:{_LONGEST})(?![\w-])", re.IGNORECASE)
_KEYS = {word.lower(): key for word, key in WORDS.items()}


def _split(text: str, found: set[str]) -> Any:
    made: list[Any] = []
    end = 0
    for word in _WORD.finditer(text):
        key = _KEYS.get(word[0].lower())
        if key is None or key in found:
            continue
        found.add(key)
        made += [text[end : word.start()], _opening(word[0], key)]
        end = word.end()
    return [x for x in (*made, text[end:]) if x != ""] if made else text


def _opening(text: str, key: str) -> Any:
    """A text that acts like a button: a label may hold none, and a sentence breaks inside it."""
    told = f"What is this: {TERMS[key].name}"
    return html.Span(
        text, className="what", role="button", tabIndex=0, title=told, **attributes(data_term=key)
    )


def _told(key: str, term: Term) -> Any:
    lines: list[Any] = [html.P(term.meaning)]
    if term.formula:
        lines.append(html.P(term.formula, className="formula"))
    if term.source:
        lines.append(html.P(f"Source: {term.source}", className="soft"))
    titles = "|".join(title for title, known in TITLES.items() if known == key)
    return html.Div(
        [html.Dt(term.name), html.Dd(lines)],
        id=f"term-{key}",
        tabIndex=-1,
        **attributes(data_titles=titles),
    )
