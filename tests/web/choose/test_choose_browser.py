import numpy as np
import pytest

from groovewright.tonearm.geometry import geometry_from_nulls

pytestmark = [pytest.mark.browser, pytest.mark.django_db(transaction=True)]


@pytest.fixture
def address(live_job):
    return f"/jobs/{live_job.number}/choose/"


@pytest.fixture
def choose(page, address):
    page.goto(address)
    page.locator("figure.plan-figure[data-error]").wait_for()
    page.locator("#curves").scroll_into_view_if_needed()
    page.locator("#curves .main-svg").first.wait_for()
    return page


def read_off(page):
    figure = page.locator("figure.plan-figure")
    return float(figure.get_attribute("data-radius")), float(figure.get_attribute("data-error"))


def stylus_middle(page):
    page.locator("[data-part=stylus]").scroll_into_view_if_needed()
    box = page.locator("[data-part=stylus] .tip").bounding_box()
    return box["x"] + box["width"] / 2, box["y"] + box["height"] / 2


def test_the_stylus_is_dragged_along_its_arc_and_the_errors_are_read_off(choose):
    before, _ = read_off(choose)
    x, y = stylus_middle(choose)
    choose.mouse.move(x, y)
    choose.mouse.down()
    readings = []
    for step in range(1, 9):
        choose.mouse.move(x + 10 * step, y + 2 * step)
        readings.append(read_off(choose))
    choose.mouse.up()
    radii, errors = np.array(readings).T
    assert radii[0] > before
    assert np.all(np.diff(radii) >= 0)
    # The minimax geometry of physics: nulls 65.998 and 120.891 mm for D = 222 mm, to the last printed digit.
    arm = geometry_from_nulls(pivot_to_spindle_mm=222, null_radii_mm=(65.998, 120.891))
    np.testing.assert_allclose(errors, arm.tracking_error_deg(radii), rtol=0, atol=5e-4)
    shown = choose.locator("[data-part=error]").inner_text().replace("−", "-")
    assert float(shown) == pytest.approx(errors[-1], abs=0.005 + 1e-9)


def test_a_drag_beyond_the_grooves_stops_at_the_outermost(choose):
    x, y = stylus_middle(choose)
    choose.mouse.move(x, y)
    choose.mouse.down()
    choose.mouse.move(x + 600, y)
    choose.mouse.up()
    assert read_off(choose)[0] == pytest.approx(146.05, abs=1e-9)


def test_the_stylus_moves_by_keyboard(choose):
    stylus = choose.locator("[data-part=stylus]")
    stylus.focus()
    before, _ = read_off(choose)
    choose.keyboard.press("ArrowRight")
    assert read_off(choose)[0] == pytest.approx(before + 1, abs=1e-9)
    choose.keyboard.press("Shift+ArrowLeft")
    assert read_off(choose)[0] == pytest.approx(before + 0.9, abs=1e-9)
    choose.keyboard.press("Home")
    assert read_off(choose)[0] == pytest.approx(60.325, abs=1e-9)
    # Worked row of the minimax geometry for D = 222 mm: +0.7428 degrees at 60.325 mm.
    assert read_off(choose)[1] == pytest.approx(0.7428, abs=0.00005)
    assert "tracking error +0.74 degrees" in stylus.get_attribute("aria-valuetext")
    choose.keyboard.press("End")
    assert read_off(choose)[1] == pytest.approx(1.8056, abs=0.00005)


def test_the_stylus_moves_by_touch(open_page, address):
    tablet = open_page(viewport={"width": 820, "height": 1180}, has_touch=True)
    tablet.goto(address)
    tablet.locator("figure.plan-figure[data-error]").wait_for()
    before, _ = read_off(tablet)
    x, y = stylus_middle(tablet)
    tablet.touchscreen.tap(x + 40, y)
    assert read_off(tablet)[0] > before + 5


def test_results_follow_what_is_typed(choose):
    choose.get_by_label("Pivot-to-spindle distance").fill("8 3/4 in +- 0.3 mm")
    choose.locator(".targets .quantity-value", has_text="239.53").wait_for()
    choose.get_by_label("Pivot-to-spindle distance").fill("222 kg")
    choose.get_by_text("222 kg is a mass").wait_for()
    assert choose.get_by_label("Pivot-to-spindle distance").input_value() == "222 kg"
    assert choose.locator(".targets .quantity-value", has_text="239.53").is_visible()


def test_a_criterion_picked_in_the_table_is_drawn_and_chosen(choose, live_job):
    choose.get_by_label("Inner null").check()
    choose.locator(".targets-criterion", has_text="Stevenson").wait_for()
    choose.get_by_role("button", name="Null 60.3").click()
    assert read_off(choose)[1] == pytest.approx(0, abs=1e-6)
    choose.get_by_role("button", name="Choose these targets").click()
    choose.wait_for_url("**/plate/")
    assert live_job.target_choices.get().criterion == "inner-null"


def test_the_arm_follows_the_pointer_over_the_curves(choose):
    before, _ = read_off(choose)
    choose.locator("#curves").scroll_into_view_if_needed()
    box = choose.locator("#curves").bounding_box()
    choose.mouse.move(box["x"] + box["width"] * 0.8, box["y"] + box["height"] * 0.4)
    choose.locator("#curves .hoverlayer .legend").first.wait_for()
    assert read_off(choose)[0] > before + 10
    # The values stay at a pointer that rests, also after the arm has followed.
    choose.evaluate("async () => { for (let k = 0; k < 20; k++) await new Promise(requestAnimationFrame); }")
    assert choose.locator("#curves .hoverlayer .legend").first.is_visible()
    hover = choose.locator("#curves .hoverlayer").text_content()
    assert all(name in hover for name in ("Minimax", "Least squares", "Inner null", "Exact peak"))


