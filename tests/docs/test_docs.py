"""What holds of every page of the documentation: its links, its pictures, its commands."""

import re
import shlex
from pathlib import Path

import click
import pytest
from click.testing import CliRunner
from PIL import Image

from groovewright.cli.main import main

ROOT = Path(__file__).parents[2]
README = ROOT / "README.md"
PAGES = [README, ROOT / "CHANGELOG.md", *sorted((ROOT / "docs").rglob("*.md"))]
PICTURES = ROOT / "docs" / "pictures"
LINK = re.compile(r"(!?)\[([^\]]*)\]\(([^)\s]+)\)")
FENCE = re.compile(r"^```.*?^```$", re.MULTILINE | re.DOTALL)
COMMAND = re.compile(r"(?:^|`)(?:\.venv/bin/)?(groovewright [a-z][^`\n]*?)(?:\s+#.*)?(?=`|$)", re.MULTILINE)


def name_of(page):
    return page.relative_to(ROOT).as_posix()


def words_of(page):
    return page.read_text(encoding="utf-8")


def links_of(page):
    return LINK.findall(FENCE.sub("", words_of(page)))


def anchors_of(page):
    headings = re.findall(r"^#+ (.+)$", FENCE.sub("", words_of(page)), re.MULTILINE)
    return {re.sub(r"[^\w\- ]", "", heading.lower()).replace(" ", "-") for heading in headings}


def commands_of(page):
    return [shlex.split(line) for line in COMMAND.findall(words_of(page))]


def command_called(words):
    """Return the command that a line of words calls, and the words that follow its name."""
    command = main
    rest = words[1:]
    while isinstance(command, click.Group):
        found = command.get_command(click.Context(command), rest[0])
        assert found, f"there is no command {' '.join(words)}"
        command, rest = found, rest[1:]
    return command, rest


@pytest.mark.parametrize("page", PAGES, ids=name_of)
def test_every_link_leads_to_a_file_and_a_heading_that_exist(page):
    for _, words, target in links_of(page):
        path, _, anchor = target.partition("#")
        goal = (page.parent / path).resolve() if path else page
        assert goal.is_relative_to(ROOT), f"{target} leads out of the project"
        assert goal.exists(), f"[{words}]({target}) leads nowhere"
        if anchor:
            assert anchor in anchors_of(goal), f"{target}: {name_of(goal)} has no such heading"


@pytest.mark.parametrize("page", PAGES, ids=name_of)
def test_every_picture_says_what_it_shows(page):
    for mark, words, target in links_of(page):
        if mark:
            assert len(words) > 10, f"{target} needs words for whoever cannot see it"


def test_the_readme_names_every_page():
    named = {(ROOT / target).resolve() for _, _, target in links_of(README)}
    assert set(PAGES) - {README} <= named


def test_pictures_are_those_that_are_taken_and_all_are_shown():
    kept = {path.name for path in PICTURES.glob("*.webp")}
    scripts = "".join(words_of(script) for script in PICTURES.glob("*.py"))
    taken = re.findall(r'keep(?:_pdf_page)?\([^"\n]*"([\w-]+)"', scripts)
    assert {f"{name}.webp" for name in taken} == kept
    shown = {Path(target).name for page in PAGES for mark, _, target in links_of(page) if mark}
    assert kept == shown


@pytest.mark.parametrize("path", sorted(PICTURES.glob("*.webp")), ids=lambda path: path.name)
def test_a_picture_opens_and_is_small(path):
    with Image.open(path) as picture:
        picture.load()
        assert picture.width >= 600
    assert path.stat().st_size < 150_000


@pytest.mark.parametrize("page", PAGES, ids=name_of)
def test_every_command_exists_with_its_options_and_explains_itself(page):
    for words in commands_of(page):
        command, rest = command_called(words)
        known = {name for parameter in command.params for name in parameter.opts} | {"--help"}
        assert {word.partition("=")[0] for word in rest if word.startswith("--")} <= known, " ".join(words)
        names = words[1 : len(words) - len(rest)]
        result = CliRunner().invoke(main, [*names, "--help"])
        assert result.exit_code == 0
        assert "Usage" in result.stdout


def test_commands_are_found_in_the_pages():
    assert ["groovewright", "serve"] in commands_of(README)
    assert len(commands_of(ROOT / "docs" / "guide" / "commands.md")) > 15


@pytest.mark.parametrize("page", PAGES, ids=name_of)
def test_a_page_holds_on_every_machine(page):
    words = words_of(page)
    addresses = set(re.findall(r"https?://[^\s>)`]+", words))
    assert addresses <= {"http://127.0.0.1:8713/"}
    # An absolute path would be that of one machine; only /tmp stands for any folder, in examples.
    paths = re.findall(r"(?<![\w.~:/<])/(?:[\w.-]+/)+[\w.-]*", words)
    assert [path for path in paths if not path.startswith("/tmp/")] == []
    # A page says what is, and names no work that is still to be done.
    assert not re.search(r"\bissue #?\d|\bTODO\b", words, re.IGNORECASE)
