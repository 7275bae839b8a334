"""What is emptied in a real browser: said beside it, and what was before holds in page and file."""

from playwright.sync_api import expect

from tests.browser.conftest import until
from tests.browser.test_editing import stored

WRONG = ".mantine-InputWrapper-error"
HELD = "localStorage.getItem('rimforce/view').includes('\"worth\":{}')"


def kv_of(page):
    return stored(page)["motor"]["hub"]


def test_kv_emptied_typed_and_taken_back(demo, open_page):
    page = open_page(demo)
    expect(page.locator(".badge")).to_contain_text("Demonstration")
    page.get_by_label("Edit pack cells-13").first.click()
    page.get_by_label("Part to edit").first.fill("hub")
    page.get_by_role("option", name="hub").click()
    kv = page.locator(".form").get_by_label("Kv", exact=False).first
    expect(kv).to_have_value("8.4")
    back = page.get_by_role("button", name="Take 8.4 rpm/V from demo-hub-direct")
    expect(back).to_be_hidden()
    for typed in ("", "abc"):
        kv.fill("")
        kv.press_sequentially(typed)
        kv.blur()
        expect(page.locator(f".form {WRONG}")).to_have_text(
            "must be a number; 8.4 rpm/V stays in force"
        )
    expect(page.locator(".badge")).to_contain_text("Demonstration")
    kv.fill("9.3")
    kv.blur()
    expect(page.locator(f".form {WRONG}")).to_have_count(0)
    until(page, "JSON.stringify(localStorage).includes('9.3')")
    assert "kv_rpm_per_v" not in kv_of(page)["sources"]
    assert kv_of(page)["tolerance"]["kv_rpm_per_v"] == 0.03
    expect(page.locator(".badge")).to_contain_text("Some values of motor")
    expect(page.get_by_title("typed, source not given; ± 3 %, usual for its kind")).to_be_visible()
    kv.fill("")
    kv.blur()
    expect(page.locator(f".form {WRONG}")).to_have_text(
        "must be a number; 9.3 rpm/V stays in force"
    )
    assert kv_of(page)["kv_rpm_per_v"] == 9.3
    back.click()
    expect(kv).to_have_value("8.4")
    until(page, "JSON.stringify(localStorage).includes('a slow winding')")
    expect(back).to_be_hidden()


def test_an_emptied_limit_is_none_and_says_so(demo, open_page):
    page = open_page(demo)
    page.get_by_label("Edit tune town").first.click()
    cap = page.locator(".form").get_by_label("Power cap")
    cap.fill("")
    cap.blur()
    expect(cap).to_have_attribute("placeholder", "none: no cap")
    until(page, "JSON.stringify(localStorage).includes('rimforce/job')")
    assert "power_cap_w" not in stored(page)["tune"]["town"]
    expect(page.locator(f".form {WRONG}")).to_have_count(0)


def test_an_option_of_a_study_keeps_what_held(demo, open_page):
    page = open_page(demo, "weakening")
    worth = page.get_by_label("An ampere should buy, km/h")
    wrong = page.locator(f"main {WRONG}")
    worth.fill("0.2")
    until(page, HELD.format("0.2"))
    for typed in ("", "400"):
        worth.fill(typed)
        expect(wrong).to_contain_text("0.2 stays in force")
        assert page.evaluate(HELD.format("0.2"))
    worth.fill("0.3")
    expect(wrong).to_have_count(0)
    until(page, HELD.format("0.3"))


def test_what_is_no_split_is_named_and_the_others_hold(demo, open_page):
    page = open_page(demo, "runs")
    wrong = page.locator(f"main {WRONG}")
    for label, typed in (("Speeds timed to", "many"), ("Distances timed", "9999 ft")):
        page.get_by_role("textbox", name=label).fill(typed)
        page.keyboard.press("Enter")
        expect(wrong.last).to_contain_text(f"“{typed}” is left out: write")
    watts = page.get_by_label("That power, W")
    watts.fill("800")
    until(page, "localStorage.getItem('rimforce/view').includes('\"watts\":[800]')")
    watts.fill("-5")
    expect(wrong.last).to_have_text("must be above 0, to 1,000,000; 800 W stays in force")
    watts.blur()
    expect(watts).to_have_value("-5")
    assert page.evaluate("localStorage.getItem('rimforce/view').includes('\"watts\":[800]')")


def test_what_is_no_pin_no_reading_and_no_start_is_said(demo, open_page):
    page = open_page(demo)
    wrong = page.locator(f"main {WRONG}")
    page.get_by_role("textbox", name="Slopes drawn").fill("steep")
    page.keyboard.press("Enter")
    expect(wrong).to_contain_text("“steep” is left out: write a slope in %")
    page.goto(f"{demo}agrees")
    volts = page.get_by_label("Pack at rest, after some minutes, V")
    volts.fill("42")
    expect(page.locator("h1")).to_contain_text("agrees", timeout=60_000)
    volts.fill("-3")
    expect(wrong).to_have_text("must be above 0, to 10,000; 42 V stays in force")
    expect(page.locator("h1")).to_contain_text("agrees")
    page.goto(f"{demo}log")
    page.get_by_role("button", name="Take the demonstration’s").click()
    page.get_by_role("button", name="These columns are right").click()
    begins = page.get_by_label("Begins at, s")
    begins.fill("3.5")
    expect(page.locator("h1")).to_contain_text("660 ft took 25.8", timeout=60_000)
    for typed, said in (("", "must be a number"), ("999999", "the log ends at ")):
        begins.fill(typed)
        expect(wrong).to_contain_text(said)
        expect(wrong).to_contain_text("; 3.5 s stays in force")
        expect(page.locator("h1")).to_contain_text("660 ft took 25.8")


def test_a_fold_back_is_typed_and_taken_out_field_by_field(demo, open_page):
    page = open_page(demo)
    page.get_by_label("Edit pack cells-13").first.click()
    page.get_by_label("Part to edit").first.fill("sine")
    page.get_by_role("option", name="sine").click()
    expect(page.locator(".form").get_by_label("Foldback start")).to_have_count(1)
    page.get_by_role("button", name="More, where it is known").click()
    start, end = (page.locator(".form").get_by_label(f"Foldback {x}") for x in ("start", "end"))
    wrong = page.locator(f".form {WRONG}")
    start.fill("44")
    start.blur()
    expect(wrong).to_contain_text("foldback end is missing")
    end.fill("40")
    end.blur()
    expect(wrong).to_have_count(0)
    until(page, "JSON.stringify(localStorage).includes('foldback_end_v')")
    assert stored(page)["controller"]["sine"]["foldback_end_v"] == 40
    assert stored(page)["controller"]["sine"]["foldback_start_v"] == 44
    start.fill("")
    start.blur()
    expect(wrong).to_contain_text("44 V stays in force")
    end.fill("")
    end.blur()
    expect(wrong).to_have_count(0)
    until(page, "!JSON.stringify(localStorage).includes('foldback_end_v')")
    assert "foldback_start_v" not in stored(page)["controller"]["sine"]