def test_the_chart_offers_no_upload(choose):
    choose.locator("#curves").hover()
    buttons = [button.get_attribute("data-title") or "" for button in choose.locator("#curves .modebar-btn").all()]
    assert "Zoom" in buttons
    assert not [title for title in buttons if any(word in title.lower() for word in ("share", "cloud", "edit"))]
    assert choose.locator("#curves .modebar-btn--logo").count() == 0


@pytest.mark.parametrize("theme", ["light", "dark"])
@pytest.mark.parametrize("width", [820, 1280])
def test_the_page_does_not_scroll_sideways(open_page, address, theme, width):
    page = open_page(viewport={"width": width, "height": 900}, color_scheme=theme)
    page.goto(address)
    page.locator("#curves").scroll_into_view_if_needed()
    page.locator("#curves .main-svg").first.wait_for()
    assert page.evaluate("document.documentElement.scrollWidth") <= width


def test_the_choice_of_colours_is_kept_and_set_before_the_first_drawing(choose, address):
    ground = "getComputedStyle(document.body).backgroundColor"
    assert choose.evaluate(ground) == "rgb(243, 246, 244)"
    choose.get_by_role("button", name="Colours: as the machine is set").click()
    assert choose.evaluate(ground) == "rgb(16, 25, 23)"
    choose.add_init_script(
        "new MutationObserver(() => {"
        "  if (document.body && window.themeAtBody === undefined)"
        "    window.themeAtBody = document.documentElement.dataset.theme ?? 'none';"
        "}).observe(document, { childList: true, subtree: true });"
    )
    choose.goto(address)
    assert choose.evaluate("window.themeAtBody") == "dark"
    assert choose.get_by_role("button", name="Colours: dark").is_visible()
    choose.locator("#curves").scroll_into_view_if_needed()
    curve = choose.locator("#curves .scatterlayer .js-line").first
    assert "rgb(92, 201, 189)" in curve.get_attribute("style")


def test_a_lost_connection_is_said_and_nothing_typed_is_lost(choose):
    choose.get_by_label("Pivot-to-spindle distance").fill("230 mm")
    choose.evaluate("document.dispatchEvent(new CustomEvent('htmx:sendError'))")
    choose.get_by_role("alert").get_by_text("What you typed is still here").wait_for()
    assert choose.get_by_label("Pivot-to-spindle distance").input_value() == "230 mm"


def test_enter_in_a_field_previews_and_chooses_nothing(choose, live_job):
    distance = choose.get_by_label("Pivot-to-spindle distance")
    distance.fill("230 mm +- 0.3 mm")
    distance.press("Enter")
    # L = sqrt(D^2 + n1 n2) with the minimax nulls: 246.74 mm.
    choose.locator(".targets .quantity-value", has_text="246.74").wait_for()
    assert choose.url.endswith("/choose/")
    assert not live_job.target_choices.exists()


def test_the_page_can_be_worked_with_before_the_chart_library_is_there(page, address):
    held = []

    def hold(route):
        held.append(route)

    page.route("**/plotly/*", hold)
    page.goto(address)
    page.locator("figure.plan-figure[data-error]").wait_for()
    page.get_by_label("Pivot-to-spindle distance").fill("230 mm +- 0.3 mm")
    page.locator(".targets .quantity-value", has_text="246.74").wait_for()
    page.locator("#curves").scroll_into_view_if_needed()
    page.locator("#curves").get_by_text("Drawing").wait_for()
    while not held:
        page.wait_for_timeout(50)
    held[0].continue_()
    page.locator("#curves").scroll_into_view_if_needed()
    page.locator("#curves .main-svg").first.wait_for()
    assert not page.locator("#curves").get_by_text("Drawing").is_visible()


def line_x(page):
    box = page.locator("#stylus-line").bounding_box()
    return box["x"] + box["width"] / 2


def null_x(page, index):
    return page.evaluate(
        "(k) => { const box = document.querySelectorAll('#curves .layer-below .shapelayer path')[k]"
        ".getBoundingClientRect(); return box.x + box.width / 2; }",
        index,
    )


def test_the_line_over_the_curves_is_where_the_stylus_is_at_every_width(choose):
    for width in (1280, 390, 1024):
        choose.set_viewport_size({"width": width, "height": 844})
        chart = choose.locator("#curves .main-svg").first
        card = choose.locator(".curves-place")
        # The chart follows the width a moment after the page.
        choose.wait_for_function(
            "([chart, place]) => Math.abs(chart.clientWidth - place.clientWidth) < 2",
            arg=[chart.element_handle(), card.element_handle()],
        )
        for index, button in enumerate(("Null 66.0", "Null 120.9")):
            choose.get_by_role("button", name=button).click()
            # The figures beside the line are rounded to 0.1 mm; a pixel is 0.3 mm at the least width.
            assert line_x(choose) == pytest.approx(null_x(choose, index), abs=1.5), (width, button)


def test_the_chart_library_is_fetched_when_the_curves_come_near(page, address):
    asked = []
    page.on("request", lambda request: asked.append(request.url))
    page.set_viewport_size({"width": 1280, "height": 400})
    page.goto(address)
    page.wait_for_load_state("networkidle")
    assert not [url for url in asked if "plotly" in url]
    page.locator("#curves").scroll_into_view_if_needed()
    page.locator("#curves .main-svg").first.wait_for()
    assert len([url for url in asked if "plotly" in url]) == 1
