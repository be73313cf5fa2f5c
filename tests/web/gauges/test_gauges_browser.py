import pytest

pytestmark = [pytest.mark.browser, pytest.mark.django_db(transaction=True)]

ADDRESS = "/gauges/compare/"


@pytest.fixture
def gauges(page):
    page.goto(ADDRESS)
    page.locator("#curves").scroll_into_view_if_needed()
    page.locator("#curves .main-svg").first.wait_for()
    return page


def first_ranked(page):
    return page.locator(".ranked tbody tr").first.inner_text()


def open_joints(page, name):
    page.locator("summary", has_text=f"Its joints ({name})").click()


def test_the_comparison_follows_what_is_typed_and_keeps_what_is_open(gauges):
    assert "Beam" in first_ranked(gauges)
    gauges.locator("#gauge-beam summary", has_text="What each joint").click()
    open_joints(gauges, "Beam")
    gauges.get_by_role("textbox", name="Pointer on the pivot, along").fill("3 mm")
    gauges.locator("#gauge-beam .good.no").wait_for()
    assert "Arc trace" in first_ranked(gauges)
    assert gauges.locator("#gauge-beam details", has_text="What each joint").get_attribute("open") is not None
    gauges.locator("#curves").scroll_into_view_if_needed()
    gauges.locator("#curves .main-svg").first.wait_for()


def test_a_bad_play_keeps_the_comparison_and_says_what_would_be_right(gauges):
    open_joints(gauges, "Beam")
    entry = gauges.get_by_role("textbox", name="Pointer on the pivot, along")
    entry.fill("0.3 kg")
    gauges.get_by_text("0.3 kg is a mass").wait_for()
    entry.and_(gauges.locator("[aria-invalid=true]")).wait_for()
    assert entry.input_value() == "0.3 kg"
    assert "Beam" in first_ranked(gauges)
    # By button as well: the whole page comes back with the entry, its joints open.
    gauges.get_by_role("button", name="Compare").click()
    gauges.locator(".joint .wrong", has_text="0.3 kg is a mass").wait_for()
    assert gauges.get_by_role("textbox", name="Pointer on the pivot, along").input_value() == "0.3 kg"


def test_a_gauge_of_ones_own_begins_from_a_ready_one(gauges):
    gauges.locator("summary", has_text="A gauge of your own").click()
    gauges.locator("[data-begin-from]", has_text="Beam").click()
    gauges.locator(".ranked", has_text="Own Beam").wait_for()
    assert 'name = "Own Beam"' in gauges.get_by_label("Chain sheet (TOML)").input_value()


def test_it_all_works_from_the_keyboard(gauges):
    gauges.get_by_label("Single-point gauge", exact=True).focus()
    gauges.keyboard.press("Space")
    gauges.locator("#gauge-single-point").wait_for(state="detached")
    assert gauges.locator(".ranked tbody tr").count() == 3
    gauges.keyboard.press("Tab")
    gauges.keyboard.press("Enter")
    assert gauges.get_by_role("textbox", name="Hole on the spindle, outward").is_visible()


@pytest.mark.parametrize("theme", ["light", "dark"])
@pytest.mark.parametrize("width", [820, 1280])
def test_the_page_does_not_scroll_sideways(open_page, theme, width):
    page = open_page(viewport={"width": width, "height": 900}, color_scheme=theme)
    page.goto(ADDRESS)
    page.locator("#curves").scroll_into_view_if_needed()
    page.locator("#curves .main-svg").first.wait_for()
    for details in page.locator("details").all():
        details.evaluate("details => { details.open = true; }")
    assert page.evaluate("document.documentElement.scrollWidth") <= width
