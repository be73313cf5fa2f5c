import contextlib
import json

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from groovewright.files.chain_sheet import chain_sheet_text, load_chain_sheet, read_chain_sheet
from groovewright.gauges.gauge_chain import DIMENSIONS, DISTRIBUTIONS, GaugeChain, Joint, dimensions_of, joint_of
from groovewright.gauges.ready_chains import READY_CHAINS

SHEET = """
name = "Own beam"
sets_by = "mark"
mark = "overhang"

[[joints]]
name = "Bush"
clearance = "0.05 mm"
bears_on = "pivot_to_spindle"

[[joints]]
name = "Block"
tolerance = "0.002 in"
lever = "30 mm"
bears_on = "offset_angle"
sensitivity = -1

[[joints]]
name = "Eye"
standard_uncertainty = "12 arcmin"
bears_on = "offset_angle"
known_error = "0.05 deg"
"""


def test_a_sheet_is_read():
    chain = read_chain_sheet(SHEET)
    bush, block, eye = chain.joints
    assert (chain.name, chain.sets_by, chain.mark) == ("Own beam", "mark", "overhang")
    assert (bush.tolerance, bush.distribution, bush.given_as) == (0.025, "rectangular", "clearance")
    assert block.tolerance == pytest.approx(0.0508, rel=1e-12)
    assert (block.lever_mm, block.sensitivity) == (30.0, -1.0)
    assert (eye.distribution, eye.nominal) == ("normal", 0.05)
    assert eye.standard_uncertainty == pytest.approx(0.2, rel=1e-12)


@pytest.mark.parametrize("key", READY_CHAINS)
def test_ready_chains_read_back_from_their_sheets(key):
    assert read_chain_sheet(chain_sheet_text(READY_CHAINS[key])) == READY_CHAINS[key]


names = st.text(st.characters(exclude_categories=("Cs",)), min_size=1, max_size=20).filter(lambda text: text.strip())


@st.composite
def chains(draw):
    sets_by = draw(st.sampled_from(["mark", "trace", "two nulls"]))
    may = dimensions_of(sets_by)
    bears_on = draw(st.lists(st.sampled_from(may), min_size=1, max_size=6))
    if sets_by == "trace":
        bears_on.append("trace_reading")
    joints = []
    for k, key in enumerate(bears_on):
        distribution = draw(st.sampled_from(DISTRIBUTIONS))
        ways = ["tolerance", "clearance"] + (["standard uncertainty"] if distribution == "normal" else [])
        joints.append(
            joint_of(
                f"{draw(names).strip()} {k}",
                draw(st.integers(0, 1000)) / 1000,
                key,
                given_as=draw(st.sampled_from(ways)),
                distribution=distribution,
                sensitivity=draw(st.floats(-10, 10)),
                nominal=draw(st.integers(-1000, 1000)) / 1000,
                lever_mm=draw(st.none() | st.floats(1, 100).map(lambda x: round(x, 3)))
                if DIMENSIONS[key].unit == "deg"
                else None,
            )
        )
    return GaugeChain(
        draw(names).strip(),
        sets_by,
        tuple(joints),
        places=draw(st.integers(3, 50)) if sets_by == "trace" else 9,
    )


@settings(max_examples=80, deadline=None)
@given(chains())
def test_any_chain_reads_back_from_its_sheet(chain):
    assert read_chain_sheet(chain_sheet_text(chain)) == chain


