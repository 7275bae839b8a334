"""The report in a real browser: offline, on a phone, in the dark, by everyone, and on paper."""

import re

import pytest
from axe_playwright_python.sync_playwright import Axe

from curves import load_job
from curves.report import PackStudy, WeakeningStudy, Wish, report

EVIL = "<img src=x onerror=alert(1)>"
WISH = Wish(
    title=f"Which pack? {EVIL}",
    notes=f"{EVIL}\n\n</script><script>alert(2)</script>",
    workshop=EVIL,
    date="2026-03-02",
    packs=(PackStudy("13 cells", (10, 12, 14, 16)),),
    weakenings=(WeakeningStudy("13 cells", (0.0, 10.0, 20.0)),),
)
PAPER = {"A4": (595, 842), "Letter": (612, 792)}
"""Width and height in points (ISO 216; ANSI Y14.1, from memory)."""


@pytest.fixture(scope="module")
def file(tmp_path_factory):
    job = load_job().replace("setup.0.name", EVIL).replace("compare_to", EVIL)
    path = tmp_path_factory.mktemp("report") / "report.html"
    path.write_text(report(job, WISH), encoding="utf-8")
    return path


@pytest.fixture
def opened(browser, file):
    """Open it in a window; whatever it fetches, runs or complains of is a fault."""
    contexts, faults = [], []

    def start(width=1280, scheme="light"):
        context = browser.new_context(
            viewport={"width": width, "height": 900}, color_scheme=scheme, offline=True
        )
        page = context.new_page()
        page.on("console", lambda m: faults.append(m.text))
        page.on("pageerror", lambda error: faults.append(str(error)))
        page.on("dialog", lambda d: (faults.append(d.message), d.dismiss()))
        page.on("request", lambda r: None if _own(r.url, file) else faults.append(r.url))
        contexts.append(context)
        page.goto(file.as_uri())
        page.evaluate("document.fonts.ready.then(() => true)")
        return page

    yield start
    for context in contexts:
        context.close()
    assert faults == []


def _own(address, file):
    return address == file.as_uri() or address.startswith("data:")


@pytest.mark.parametrize("scheme", ["light", "dark"])
@pytest.mark.parametrize("width", [1280, 390])
def test_everyone_can_read_it_on_any_screen(opened, width, scheme):
    page = opened(width, scheme)
    assert page.evaluate("document.documentElement.scrollWidth") <= width
    drawn = "wide" if width > 640 else "narrow"
    assert page.locator(f"svg.{drawn}").first.is_visible()
    assert not page.locator(f"svg.{'narrow' if drawn == 'wide' else 'wide'}").first.is_visible()
    paper, ink = page.evaluate(
        "[getComputedStyle(document.body).backgroundColor, getComputedStyle(document.body).color]"
    )
    assert (brightness(paper) > brightness(ink)) == (scheme == "light")
    for summary in page.locator("summary").all():
        summary.click()
    found = Axe().run(page)
    assert [v["id"] for v in found.response["violations"]] == []


def test_its_own_type_is_used(opened):
    assert opened().evaluate("document.fonts.check('16px \"Source Sans 3\"')")


def test_a_name_that_looks_like_markup_is_text(opened):
    page = opened()
    assert page.locator("img").count() == 0
    assert page.locator(f"bdi:text-is('{EVIL}')").count() > 10
    assert page.evaluate("document.scripts.length") == 1
    assert page.evaluate("JSON.parse(document.scripts[0].textContent).setup[0].name") == EVIL


@pytest.mark.parametrize("paper", PAPER)
def test_it_prints_light_and_whole_on_paper(opened, paper):
    page = opened(scheme="dark")
    page.emulate_media(media="print", color_scheme="dark")
    assert brightness(page.evaluate("getComputedStyle(document.body).backgroundColor")) == 255
    written = page.pdf(format=paper)
    assert written.startswith(b"%PDF-")
    boxes = re.findall(rb"/MediaBox\s*\[\s*0 0 ([\d.]+) ([\d.]+)\s*\]", written)
    assert 8 <= len(boxes) <= 24
    for box in boxes:
        # Chromium rounds paper up to whole px, of 0.75 points.
        assert [float(x) for x in box] == pytest.approx(PAPER[paper], abs=1.5)
    # The page for the controller begins a sheet; the tables behind figures stay off paper.
    assert page.evaluate("getComputedStyle(document.querySelector('.sheet')).breakBefore") == "page"
    assert not page.locator(".numbers").first.is_visible()
    # Nothing is wider than the sheet between its margins of 15 mm.
    width = PAPER[paper][0] / 72 * 96 - 2 * 15 / 25.4 * 96
    page.set_viewport_size({"width": int(width), "height": 900})
    assert page.evaluate("document.documentElement.scrollWidth") <= int(width)


def brightness(colour):
    """Mean of red, green and blue of a computed colour."""
    return sum(int(x) for x in re.findall(r"\d+", colour)[:3]) / 3
