"""The short form makes a first job without being told anything, and says what is wrong."""

from playwright.sync_api import expect


def test_a_first_job_is_made_and_undone(open_page, demo):
    page = open_page(demo)
    headline = page.locator("h1").inner_text()
    page.get_by_text("Open, share", exact=True).click()
    page.get_by_role("button", name="Start a new job …").click()
    rider = page.get_by_label("Rider, kg")
    rider.fill("")
    page.get_by_role("textbox", name="Cells", exact=True).click()
    page.get_by_role("option", name="LFP").click()
    page.get_by_role("textbox", name="Steepest hill, %").fill("400")
    page.get_by_label("Budget for the pack").fill("200")
    expect(page.get_by_role("dialog")).to_contain_text("200 buy about 400 Wh")
    page.get_by_role("button", name="Make the first job").click()
    beside = page.get_by_role("dialog").locator(".mantine-InputWrapper-error")
    expect(beside).to_have_text("must be a number, 0 or more; 80 kg is usual")
    rider.fill("77")
    page.get_by_role("button", name="Make the first job").click()
    expect(page.get_by_role("alert")).to_contain_text("100")
    expect(page.get_by_role("dialog")).to_be_visible()
    page.get_by_role("textbox", name="Steepest hill, %").fill("6")
    page.get_by_role("button", name="Make the first job").click()
    expect(page.get_by_role("dialog")).to_be_hidden()
    expect(page.locator("#job-title")).to_contain_text("48 V LFP")
    # 48 V of LFP is 15 or 16 cells (common practice).
    for name in ("15 cells", "16 cells", "19 cells"):
        expect(page.get_by_label(f"Name of {name}")).to_be_visible()
    page.get_by_label("Undo the last change").click()
    expect(page.locator("h1")).to_have_text(headline)
