"""A whole job in the real browser, from the empty list to the issued report, with wrong entries on the way."""

from __future__ import annotations

import io
import json
import re

import pytest
from click.testing import CliRunner
from pdfminer.high_level import extract_text
from playwright.sync_api import expect

from groovewright.measurement.formatting import split_quantity
from groovewright.measurement.quantity import Quantity

pytestmark = [pytest.mark.browser, pytest.mark.django_db(transaction=True)]

OWNER = "<b>Ilse & Søn</b>"
DISTANCE = "222 mm +- 0.3 mm"
LOADS = {
    "empty": ["0.00", "0.00", "0.00"],
    "1 g": ["1.00", "1.01", "1.00"],
    "2 g": ["2.01", "2.01", "2.00"],
    "1 g + 2 g": ["3.01", "3.02", "3.01"],
}
OUTER, INNER, HEIGHT = "1.92 g", "1.91 g", "1.9 mm +- 0.1 mm"

FORCE_SHEET = """
[scale]
name = "Scale 2"
resolution = "0.01 g"
{weights}
{loads}
[maker]
minimum = "1.6 g"
maximum = "2.2 g"
[record]
height = "1.9 mm +- 0.1 mm"
[[readings]]
place = "outer"
platform_height = "1.9 mm +- 0.1 mm"
indications = ["1.92 g"]
[[readings]]
place = "inner"
platform_height = "1.9 mm +- 0.1 mm"
indications = ["1.91 g"]
"""


def command(*words):
    from groovewright.cli.main import main

    result = CliRunner().invoke(main, [*words, "--json"])
    assert result.exit_code == 0, result.output
    return json.loads(result.stdout)


def force_of_the_sheet(folder):
    weights = "".join(f'[[weights]]\nname = "{g} g"\nnominal = "{g} g"\nclass = "M1"\n' for g in (1, 2))
    loads = ""
    for when in ("before", "after"):
        for load, shown in LOADS.items():
            names = [] if load == "empty" else load.split(" + ")
            loads += f"[[check_{when}.loads]]\nweights = {json.dumps(names)}\n"
            loads += f"indications = {json.dumps([f'{s} g' for s in shown])}\n"
    sheet = folder / "sheet.toml"
    sheet.write_text(FORCE_SHEET.format(weights=weights, loads=loads), encoding="utf-8")
    return command("force", str(sheet))


def take_in(page):
    page.goto("/")
    page.get_by_role("link", name="New job").first.click()
    typed = {
        "owner_name": OWNER,
        "owner_contact": "Kelvin 4, \N{TELEPHONE SIGN} 12",
        "complaint": "Harsh at the end of a side\nand 'thin'",
        "arm_description": "Nine-inch arm, slotted headshell",
        "effective_mass": "twelve grams",
        "cartridge_description": "Moving magnet, elliptical",
        "force_range": "1,600:2,200",
        "compliance": "15 um/mN +- 2 um/mN",
        "record_thickness": "1.9 mm +- 0.1 mm",
    }
    for fold in ("arm_build", "cartridge", "records", "limits", "contact"):
        page.locator(f"#fold-{fold} > summary").click()
    for name, text in typed.items():
        page.locator(f"[name={name}]").fill(text)
    page.get_by_label("Quoted at").select_option("10")
    page.locator("#rule").get_by_text("1.64 standard uncertainties").wait_for()
    page.get_by_role("button", name="Take in").click()

    page.get_by_text("Not saved yet").wait_for()
    expect(page.locator("[name=deck_description]")).to_be_focused()
    for name, text in typed.items():
        assert page.locator(f"[name={name}]").input_value() == text
    expect(page.locator("#field-id_effective_mass .wrong")).to_contain_text("12 g")
    expect(page.locator("#field-id_force_range .wrong")).to_contain_text("can be 1.600 or 1600; write 1.600 or 1600")
    page.locator("[name=deck_description]").fill("Belt drive, walnut plinth")
    page.locator("[name=effective_mass]").fill("12 g +- 0.5 g")
    page.locator("[name=cartridge_mass]").fill("6,5 g +- 0.1 g")
    page.locator("[name=force_range]").fill("1,6:2,2")
    page.get_by_role("button", name="Take in").click()
    page.get_by_role("heading", name="Choose the geometry").wait_for()
    expect(page.locator(".job-owner")).to_have_text(OWNER)


