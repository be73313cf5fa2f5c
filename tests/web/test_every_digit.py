"""No page, table or report shows a number with more digits than a bench can set or its uncertainty carries."""

import html
import io
import re

import pytest
from click.testing import CliRunner
from pdfminer.high_level import extract_text

from groovewright.cli.main import main
from groovewright.demo.book import make_demo_workshop
from groovewright.jobbook.models import Capture, Deck, Gauge, Job, Owner, Scale
from groovewright.measurement.formatting import FINEST_SHOWN
from groovewright.report.contents import contents_of_job
from groovewright.report.pdf import report_pdf

MAX_DECIMALS = 4
"""Of any number; 0.0001 % is the finest that the table of units has."""

# Groove radii end at 60.325 mm by their standard: one digit more for what is exact.
DECIMALS = {
    "mm": 1 - FINEST_SHOWN["mm"],
    "°": 1 - FINEST_SHOWN["deg"],
    "deg": 1 - FINEST_SHOWN["deg"],
    "g": 3,
    "mN": 1 - FINEST_SHOWN["mN"],
    "Hz": 1 - FINEST_SHOWN["Hz"],
}
NUMBER = re.compile(r"(?<![\w.,-])[-\u2212+]?\d+\.(\d+)(?:e-?\d+)?\s?(mm|°|deg\b|g\b(?! for each g)|mN\b|Hz\b)?")
WITH_SPREAD = re.compile(r"(\d+(?:\.\d+)?)\s?(?:mm|°|g|mN|Hz|%)?\s*±\s*(\d+(?:\.\d+)?)")
NOT_TEXT = re.compile(r"<(script|style|textarea)\b.*?</\1>|<[^>]+>", re.DOTALL)

GRAM_FORCE = "9.80665 mN"
"""One gram-force, by definition."""

JOB_PAGES = ("take-in/", "choose/", "plate/", "bench/", "bench/trace/", "captures/", "report/", "attachments/")
COMMANDS = (
    ("align", "--pivot-to-spindle", "222 mm +- 0.3 mm"),
    ("align", "--pivot-to-spindle", "222 mm"),
    ("resonance", "--mass", "20 g +- 1 g", "--compliance", "12 um/mN +- 2 um/mN"),
    ("resonance", "--mass", "20 g", "--compliance", "12 um/mN"),
    ("stack", "--ready", "beam", "--ready", "arc-trace", "--draws", "2000"),
)


def absurd(text, *, in_columns=False):
    """Return the numbers of a text that have digits which nobody can stand for.

    Text of a PDF has the columns of a table one after the other, so that no value has its own uncertainty behind it.
    """
    text = text.replace(GRAM_FORCE, "")
    found = [
        match[0]
        for match in NUMBER.finditer(text)
        if len(match[1]) > MAX_DECIMALS or (match[2] and len(match[1]) > DECIMALS[match[2]])
    ]
    for match in () if in_columns else WITH_SPREAD.finditer(text):
        value, spread = (len(number.partition(".")[2]) for number in match.groups())
        if value != spread and len(match[2].replace(".", "").strip("0")) <= 2:
            found.append(match[0])
    return found


def text_of(answer):
    return " ".join(html.unescape(NOT_TEXT.sub(" ", answer.content.decode())).split())


@pytest.mark.parametrize(
    "text",
    ["8.11867 Hz", "−0.0177634 mm", "0.0123°", "1.8512 g", "azimuth 0.123456", "22.98 mm ± 0.3 mm", "0.0004 deg"],
)
def test_absurd_digits_are_found(text):
    assert absurd(text)


@pytest.mark.parametrize(
    "text",
    ["8.1 Hz", "60.325 to 146.05 mm", "−0.02 mm ± 0.01 mm", "222.00 ± 0.30 mm", "version 0.1.0", "1.85 ± 0.01 g"],
)
def test_sensible_digits_are_let_be(text):
    assert absurd(text) == []


@pytest.mark.django_db
def test_no_page_of_the_demo_shows_them(client):
    make_demo_workshop()
    pages = ["/", "/gauges/compare/", "/workshop/"]
    pages += [f"/jobs/{job.number}/{page}" for job in Job.objects.all() for page in JOB_PAGES]
    pages += [f"/decks/{number}/visits/" for number in set(Deck.objects.values_list("number", flat=True))]
    pages += [f"/workshop/owners/{owner.number}/" for owner in Owner.objects.all()]
    pages += [f"/jobs/{capture.job.number}/captures/{capture.pk}/" for capture in Capture.objects.all()]
    pages += [f"/workshop/scales/{scale.pk}/" for scale in Scale.objects.filter(corrected_by=None)]
    pages += [f"/workshop/gauges/{gauge.pk}/" for gauge in Gauge.objects.filter(corrected_by=None)]
    found = {}
    for page in pages:
        answer = client.get(page)
        assert answer.status_code in (200, 302), page
        if wrong := absurd(text_of(answer)):
            found[page] = wrong
    for job in Job.objects.all():
        for command in ("state", "next"):
            if wrong := absurd(CliRunner().invoke(main, [command, str(job.number)]).stdout):
                found[f"{command} {job.number}"] = wrong
        words = extract_text(io.BytesIO(report_pdf(contents_of_job(job)))).replace("\u200b", "")
        if wrong := absurd(" ".join(words.split()), in_columns=True):
            found[f"report of job {job.number}"] = wrong
    assert found == {}


@pytest.mark.parametrize("command", COMMANDS, ids=" ".join)
def test_no_table_of_a_command_shows_them(command):
    ran = CliRunner().invoke(main, command)
    assert ran.exit_code == 0
    assert absurd(ran.stdout) == []
