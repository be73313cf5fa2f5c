"""Bad input at every door of the command line: exit code 2, one sentence on stderr, nothing on stdout."""

import errno
import tempfile
from pathlib import Path

import pytest
from click.testing import CliRunner

from groovewright.cli.main import main

ALIGN = ["align", "--pivot-to-spindle"]
RESONANCE = ["resonance", "--mass"]
PLATE = ["plate", "--pivot-to-spindle", "222mm"]
TO_FILE = ["--out", "plate.pdf"]

WORDS = [
    ([], ["bogus"], "No such command 'bogus'"),
    ([], ["--bogus"], "No such option"),
    (["align"], [], "Missing option '--pivot-to-spindle'"),
    (ALIGN, ["222mm", "--bogus"], "No such option"),
    (ALIGN, ["222mm", "extra"], "unexpected extra argument"),
    (ALIGN, ["about 222"], "does not have a number"),
    (ALIGN, ["222"], '"222" has no unit; write it like 222 mm'),
    ([*ALIGN, "222mm", "--hold-effective-length"], ["239"], '"239" has no unit; write it like 239 mm'),
    (ALIGN, ["20mN"], "20 mN is a force; a length such as 222 mm is needed here"),
    (ALIGN, ["1,234 mm"], "can be 1.234 or 1234"),
    (ALIGN, ["nan mm"], "does not have a number"),
    (ALIGN, ["1e400mm"], "too large or too small"),
    (ALIGN, [""], "nothing was entered"),
    (ALIGN, ["2" * 5000], "5000 characters long"),
    (ALIGN, ["-222mm"], "must be above 0 mm, not -222 mm"),
    (ALIGN, ["0mm"], "must be above 0 mm"),
    (ALIGN, ["100mm"], "lies inside the outermost groove"),
    (ALIGN, ["222mm +- -1mm"], "not above 0"),
    (ALIGN, ["222mm", "--criterion", "best"], "'best' is not one of 'minimax'"),
    (ALIGN, ["222mm", "--groove-range", "146:60"], "smaller end first"),
    (ALIGN, ["222mm", "--groove-range", "60"], "is not a range"),
    (ALIGN, ["222mm", "--groove-range", "60g:146g"], "a force or a mass"),
    (ALIGN, ["222mm", "--groove-range", "-60:146"], "innermost"),
    (ALIGN, ["150mm", "--groove-range", "60:190"], "lies inside the outermost groove"),
    (ALIGN, ["222mm", "--groove-range", "60:500"], "lies on no record (200 mm at most here)"),
    (ALIGN, ["222mm", "--hold-effective-length", "50mm"], "reach"),
    (ALIGN, ["222mm", "--hold-effective-length", "-239mm"], "must be above 0 mm"),
    (ALIGN, ["222mm", "--hold-offset-angle", "23mm"], "an angle such as 23 deg is needed here"),
    (ALIGN, ["222mm", "--peak-velocity", "10mm"], "10 mm is a length"),
    (ALIGN, ["222mm", "--peak-velocity", "-10cm/s"], "not above 0"),
    (ALIGN, ["222mm", "--peak-velocity", "10 cm/s +- 1 cm/s"], "without its uncertainty"),
    (ALIGN, ["222mm", "--speed", "0rpm"], "not above 0"),
    (["plate"], TO_FILE, "Missing option '--pivot-to-spindle'"),
    (PLATE, [], "Missing option '--out'"),
    (PLATE, ["--out", "plate.doc"], "does not end in .pdf, .svg or .dxf"),
    (PLATE, ["--out", "plate"], "does not end in .pdf, .svg or .dxf"),
    (PLATE, ["--out", "."], "is a directory"),
    (PLATE, ["--out", "absent/plate.pdf"], "cannot be written: no such file or directory"),
    (PLATE, ["--out", "x" * 300 + ".pdf"], "cannot be written: file name too long"),
    (PLATE, ["--kind", "round", *TO_FILE], "'round' is not one of 'arc'"),
    (PLATE, ["--paper", "A9", *TO_FILE], "'A9' is not one of"),
    (PLATE, ["--paper", "A5", *TO_FILE], "plates are never scaled to fit"),
    (PLATE, ["--scale-x", "1.004", *TO_FILE], "--scale-x and --scale-y go together"),
    (PLATE, ["--scale-x", "wide", "--scale-y", "1", *TO_FILE], "does not have a number"),
    (PLATE, ["--scale-x", "100.4mm", "--scale-y", "1", *TO_FILE], 'without "mm" after it'),
    (PLATE, ["--scale-x", "1,004", "--scale-y", "1", *TO_FILE], "can be 1.004 or 1004"),
    (PLATE, ["--scale-x", "2", "--scale-y", "1", *TO_FILE], "must lie between 0.9 and 1.1"),
    (PLATE, ["--scale-x", "0", "--scale-y", "1", *TO_FILE], "must lie between 0.9 and 1.1"),
    (RESONANCE, ["20g"], "Missing option '--compliance'"),
    (RESONANCE, ["20mm", "--compliance", "12um/mN"], "a mass such as 20 g is needed here"),
    (RESONANCE, ["0g", "--compliance", "12um/mN"], "must be above 0 g"),
    (RESONANCE, ["20g", "--compliance", "-12um/mN"], "must be above 0 um/mN"),
    (RESONANCE, ["20g", "--compliance", "12"], "has no unit"),
    (RESONANCE, ["20g", "--compliance", "12um/mN", "--quoted-at", "50Hz"], "'50Hz' is not one of"),
    (["force"], [], "Missing argument"),
    (["force"], ["absent.toml"], "absent.toml cannot be read: no such file or directory"),
    (["force"], ["."], "cannot be read: is a directory"),
    (["serve"], ["--port", "http"], "is not a valid integer"),
    (["serve"], ["--port", "70000"], "70000 is not in the range"),
    (["demo"], ["--port", "-1"], "-1 is not in the range"),
    (["state"], [], "Missing argument 'JOB'"),
    (["state", "eight"], [], "is not a valid integer"),
    (["next", "0"], [], "0 is not in the range"),
    (["next", "1", "--data-dir", "absent"], [], "'absent' does not exist"),
    (["job", "bogus"], [], "No such command 'bogus'"),
    (["job", "export"], [], "Missing argument 'NUMBER...'"),
    (["job", "export", "three"], ["--out", "j.zip"], "is not a valid integer"),
    (["job", "export", "0"], ["--out", "j.zip"], "0 is not in the range"),
    (["job", "export", "1", "--data-dir", "absent"], ["--out", "j.zip"], "'absent' does not exist"),
    (["job", "report", "1"], ["--out", "r.docx"], "does not end in .pdf"),
    (["job", "import"], ["absent.zip"], "absent.zip cannot be read: no such file or directory"),
    (["job", "import"], ["."], "cannot be read: is a directory"),
]