def choose(page):
    page.wait_for_load_state("load")
    page.get_by_label("Pivot-to-spindle distance").fill("222 g")
    page.get_by_text("222 g is a force or a mass; a length such as 222 +- 0.3 mm is needed here").wait_for()
    assert page.get_by_label("Pivot-to-spindle distance").input_value() == "222 g"
    page.get_by_label("Pivot-to-spindle distance").fill(DISTANCE)
    page.locator("figure.plan-figure").wait_for()
    page.get_by_role("button", name="Choose these targets").click()
    page.get_by_role("heading", name="Plate", exact=True).first.wait_for()


def add_scale(page):
    page.locator("#progress").get_by_role("link", name="Bench").click()
    page.get_by_label("What is read").get_by_role("link", name="Scale check").click()
    page.get_by_role("link", name="Add a scale").click()
    page.get_by_label("Scale").fill("Scale 2")
    page.get_by_label("Last step of its display").fill("0.01 mm")
    page.get_by_role("button", name="Save").click()
    expect(page.locator("#field-id_resolution .wrong")).to_contain_text("a force such as 0.01 g")
    assert page.get_by_label("Last step of its display").input_value() == "0.01 mm"
    page.get_by_label("Last step of its display").fill("0.01 g")
    page.get_by_role("button", name="Save").click()
    page.get_by_role("heading", name="Check the scale", exact=True).wait_for()


def check_scale(page, when):
    page.goto(f"/jobs/1/bench/scale-check/?when={when.lower()}")
    expect(page.get_by_label(f"{when} the readings")).to_be_checked()
    for k, (load, shown) in enumerate(LOADS.items(), start=1):
        page.locator(f"[name=load_{k}]").fill(load)
        page.locator(f"[name=shown_{k}]").fill("; ".join(shown))
    page.locator("#result").get_by_text("for each g").wait_for()
    page.get_by_role("button", name="Store the check").click()
    # What is checked is read with next.
    expect(page.get_by_label("Tracking force", exact=True)).to_be_focused()


def store_force(page, place, stage, text):
    page.get_by_label("What is read").get_by_role("link", name="Tracking force", exact=True).click()
    entry = page.get_by_label("Tracking force", exact=True)
    expect(entry).to_be_focused()
    page.get_by_label(place, exact=True).check()
    page.locator("#entry").get_by_label(stage, exact=True).check()
    page.locator(".reading-form summary").click()
    page.get_by_label("Height of the stylus").fill(HEIGHT)
    entry.fill(text)
    entry.press("Enter")
    page.get_by_text(f"Stored: tracking force, {text}.").wait_for()


def read_lengths_and_forces(page):
    page.goto("/jobs/1/bench/?read=overhang")
    entry = page.get_by_label("Overhang", exact=True)
    expect(entry).to_be_focused()
    expect(page.locator("#entry").get_by_label("As found")).to_be_checked()
    page.keyboard.type("16.1 g")
    page.locator("#words-id_entry").get_by_text("16.1 g is").wait_for()
    page.keyboard.press("Enter")
    expect(page.locator("#field-id_entry .wrong")).to_contain_text("a length such as 17.3 +- 0.2 mm is needed here")
    assert entry.input_value() == "16.1 g"
    expect(entry).to_be_focused()
    entry.fill("")
    page.keyboard.type("16.1 +- 0.3")
    page.locator("#preview").get_by_text("out of tolerance", exact=True).wait_for()
    page.locator("#preview").get_by_text("not stored yet").wait_for()
    page.keyboard.press("Enter")
    page.get_by_text("Stored: overhang, 16.1 +- 0.3 mm.").wait_for()
    store_force(page, "Outer", "As found", "2.31 g")
    store_force(page, "Inner", "As found", "2.30 g")
    page.get_by_label("What is read").get_by_role("link", name="Effective length", exact=True).click()
    expect(page.get_by_label("Overhang", exact=True)).to_be_focused()
    page.locator("#entry").get_by_label("As left", exact=True).check()

    page.get_by_label("Overhang", exact=True).fill("17.30 +- 0.12")
    page.get_by_label("Overhang", exact=True).press("Enter")
    page.get_by_text("Stored: overhang, 17.30 +- 0.12 mm.").wait_for()
    store_force(page, "Outer", "As left", OUTER.replace("1.92", "1.29"))
    store_force(page, "Inner", "As left", INNER)


