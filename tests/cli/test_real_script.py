"""The installed `groovewright` script, as a shell runs it."""

import json
import os
import shutil
import signal
import socket
import sqlite3
import subprocess
import sys
import urllib.request
import zipfile
from contextlib import closing
from pathlib import Path

import pytest

SCRIPT = Path(sys.executable).with_name("groovewright")


def environment(**more):
    kept = {name: value for name, value in os.environ.items() if not name.startswith(("GROOVEWRIGHT", "DJANGO"))}
    return kept | more


def groovewright(*words, cwd=None, **more):
    return subprocess.run(
        [SCRIPT, *map(str, words)],
        capture_output=True,
        text=True,
        encoding="utf-8",
        check=False,
        cwd=cwd,
        env=environment(**more),
        timeout=60,
    )


def test_help_names_every_command():
    ran = groovewright("--help")
    assert (ran.returncode, ran.stderr) == (0, "")
    for name in ("align", "plate", "force", "resonance", "serve", "demo", "job"):
        assert f"\n  {name} " in ran.stdout


def test_json_is_one_object_on_stdout():
    ran = groovewright("align", "--pivot-to-spindle", "222mm", "--json")
    assert (ran.returncode, ran.stderr) == (0, "")
    assert json.loads(ran.stdout)["overhang"]["unit"] == "mm"


def test_bad_value_is_one_line_on_stderr_and_code_2():
    ran = groovewright("align", "--pivot-to-spindle", "20mN", "--json")
    assert (ran.returncode, ran.stdout) == (2, "")
    assert ran.stderr.count("\n") == 1


def test_piped_table_has_no_colour_codes_and_suits_a_plain_terminal():
    for more in ({"TERM": "xterm-256color"}, {"TERM": "dumb", "COLUMNS": "40"}):
        ran = groovewright("align", "--pivot-to-spindle", "222 mm +- 0.3 mm", **more)
        assert ran.returncode == 0
        assert "\x1b" not in ran.stdout
        assert "overhang" in ran.stdout


def test_a_terminal_that_knows_ascii_alone_gets_a_table_all_the_same():
    ran = groovewright("align", "--pivot-to-spindle", "222 mm +- 0.3 mm", PYTHONIOENCODING="ascii")
    assert ran.returncode == 0
    assert "17.30 mm ? 0.03 mm" in ran.stdout


def test_output_cut_short_by_its_reader_is_no_failure():
    ran = subprocess.run(
        ["sh", "-c", f'"{SCRIPT}" align --pivot-to-spindle 222mm --json | head -c 1'],
        capture_output=True,
        text=True,
        check=False,
        env=environment(),
        timeout=60,
    )
    assert ran.stdout == "{"
    assert "Traceback" not in ran.stderr


@pytest.fixture(scope="module")
def workshop(tmp_path_factory):
    """The invented workshop while it is served: where, and its folder."""
    folder = tmp_path_factory.mktemp("demo") / "workshop"
    served = subprocess.Popen(
        [SCRIPT, "demo", "--port", "0", "--data-dir", folder, "--json"],
        stdout=subprocess.PIPE,
        stderr=subprocess.PIPE,
        text=True,
        encoding="utf-8",
        env=environment(),
    )
    lines = []
    while not lines or lines[-1] != "}\n":
        line = served.stdout.readline()
        assert line, served.stderr.read()
        lines.append(line)
    yield json.loads("".join(lines)) | {"process": served}
    if served.poll() is None:
        served.terminate()
    served.communicate(timeout=30)


def test_demo_serves_its_jobs_on_this_machine(workshop):
    with urllib.request.urlopen(workshop["address"], timeout=30) as page:
        assert page.status == 200
        assert "Marlene Achterberg" in page.read().decode("utf-8")


def test_serve_refuses_a_port_that_is_taken(tmp_path):
    with socket.socket() as taken:
        taken.bind(("127.0.0.1", 0))
        taken.listen()
        ran = groovewright("serve", "--port", taken.getsockname()[1], "--data-dir", tmp_path / "book", "--json")
    assert (ran.returncode, ran.stdout) == (2, "")
    assert "give another with --port" in ran.stderr


