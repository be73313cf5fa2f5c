import json
import shlex
from pathlib import Path

import pytest
from click.testing import CliRunner

from groovewright.cli.main import main
from groovewright.cli.stack import READY
from groovewright.files.chain_sheet import chain_sheet_text
from groovewright.gauges.ready_chains import READY_CHAINS

QUICK = ("--draws", "5000")


def run(*words):
    return CliRunner().invoke(main, ["stack", *map(str, words)])


def own_sheet_of_the_help():
    shown = run("--help").stdout.partition("in beam.toml:\n")[2].partition("\nOptions:")[0]
    return "\n".join(line.strip() for line in shown.splitlines())


def test_names_of_ready_gauges_are_those_of_the_program():
    assert list(READY_CHAINS) == list(READY)


def test_examples_and_sheet_of_the_help_work(tmp_path, monkeypatch):
    monkeypatch.chdir(tmp_path)
    Path("beam.toml").write_text(own_sheet_of_the_help(), encoding="utf-8")
    examples = [line.strip() for line in run("--help").stdout.splitlines() if line.strip().startswith("groovewright ")]
    assert len(examples) == 2
    for example in examples:
        result = CliRunner().invoke(main, [*shlex.split(example)[1:], *QUICK])
        assert result.exit_code == 0, result.stderr
        assert "the best first" in result.stdout


def test_a_sheet_says_the_same_as_the_ready_gauge(tmp_path):
    path = tmp_path / "beam.toml"
    path.write_text(chain_sheet_text(READY_CHAINS["beam"]), encoding="utf-8")
    from_sheet, ready = (json.loads(run(*words, *QUICK, "--json").stdout) for words in ((path,), ("--ready", "beam")))
    assert from_sheet == ready
    assert set(from_sheet["pivot_to_spindle"]) == {"value", "unit", "standard_uncertainty"}


def test_a_wider_limit_makes_a_gauge_good_enough():
    words = ("--ready", "single-point", "--json", *QUICK)
    narrow, wide = (
        json.loads(run(*words, *limits).stdout)["gauges"][0]
        for limits in ((), ("--length-limit", "2mm", "--zenith-limit", "2deg"))
    )
    assert (narrow["good_enough"], wide["good_enough"]) == (False, True)
    assert narrow["effective_length"]["verdict_for_a_perfect_deck"] == "undecided"


@pytest.mark.parametrize(
    ("words", "says"),
    [
        ((), "there is no gauge to stack"),
        (("none.toml",), "none.toml cannot be read"),
        (("--ready", "ruler"), "ruler"),
        (("--ready", "beam", "--length-limit", "0mm"), "not above 0"),
        (("--ready", "beam", "--pivot-to-spindle", "100mm"), "inside the outermost groove"),
        (("--ready", "beam", "--draws", "10"), "10"),
        (("--ready", "beam", "--groove-range", "146:60"), "146"),
    ],
)
def test_refusals_are_one_sentence_on_stderr(words, says):
    result = run(*words)
    assert result.exit_code == 2
    assert says in result.stderr
    assert result.stdout == ""
    assert len(result.stderr.strip().splitlines()) == 1
