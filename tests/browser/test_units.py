"""Units chosen once are read and typed everywhere, and are there again after a reload."""

from playwright.sync_api import expect

from curves import load_job


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

    # The form was not made anew: what is typed is not lost, and nothing is by going to and fro.
    choose(page, "kg")
    expect(page.get_by_label("Rider kg")).to_have_value("78")
    choose(page, "lb")
    expect(rider).to_have_value("171.961")
    rider.fill("200")
    choose(page, "kg")
    # By definition: a pound is 0.45359237 kg.
    expect(page.get_by_label("Rider kg")).to_have_value("90.718474")
    choose(page, "lb")
    expect(rider).to_have_value("200")
    page.get_by_role("button", name="Undo the last change").click()
    expect(page.get_by_label("Rider lb")).to_have_value("171.961")
    page.reload()
    expect(page.locator("h1")).to_contain_text("mph")
    expect(page.get_by_text("20 lb less")).to_be_visible()


def test_bounds_and_lists_of_an_open_form_turn_too(open_page, serve):
    job = load_job().replace("controller.sine.winding_foldback_c", [100.3, 120.0])
    page = open_page(serve(job))
    form = page.get_by_role("complementary")
    page.get_by_role("button", name="Parts").click()
    for part, name, value, other, bounds in [
        ("Road and air", "Air", "18", "64.4", ("-80 to 80", "-112 to 176")),
        ("sine", "Winding foldback", "100.3, 120", "212.54, 248", ("", "")),
    ]:
        page.get_by_role("textbox", name="Part to edit").click()
        page.get_by_role("option", name=part).click()
        if part == "sine":
            form.get_by_text("More, where it is known").click()
        for unit, now, allowed in [("°C", value, bounds[0]), ("°F", other, bounds[1])] * 2:
            choose(page, unit)
            expect(form.get_by_label(f"{name} {unit}")).to_have_value(now)
            expect(form).to_contain_text(allowed)
        choose(page, "°C")
    assert page.evaluate("Object.keys(localStorage).filter((key) => /job-/.test(key))") == []


def test_what_no_plot_shows_draws_none_anew(demo, open_page):
    """As a change of °C comes back from the server: all as it is, with the figure's height."""
    page = open_page(demo)
    drawn = """(more) => {
        const plot = document.querySelector(".js-plotly-plot");
        const { react } = window.Plotly;
        let drawn = 0;
        window.Plotly.react = () => { drawn += 1; };
        const layout = { height: plot.offsetHeight + more, xaxis: plot.layout.xaxis };
        window.rimforceMove(plot, { traces: plot.data.map(() => ({})), layout });
        window.Plotly.react = react;
        return drawn;
    }"""
    assert page.evaluate(drawn, 0) == 0
    assert page.evaluate(drawn, 60) == 1
