import pytest

pytestmark = [pytest.mark.browser, pytest.mark.django_db(transaction=True)]


@pytest.fixture
def address(live_job):
    return f"/jobs/{live_job.number}/plate/"


def test_a_plate_goes_from_preview_to_its_corrected_print(page, address, live_job):
    page.goto(address)
    page.get_by_label("Paper").select_option("A5")
    page.get_by_text("Choose A4: plates are never scaled to fit").wait_for()
    page.get_by_label("Paper").select_option("A4")
    page.locator("#drawing svg").wait_for()
    page.get_by_label("Arcs to either side").fill("one")
    page.locator("#words-id_fan_half_width .wrong").wait_for()
    assert page.get_by_label("Arcs to either side").input_value() == "one"
    page.get_by_label("Arcs to either side").fill("1 mm")
    page.locator("#drawing svg").wait_for()
    page.get_by_role("button", name="Issue this plate").click()

    card = page.get_by_role("article").filter(has=page.get_by_role("heading", name=f"Plate {live_job.number}-P1"))
    with page.expect_download() as download:
        card.get_by_role("link", name="PDF").click()
    assert download.value.suggested_filename == f"plate-{live_job.number}-P1.pdf"

    card.get_by_label("Bar x").fill("100.4 mm +- 0.1 mm")
    card.get_by_label("Bar y").fill("99,7 mm +- 0.1 mm")
    card.get_by_text("1.0040").wait_for()
    card.get_by_role("button", name="Issue the corrected plate").click()
    page.get_by_text(f"replaces plate {live_job.number}-P1").wait_for()
    page.get_by_text(f"replaced by {live_job.number}-P2").wait_for()
    assert live_job.plates.count() == 2


def test_cutting_carries_its_caution(page, address):
    page.goto(address)
    page.get_by_label("Arc for cutting").check()
    page.locator("#drawing .note").get_by_text("Wear goggles made for your laser").wait_for()


@pytest.mark.parametrize("theme", ["light", "dark"])
@pytest.mark.parametrize("width", [820, 1280])
def test_the_page_does_not_scroll_sideways(open_page, address, theme, width):
    page = open_page(viewport={"width": width, "height": 900}, color_scheme=theme)
    page.goto(address)
    page.locator("#drawing svg").wait_for()
    assert page.evaluate("document.documentElement.scrollWidth") <= width
    # The sheet stays white in the dark too: it shows what leaves the printer.
    assert (
        page.locator(".sheet").evaluate("element => getComputedStyle(element).backgroundColor") == "rgb(255, 255, 255)"
    )


def test_a_bar_that_no_printer_makes_is_asked_back_and_kept_on_the_second_press(page, address, live_job):
    page.goto(address)
    page.locator("#drawing svg").wait_for()
    page.get_by_role("button", name="Issue this plate").click()
    card = page.get_by_role("article").filter(has=page.get_by_role("heading", name=f"Plate {live_job.number}-P1"))
    card.get_by_label("Bar x").fill("100,1")
    card.get_by_label("Bar y").fill("109,9")
    card.get_by_text("109,9 mm does not fit: the bar usually lies from 95 mm to 105 mm").wait_for()
    for _ in range(2):
        card.get_by_role("button", name="Only record").click()
        page.wait_for_load_state("load")
    card.get_by_text("109,9 mm does not fit").wait_for(state="detached")
    assert [reading.text for reading in live_job.readings.all()] == ["100,1 mm", "109,9 mm"]