def test_serve_refuses_a_folder_that_is_a_file(tmp_path):
    file = tmp_path / "book"
    file.write_text("not a folder", encoding="utf-8")
    ran = groovewright("serve", "--port", "0", "--data-dir", file)
    assert (ran.returncode, ran.stdout) == (2, "")
    assert "is a file" in ran.stderr


def test_report_of_a_job_is_a_pdf_with_its_verdicts(workshop, tmp_path):
    out = tmp_path / "report.pdf"
    ran = groovewright("job", "report", 1, "--data-dir", workshop["data_dir"], "--out", out, "--json")
    assert ran.returncode == 0, ran.stderr
    assert out.read_bytes().startswith(b"%PDF-")
    settings = json.loads(ran.stdout)["settings"]
    state = groovewright("state", 1, "--data-dir", workshop["data_dir"], "--json")
    assert settings == json.loads(state.stdout)["settings"]
    verdicts = {setting["verdict"] for stage in settings.values() for setting in stage}
    assert verdicts <= {"in tolerance", "out of tolerance", "undecided", None}


def test_state_of_a_job_is_its_seven_settings_in_one_object_or_a_table(workshop):
    ran = groovewright("state", 8, "--data-dir", workshop["data_dir"], "--json")
    assert (ran.returncode, ran.stderr) == (0, "")
    found = json.loads(ran.stdout)
    assert found["job"] == 8
    left = found["settings"]["as_left"]
    assert [setting["verdict"] for setting in left] == ["in tolerance"] * 7
    assert set(left[0]["quantity"]) == {"value", "unit", "standard_uncertainty"}
    assert 0.9 < found["as_left"]["probability_all_conform"] < 1
    table = groovewright("state", 10, "--data-dir", workshop["data_dir"])
    assert (table.returncode, table.stderr) == (0, "")
    for words in ("zenith error", "stylus rake angle", "calculated", "Based on", "after 1 move"):
        assert words in table.stdout


def test_next_step_of_a_job_is_one_move_in_words_and_numbers(workshop):
    ran = groovewright("next", 10, "--data-dir", workshop["data_dir"], "--json")
    assert (ran.returncode, ran.stderr) == (0, "")
    found = json.loads(ran.stdout)
    assert found["kind"] == "move"
    assert found["move"]["sentence"] == found["sentence"]
    for amount in found["move"]["adjusters"].values():
        assert {"value", "unit", "standard_uncertainty"} <= set(amount)
    assert 0 <= found["move"]["probability_before"] < found["move"]["probability_after"] <= 1
    table = groovewright("next", 10, "--data-dir", workshop["data_dir"])
    assert (table.returncode, table.stderr) == (0, "")
    assert "read again after it" in table.stdout
    done = groovewright("next", 8, "--data-dir", workshop["data_dir"])
    assert "Next on the deck of job 8: all in tolerance" in done.stdout


def test_a_job_without_targets_says_what_cannot_be_judged_yet(workshop):
    ran = groovewright("state", 7, "--data-dir", workshop["data_dir"], "--json")
    assert (ran.returncode, ran.stderr) == (0, "")
    found = json.loads(ran.stdout)["settings"]
    assert found["as_left"] is None
    length = found["as_found"][0]
    assert (length["key"], length["basis"], length["verdict"]) == ("effective_length", "not read", None)
    assert "No targets are chosen yet" in length["reason"]


@pytest.mark.parametrize(
    ("command", "job", "words"),
    [("next", 7, "has no targets yet"), ("state", 99, "there is no job 99"), ("next", 99, "there is no job 99")],
)
def test_a_deck_that_cannot_be_told_of_is_refused_in_one_line(workshop, command, job, words):
    ran = groovewright(command, job, "--data-dir", workshop["data_dir"])
    assert (ran.returncode, ran.stdout) == (2, "")
    assert words in ran.stderr
    assert ran.stderr.count("\n") == 1


def test_jobs_go_out_and_come_in_elsewhere(workshop, tmp_path):
    archive, elsewhere = tmp_path / "jobs.zip", tmp_path / "elsewhere"
    ran = groovewright("job", "export", 2, 1, 2, "--data-dir", workshop["data_dir"], "--out", archive, "--json")
    assert json.loads(ran.stdout)["jobs"] == [2, 1]
    assert "Achterberg" not in zipfile.ZipFile(archive).read("job.json").decode("utf-8")
    first = groovewright("job", "import", archive, "--data-dir", elsewhere, "--json")
    assert first.returncode == 0, first.stderr
    assert len(json.loads(first.stdout)["added"]) == 2
    again = groovewright("job", "import", archive, "--data-dir", elsewhere, "--json")
    assert json.loads(again.stdout)["added"] == []
    assert len(json.loads(again.stdout)["known"]) == 2


