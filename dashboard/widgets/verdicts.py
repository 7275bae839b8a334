"""Words that open: whether a setup fits, and what to take care of."""

from __future__ import annotations

from typing import Any

from dash import html

from curves.cautions import Caution
from dashboard.answers.setups import Care
from dashboard.base.words import unbroken
from dashboard.widgets.marks import soft

FITS = {"fits": "yes", "fits with changes": "with changes", "does not fit": "no"}
SIGN = {"danger": "danger", "warning": "warning", "notice": "notice", "reminder": "reminder"}


def fits(care: Care) -> Any:
    """The verdict; opened, every reason with its number."""
    fit = care.fit
    reasons = [html.Li(reason.text) for reason in fit.against]
    reasons += [html.Li(fit.plausible, className="soft")]
    return _opening(
        [html.Span(FITS[fit.verdict], className=f"verdict {FITS[fit.verdict].replace(' ', '-')}")],
        [html.Ul(reasons)],
        f"{fit.verdict}: reasons",
    )


def worst(care: Care) -> Any:
    """The most serious caution; opened, all of them."""
    serious = [c for c in care.cautions if c.severity != "reminder"]
    rest = [c for c in care.cautions if c.severity == "reminder"]
    lead = serious[0] if serious else None
    head: list[Any] = [
        html.Span(
            unbroken(lead.title) if lead else "nothing found", className="" if lead else "soft"
        )
    ]
    if lead:
        head.insert(0, html.Span(SIGN[lead.severity], className=f"severity {lead.severity}"))
    if len(serious) > 1:
        head.append(soft(f"and {len(serious) - 1} more"))
    told = [_told(c) for c in serious]
    told += [html.Li([html.B("Also: "), *(f"{c.text} " for c in rest)])] if rest else []
    return _opening(head, [html.Ul(told)], "Cautions in full")


def _told(caution: Caution) -> Any:
    source = f" ({caution.source})" if caution.source else ""
    return html.Li([html.B(f"{caution.title}: "), caution.text, soft(source)])


def _opening(head: list[Any], body: list[Any], told: str) -> Any:
    return html.Details([html.Summary(head, title=told), *body], className="opening")
