"""What is typed is drawn at once, and drawn as Plotly draws it when there is time."""

from playwright.sync_api import expect

from curves import load_job
from dashboard.state.session import Session
from tests.browser.conftest import until

PLOT = "document.querySelector('.js-plotly-plot')"
PLACES = f"""[...{PLOT}.querySelectorAll(
    '.scatterlayer path.js-line, .scatterlayer path.point, .scatterlayer text, .barlayer path')]
  .map((mark) => {{
    const box = mark.getBoundingClientRect(), top = {PLOT}.getBoundingClientRect().top;
    return [box.left, box.top - top, box.right, box.bottom - top, mark.textContent];
  }})"""
LINES = f"{PLOT}.data.filter((t) => t.mode === 'lines').map((t) => String(t.y.bdata)).join()"
PRESSES, LOOKS, LOOK_MS = 8, 40, 25
SETTLED_MS = 2000
NEAR_PX = 1.0
"""Plotly leaves out points of a line that lie within a fraction of a pixel of it."""


def near(some, others):
    """Every mark has its like where it stands, and the other way round."""
    assert len(some) == len(others)
    for ones, twos in ((some, others), (others, some)):
        for *box, text in ones:
            apart = [max(abs(a - b) for a, b in zip(box, other[:4], strict=True))
                     for other in twos if other[4] == text]  # fmt: skip
            assert min(apart) < NEAR_PX, (box, text)


def test_what_moves_at_once_stands_where_plotly_draws_it(serve, open_page):
    session = Session.of(load_job())
    while len(session.slots) < 8:
        session = session.duplicate(session.slots[-1])
    page = open_page(serve(session.job))
    page.mouse.move(5, 5)
    page.get_by_label("Edit tune town").first.click()
    page.get_by_label("Field weakening").first.focus()
    # The plots take the width that the form leaves them.
    page.wait_for_timeout(SETTLED_MS)
    seen = []
    for _ in range(PRESSES):
        with page.expect_response("**/typed"):
            page.keyboard.press("ArrowUp")
        for _ in range(LOOKS):
            at_once, is_moved = page.evaluate(f"[{PLACES}, {PLOT}.isMoved]")
            if is_moved:
                break
            page.wait_for_timeout(LOOK_MS)
        until(page, f"!{PLOT}.isMoved")
        if is_moved:
            seen.append(at_once)
            near(at_once, page.evaluate(PLACES))
    # A limit that sets in where none was is left to Plotly, and so is an axis that must go on.
    assert seen


def with_cap_open(open_page, address):
    """The first page, and the input of a power cap in its form."""
    page = open_page(address)
    page.get_by_label("Edit tune town").first.click()
    return page, page.get_by_label("Power cap W")


def test_plots_follow_what_is_typed_undone_and_done_again(demo, open_page):
    page, field = with_cap_open(open_page, demo)
    before = page.evaluate(LINES)
    with page.expect_response("**/typed"):
        field.fill("900")
    until(page, f"{LINES} !== '{before}'")
    after = page.evaluate(LINES)
    page.get_by_label("Undo the last change").click()
    until(page, f"{LINES} === '{before}'")
    page.get_by_label("Redo").click()
    until(page, f"{LINES} === '{after}'")


def test_an_axis_grown_too_long_is_fitted_at_rest(demo, open_page):
    page = open_page(demo)
    end = f"{PLOT}.layout.xaxis.range[1]"
    page.get_by_role("button", name="Parts").click()
    page.get_by_role("textbox", name="Part to edit").click()
    page.get_by_role("option", name="hub").click()
    field = page.get_by_label("Kv rpm/V", exact=True)
    long = page.evaluate(end)
    field.fill(str(float(field.input_value()) / 2))
    until(page, f"{end} < {0.75 * long}")


def test_an_older_answer_that_comes_late_does_not_stay(demo, open_page):
    page, field = with_cap_open(open_page, demo)
    before = page.evaluate(LINES)
    held = []

    def hold(route):
        is_drawing = (
            "panels" in route.request.post_data and "pin-handles" in route.request.post_data
        )
        if is_drawing and not held:
            held.append(route)
        else:
            route.continue_()

    def release():
        while held and held[-1]:
            held[-1].continue_()
            held.append(None)

    page.route("**/_dash-update-component*", hold)
    page.evaluate("""window.dash_clientside.set_props('view', { data: {
        ...JSON.parse(localStorage.getItem('rimforce/view')), pinned_kmh: [31] } })""")
    # Between the answer to what is typed and the page's own turn 50 ms later, mostly.
    page.on("response", lambda reply: release() if reply.url.endswith("/typed") else None)
    field.fill("900")
    expect(page.locator("h1")).to_contain_text("900")
    page.wait_for_timeout(1500)
    until(page, f"{LINES} !== '{before}'")
