"""The pages of the studies: a number first, and the same numbers as on the first page."""

import plotly.graph_objects as go
import pytest

from curves import load_job
from curves.parts.job import build_job
from dashboard.components import choice
from dashboard.figures.spec import unpacked
from dashboard.pages import gearing
from dashboard.results import compare
from dashboard.state import Session, View
from dashboard.waiting import StoppedError, Task

VIEW = View()


@pytest.fixture(scope="module")
def compared():
    """Two setups are enough, and quick."""
    tree = load_job().tree()
    tree["setup"] = [tree["setup"][0], tree["setup"][5]]
    return compare(Session.of(build_job(tree, name="job")))


def text_of(component):
    """The words of some components, spaces that do not break as plain ones."""
    if isinstance(component, list | tuple):
        return " ".join(map(text_of, component))
    if isinstance(component, str | int | float):
        return str(component).replace("\N{NO-BREAK SPACE}", " ")
    return text_of(getattr(component, "children", None) or "")


def worked(page, compared, view=VIEW):
    """Both answers of a page: before its study is worked out, and after."""
    before = text_of(page.PAGE.answer(compared, view))
    page._work(compared, view, Task())
    assert page._done(compared, view)
    return before, text_of(page.PAGE.answer(compared, view))


@pytest.fixture(scope="module")
def first(compared):
    """The setup looked at, as the first page has it."""
    return choice.chosen(compared, VIEW, "any").curve


def test_gearing_confirms_the_first_page(compared, first):
    before, after = worked(gearing, compared)
    assert before.endswith("…")
    assert "the fastest reduction is 0.82" in after
    assert f"now 1 gives {first.top:.1f}" in after
    figure = go.Figure(gearing._draw(compared, VIEW))
    x, y = (unpacked(figure.to_dict()["data"][0][axis]) for axis in "xy")
    assert y[list(x).index(1.0)] == pytest.approx(first.top, rel=1e-6)
    assert [a.text for a in figure.layout.annotations][-2:] == ["now", "fastest"]
    head, rows, _ = gearing._numbers(compared, VIEW)
    assert all(len(row) == len(head) for row in rows)


def test_work_that_is_not_wanted_any_more_ends():
    task = Task()
    task.told(1, 2)
    task.stop()
    with pytest.raises(StoppedError):
        task.told(2, 2)