def correct_a_slip(page):
    page.goto("/jobs/1/bench/readings/")
    page.get_by_role("row").filter(has_text="1.29 g").get_by_role("link", name="Correct").click()
    entry = page.get_by_label("Tracking force", exact=True)
    expect(entry).to_be_focused()
    assert entry.input_value() == "1.29 g"
    page.wait_for_load_state("networkidle")
    entry.fill(OUTER)
    page.locator("#preview").get_by_text("in tolerance", exact=True).wait_for()
    page.get_by_role("button", name="Store the correction").click()
    page.get_by_text(f"Stored: tracking force, {OUTER}.").wait_for()
    page.goto("/jobs/1/bench/readings/")
    expect(page.locator("del", has_text="1.29 g")).to_be_visible()
    expect(page.get_by_role("row").filter(has_text="in place of")).to_contain_text(OUTER)


def judge(page):
    page.goto("/jobs/1/bench/#faults")
    page.get_by_role("button", name="Record the fault").click()
    page.get_by_text("Say what is faulty.").wait_for()
    page.get_by_label("Fault", exact=True).fill("Play in the <vertical> bearing")
    page.get_by_role("button", name="Record the fault").click()
    page.get_by_text("Play in the <vertical> bearing").wait_for()
    expect(page.locator("#setting-effective_length .verdict-word")).to_have_text("in tolerance")
    expect(page.locator("#setting-effective_length .setting-found")).to_contain_text("mm")


def issue(page):
    page.locator("#progress").get_by_role("link", name="Report").click()
    page.get_by_label("What was done besides").fill("Cleaned the stylus.")
    page.get_by_role("button", name="Issue the report").click()
    page.get_by_text("type the name of the workshop").wait_for()
    assert page.get_by_label("What was done besides").input_value() == "Cleaned the stylus."
    page.locator("[name=workshop]").fill("Bench & Sons")
    page.get_by_role("button", name="Issue the report").click()
    with page.expect_download() as download:
        page.get_by_role("link", name="PDF").click()
    assert download.value.suggested_filename == "report-1-R1.pdf"
    return download.value.path().read_bytes()


def printed(quantity, unit=None):
    known = Quantity.measured(
        quantity["value"], quantity["unit"], standard_uncertainty=quantity["standard_uncertainty"], source="command"
    )
    return split_quantity(known, unit)[0]


def test_a_job_from_the_empty_list_to_its_report(page, tmp_path):
    take_in(page)
    choose(page)
    add_scale(page)
    check_scale(page, "Before")
    read_lengths_and_forces(page)
    correct_a_slip(page)
    check_scale(page, "After")
    judge(page)
    text = re.sub(r"\s+", " ", extract_text(io.BytesIO(issue(page))))

    targets = command("align", "--pivot-to-spindle", DISTANCE)
    for name in ("effective_length", "overhang", "offset_angle", "linear_offset", "peak_tracking_error"):
        assert printed(targets[name]) in text, name
    force = force_of_the_sheet(tmp_path)
    assert printed(force["tracking_force"], "g") in text
    assert force["verdict"] == "in tolerance"
    assert "As left: 2 in tolerance" in text
    for words in ("Ilse & Søn", "Cleaned the stylus.", "Play in the <vertical> bearing", "Bench & Sons", "1.29 g"):
        assert words in text, words
    page.goto("/")
    expect(page.locator(".job-lines")).to_contain_text("Handed over")