def refused(words):
    result = CliRunner().invoke(main, words)
    assert result.exit_code == 2, (result.exit_code, result.output, result.exception)
    assert result.stdout == ""
    assert result.stderr.startswith("Error: ")
    assert result.stderr.count("\n") == 1
    return result.stderr


@pytest.fixture
def an_empty_folder(tmp_path, monkeypatch):
    monkeypatch.chdir(tmp_path)
    return tmp_path


@pytest.mark.parametrize("json_option", [[], ["--json"]], ids=["table", "json"])
@pytest.mark.parametrize(("command", "words", "message"), WORDS)
def test_bad_words_are_refused_in_one_sentence(command, words, message, json_option, an_empty_folder):
    known_json = json_option if command[:1] in (["align"], ["plate"], ["force"], ["resonance"]) else []
    assert message in refused([*command, *words, *known_json])
    assert not list(an_empty_folder.iterdir())


def test_option_without_its_value_is_refused():
    assert "requires an argument" in refused(ALIGN)


SHEETS = [
    ("empty.toml", b"", "the sheet is empty"),
    ("binary.toml", bytes(range(256)) * 20, "is not a text file in UTF-8"),
    ("huge.toml", b"# " + b"x" * 5_000_000, "is larger than 100 kB"),
    ("letter.toml", b"Dear bench, the scale said 1.85 g.", "is not valid TOML"),
    ("other.toml", b"[project]\nname = 'x'\n", "does not know 'project'"),
    ("nested.toml", b"a = " + b"[" * 20_000 + b"]" * 20_000, "nested too deeply|not valid TOML"),
]


@pytest.mark.parametrize(("name", "content", "message"), SHEETS, ids=[name for name, _, _ in SHEETS])
def test_bad_sheet_is_refused_with_its_name(name, content, message, tmp_path):
    sheet = tmp_path / name
    sheet.write_bytes(content)
    error = refused(["force", str(sheet), "--json"])
    assert name in error
    assert any(part in error for part in message.split("|"))


def test_folder_without_write_permission_is_refused(tmp_path, monkeypatch):
    def not_allowed(**options):
        raise PermissionError(errno.EACCES, "Permission denied")

    monkeypatch.setattr(tempfile, "mkstemp", not_allowed)
    assert "permission denied; name another file with --out" in refused([*PLATE, "--out", str(tmp_path / "plate.svg")])


def test_full_disk_is_refused_and_leaves_the_file_that_was_there(tmp_path, monkeypatch):
    plate = tmp_path / "plate.svg"
    plate.write_text("the last good plate", encoding="utf-8")

    def no_room(self, target):
        raise OSError(errno.ENOSPC, "No space left on device")

    monkeypatch.setattr(Path, "replace", no_room)
    assert "no space left on device" in refused([*PLATE, "--out", str(plate)])
    assert plate.read_text(encoding="utf-8") == "the last good plate"
    assert list(tmp_path.iterdir()) == [plate]
