"""Units chosen once are read and typed everywhere, and are there again after a reload."""

from playwright.sync_api import expect


def choose(page, *names: str) -> None:
    page.get_by_text("Units", exact=True).click()
    for name in names:
        page.locator(".units").get_by_text(name, exact=True).click()
    page.get_by_text("rimforce", exact=True).click()


def test_units_reach_table_plot_field_and_sentence(open_page, demo):
    page = open_page(demo)
    page.get_by_role("button", name="Parts").click()
    page.get_by_role("textbox", name="Part to edit").click()
    page.get_by_role("option", name="cargo").click()
    rider = page.get_by_label("Rider kg")
    expect(rider).to_have_value("78")
    choose(page, "mph", "lb")
    expect(page.locator("h1")).to_contain_text("mph")
    rider = page.get_by_label("Rider lb")
    expect(rider).to_have_value("171.961")
    expect(page.locator(".setups thead")).to_contain_text("Top speed full, mph")
    expect(page.locator(".js-plotly-plot").first).to_contain_text("mph")
    expect(page.get_by_text("20 lb less")).to_be_visible()

    rider.fill("200")
    page.get_by_role("button", name="Undo the last change").click()
    expect(page.get_by_label("Rider lb")).to_have_value("171.961")
    page.reload()
    expect(page.locator("h1")).to_contain_text("mph")
    expect(page.get_by_text("20 lb less")).to_be_visible()