def test_a_whole_job_book_is_said_to_be_whole_and_a_changed_row_is_named(workshop, tmp_path):
    shutil.copytree(workshop["data_dir"], tmp_path / "copy")
    whole = groovewright("job", "verify", "--data-dir", tmp_path / "copy", "--json")
    assert whole.returncode == 0, whole.stderr
    found = json.loads(whole.stdout)
    assert (found["whole"], found["fault"]) == (True, None)
    with closing(sqlite3.connect(tmp_path / "copy" / "job-book.sqlite3")) as book:
        for (name,) in book.execute("SELECT name FROM sqlite_master WHERE type = 'trigger'").fetchall():
            book.execute(f'DROP TRIGGER "{name}"')
        book.execute("UPDATE jobbook_job SET complaint = 'none' WHERE number = 3")
        book.commit()
    broken = groovewright("job", "verify", "--data-dir", tmp_path / "copy", "--json")
    assert broken.returncode == 1
    assert json.loads(broken.stdout)["lines"] < found["lines"]
    assert "jobbook_job, row 3 was changed" in json.loads(broken.stdout)["fault"]
    table = groovewright("job", "verify", "--data-dir", tmp_path / "copy")
    assert table.returncode == 1
    assert "is broken" in " ".join(table.stdout.split())
    assert "First fault: jobbook_job, row 3 was changed" in " ".join(table.stdout.split())
    absent = groovewright("job", "verify", "--data-dir", tmp_path / "absent")
    assert (absent.returncode, absent.stdout) == (2, "")


def test_owner_goes_along_only_when_told(workshop, tmp_path):
    archive = tmp_path / "job.zip"
    words = ("job", "export", 1, "--with-owner-details", "--data-dir", workshop["data_dir"], "--out", archive)
    assert groovewright(*words).returncode == 0
    assert "Achterberg" in zipfile.ZipFile(archive).read("job.json").decode("utf-8")


@pytest.mark.parametrize("command", ["export", "report"])
def test_unknown_job_is_refused_with_the_numbers_there_are(workshop, command, tmp_path):
    out = tmp_path / ("out.pdf" if command == "report" else "out.zip")
    ran = groovewright("job", command, 99, "--data-dir", workshop["data_dir"], "--out", out)
    assert (ran.returncode, ran.stdout) == (2, "")
    assert "there is no job 99" in ran.stderr
    assert "1 to 10" in ran.stderr
    assert not out.exists()


def test_unwritable_output_of_a_job_is_refused(workshop, tmp_path):
    for words in (("export", 1, "--out", tmp_path / "no" / "j.zip"), ("report", 1, "--out", tmp_path / "no" / "r.pdf")):
        ran = groovewright("job", *words, "--data-dir", workshop["data_dir"])
        assert (ran.returncode, ran.stdout) == (2, "")
        assert "cannot be written: no such file or directory" in ran.stderr


@pytest.mark.parametrize(
    ("content", "message"),
    [
        (b"", "the archive is empty"),
        (b"PK\x03\x04 and then nothing", "broken or no zip file"),
        (os.urandom(4096), "broken or no zip file"),
    ],
    ids=["empty", "cut short", "noise"],
)
def test_bad_archive_is_refused_in_one_sentence(content, message, tmp_path):
    archive = tmp_path / "jobs.zip"
    archive.write_bytes(content)
    ran = groovewright("job", "import", archive, "--data-dir", tmp_path / "book", "--json")
    assert (ran.returncode, ran.stdout) == (2, "")
    assert message in ran.stderr
    assert ran.stderr.count("\n") == 1
    assert not (tmp_path / "book").exists()


def test_demo_stops_when_it_is_told_to(workshop):
    workshop["process"].send_signal(signal.SIGTERM)
    _, said = workshop["process"].communicate(timeout=30)
    assert workshop["process"].returncode == 0
    assert "all that was entered is kept" in said
