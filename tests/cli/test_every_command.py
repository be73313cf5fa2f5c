"""What holds of every command: help, an example that works, a place in the guide, `--json`, quick help."""

import json
import re
import shlex
import subprocess
import sys
from pathlib import Path
from typing import get_args

import click
import pytest
from click.testing import CliRunner

from groovewright.cli.main import LazyGroup, main
from groovewright.cli.plate import KINDS, PAPER_NAMES
from groovewright.cli.values import CRITERION_KEYS
from groovewright.plates.paper import PAPERS
from groovewright.plates.request import Kind
from groovewright.tonearm.criteria import CRITERIA

GUIDE = (Path(__file__).parents[2] / "docs" / "guide" / "commands.md").read_text(encoding="utf-8")


def commands(group=main, path=("groovewright",)):
    context = click.Context(group, info_name=path[-1])
    for name in group.list_commands(context):
        command = group.get_command(context, name)
        if isinstance(command, LazyGroup):
            yield from commands(command, (*path, name))
        else:
            yield " ".join((*path, name)), command


COMMANDS = dict(commands())


def help_of(path):
    result = CliRunner().invoke(main, [*path.split()[1:], "--help"])
    assert result.exit_code == 0
    return result.stdout


def examples_of(path):
    shown = help_of(path).partition("For example:\n")[2].partition("\n\n")[0]
    return [line.strip() for line in shown.splitlines() if line.strip().startswith("groovewright ")]


def test_the_commands_are_those_of_a_job():
    names = [
        "align",
        "plate",
        "force",
        "side-force",
        "trace",
        "stack",
        "resonance",
        "capture",
        "state",
        "next",
        "simulate",
        "serve",
        "demo",
        "job export",
        "job import",
        "job report",
        "job verify",
    ]
    assert list(COMMANDS) == [f"groovewright {name}" for name in names]


@pytest.mark.parametrize("path", COMMANDS)
def test_command_has_help_an_example_and_json(path):
    command = COMMANDS[path]
    assert command.callback.__doc__
    assert command.help.split("\n")[0].endswith(".")
    assert examples_of(path)
    assert all(example.startswith(path) for example in examples_of(path))
    assert any("--json" in option.opts for option in command.params)
    for option in command.params:
        if isinstance(option, click.Option):
            assert option.help


@pytest.mark.parametrize("path", COMMANDS)
def test_command_stands_in_the_guide_with_every_option_and_argument(path):
    part = re.search(rf"^## {path}\n(.*?)(?=^## |\Z)", GUIDE, re.MULTILINE | re.DOTALL)
    assert part, f"docs/guide/commands.md has no part on {path}"
    assert f"```\n{path} " in part[1]
    for option in COMMANDS[path].params:
        name = option.opts[-1] if isinstance(option, click.Option) else option.metavar or option.name.upper()
        if name not in ("--json", "--help"):
            assert f"`{name}" in part[1], f"{path} {name} is not in the guide"


def test_the_guide_names_no_command_that_is_none():
    assert re.findall(r"^## (groovewright .*)$", GUIDE, re.MULTILINE) == list(COMMANDS)


WITHOUT_A_BOOK = [
    example
    for path in ("groovewright align", "groovewright plate", "groovewright side-force", "groovewright resonance")
    for example in examples_of(path)
]


@pytest.mark.parametrize("example", WITHOUT_A_BOOK)
def test_example_of_the_help_works(example, tmp_path, monkeypatch):
    monkeypatch.chdir(tmp_path)
    result = CliRunner().invoke(main, shlex.split(example)[1:])
    assert result.exit_code == 0, result.stderr
    assert result.stdout.strip()


def test_example_of_the_guide_works_for_every_command_without_a_book(tmp_path, monkeypatch):
    monkeypatch.chdir(tmp_path)
    shown = [line for block in re.findall(r"```\n(.*?)```", GUIDE, re.DOTALL) for line in block.splitlines()]
    run = [line for line in shown if line.split()[:2] in ([*["groovewright", "align"]], ["groovewright", "plate"])]
    assert len(run) >= 4
    for line in run:
        result = CliRunner().invoke(main, shlex.split(line)[1:])
        assert result.exit_code == 0, f"{line}: {result.stderr}"


def test_sheet_in_the_help_of_force_works(tmp_path, monkeypatch):
    monkeypatch.chdir(tmp_path)
    text = help_of("groovewright force").partition("in readings.toml:\n")[2].partition("\nOptions:")[0]
    Path("readings.toml").write_text(text, encoding="utf-8")
    (example,) = examples_of("groovewright force")
    result = CliRunner().invoke(main, [*shlex.split(example)[1:], "--json"])
    assert result.exit_code == 0, result.stderr
    assert json.loads(result.stdout)["verdict"] == "in tolerance"


def test_readings_in_the_help_of_trace_work(tmp_path, monkeypatch):
    monkeypatch.chdir(tmp_path)
    text = help_of("groovewright trace").partition("in readings.csv:\n")[2].partition("\nOptions:")[0]
    rows = [line.strip() for line in text.splitlines() if line.strip()]
    Path("readings.csv").write_text("\n".join(rows), encoding="utf-8")
    (example,) = examples_of("groovewright trace")
    result = CliRunner().invoke(main, [*shlex.split(example)[1:], "--json"])
    assert result.exit_code == 0, result.stderr
    assert len(json.loads(result.stdout)["residuals"]) == len(rows) - 1


def test_choices_of_the_command_line_are_those_of_the_program():
    # They are written down twice so that the help needs no numerical library.
    assert list(CRITERION_KEYS) == list(CRITERIA)
    assert get_args(Kind) == KINDS
    assert list(PAPER_NAMES) == list(PAPERS)


@pytest.mark.parametrize("words", [["--help"], ["align", "--help"], ["job", "export", "--help"], ["--version"]])
def test_help_loads_nothing_heavy(words):
    check = (
        "import sys\n"
        "from groovewright.cli.main import main\n"
        f"main({words!r}, standalone_mode=False)\n"
        "heavy = {'numpy', 'scipy', 'django', 'rich', 'reportlab', 'ezdxf', 'typst'} & set(sys.modules)\n"
        "assert not heavy, heavy\n"
    )
    ran = subprocess.run([sys.executable, "-c", check], capture_output=True, text=True, check=False)
    assert ran.returncode == 0, ran.stderr


def test_without_a_command_the_help_is_shown():
    for words in ([], ["job"]):
        result = CliRunner().invoke(main, words)
        assert "Usage:" in result.output
        assert "Commands:" in result.output
