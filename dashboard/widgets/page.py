"""What a page is."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from typing import Any

from dashboard.answers.setups import Comparison
from dashboard.state.session import View
from dashboard.widgets.setups_table import Column


@dataclass(frozen=True)
class Page:
    """A question and where its answer comes from.

    Attributes:
        path: Address, such as ``/`` or ``/runs``.
        title: The question, as it stands in the bar.
        answer: What leads the page: one sentence with its numbers, or more below it.
        body: Plots and tables under the table of setups.
        columns: Result columns of the table of setups on this page.
        register: Wires the page's own callbacks to the app, once.
    """

    path: str
    title: str
    answer: Callable[[Comparison, View], Any]
    body: Callable[[Comparison, View], Any]
    columns: Callable[[Comparison, View], Sequence[Column]]
    register: Callable[[Any], None]
