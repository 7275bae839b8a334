"""Callbacks that a script of the page answers, without asking the server."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

from dash import ClientsideFunction, Dash, Input, Output, State


def in_browser(
    app: Dash,
    namespace: str,
    name: str,
    *wires: Input | Output | State,
    first: bool = False,
) -> None:
    """Have a function of a script set the outputs when an input changes.

    Args:
        app: The app.
        namespace: Of the script.
        name: Of the function in it.
        *wires: What it sets, what it follows, and what else it is told, as of ``app.callback``.
        first: Whether it is also called when the page comes up.
    """
    # Dash leaves this one of its methods without types.
    wire: Callable[..., Any] = app.clientside_callback
    wire(ClientsideFunction(namespace, name), *wires, prevent_initial_call=not first)