REFUSED = [
    ("", "empty"),
    ("name = ", "not valid TOML"),
    ("name = 'a'\nsets_by = 'mark'\n[[joints]\nname = 'x'", "line 3"),
    (
        SHEET.replace('sets_by = "mark"', 'sets_by = "marks"'),
        "the sheet, sets_by: 'marks' is not known; write one of mark",
    ),
    (SHEET.replace('mark = "overhang"', 'mark = "12 kg"'), "the sheet, mark: '12 kg' is no mark; write overhang"),
    (SHEET.replace('mark = "overhang"', "places = 5"), "places: only a trace has them"),
    (SHEET.replace('mark = "overhang"', "marks = 5"), "the sheet does not know 'marks'; did you mean 'mark'"),
    (SHEET.partition("[[joints]]")[0], "lacks joints"),
    (SHEET.replace('"0.05 mm"', "0.05"), r"\[\[joints\]\] number 1, clearance: write text in quotes"),
    (SHEET.replace('"0.05 mm"', '"0.05"'), r"\[\[joints\]\] number 1, clearance: .*0.05 mm|unit"),
    (SHEET.replace('"0.05 mm"', '"0.05 g"'), r"\[\[joints\]\] number 1, clearance: 0.05 g"),
    (SHEET.replace('"0.05 mm"', '"-0.05 mm"'), r"number 1, clearance: -0.05 mm is outside 0 to 50 mm"),
    (SHEET.replace('"0.05 mm"', '"0.05 mm +- 0.01 mm"'), r"number 1, clearance: .* without its ±"),
    (SHEET.replace('clearance = "0.05 mm"', ""), r"number 1 has no play; write one of clearance"),
    (SHEET.replace('lever = "30 mm"', 'clearance = "1 mm"'), "number 2 has clearance and tolerance"),
    (SHEET.replace('lever = "30 mm"', 'lever = "0 mm"'), "number 2, lever: 0 mm is outside 0.1 to 2000 mm"),
    (SHEET.replace('bears_on = "pivot_to_spindle"', 'lever = "1 mm"\nbears_on = "stylus_radius"'), "is no angle"),
    (
        SHEET.replace('"pivot_to_spindle"', '"pivot"'),
        r"number 1, bears_on: 'pivot' is not known; write one of pivot_to",
    ),
    (SHEET.replace("sensitivity = -1", "sensitivity = 'minus'"), "number 2, sensitivity: write a plain number"),
    (SHEET.replace('known_error = "0.05 deg"', 'distribution = "rectangular"'), "number 3: Eye: only a normal error"),
    (SHEET.replace('name = "Eye"', 'name = "Bush"'), "two joints are named 'Bush'"),
    (SHEET.replace('name = "Eye"', 'name = ""'), "number 3, name: the text is empty"),
    (SHEET.replace('"Own beam"', f'"{"x" * 100}"'), "the sheet, name: the text has 100 characters; at most 80"),
    (SHEET.replace('bears_on = "pivot_to_spindle"', 'bears_on = "trace_reading"'), "trace_reading plays no part"),
    (SHEET + '\n[[joints]]\nname = "x"\ntolerances = "1 mm"', r"number 4 does not know 'tolerances'; did you mean"),
]


@pytest.mark.parametrize(("text", "words"), REFUSED)
def test_a_refusal_names_the_place_in_the_sheet(text, words):
    with pytest.raises(ValueError, match=words) as refused:
        read_chain_sheet(text)
    assert "\n" not in str(refused.value)


def test_a_refusal_names_the_file(tmp_path):
    path = tmp_path / "beam.toml"
    path.write_text(SHEET.replace('"0.05 mm"', '"much"'), encoding="utf-8")
    with pytest.raises(ValueError, match=r"beam\.toml: \[\[joints\]\] number 1, clearance: "):
        load_chain_sheet(path)
    with pytest.raises(ValueError, match="cannot be read"):
        load_chain_sheet(tmp_path / "none.toml")


@settings(max_examples=60, deadline=None)
@given(st.text(max_size=60), st.sampled_from(["name", "sets_by", "mark", "clearance", "bears_on", "lever"]))
def test_any_text_for_any_entry_is_read_or_refused_and_nothing_else(text, key):
    lines = [f"{key} = {json.dumps(text)}" if line.startswith(f"{key} = ") else line for line in SHEET.splitlines()]
    for sheet in (text, "\n".join(lines)):
        with contextlib.suppress(ValueError):
            assert read_chain_sheet(sheet).joints


def test_a_sensitivity_scales_and_a_joint_is_kept_whole():
    joint = read_chain_sheet(SHEET).joints[1]
    assert isinstance(joint, Joint)
    assert joint.slope == pytest.approx(-1.9098593, abs=1e-7)
