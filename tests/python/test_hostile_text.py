# SPDX-License-Identifier: GPL-3.0-or-later
"""Study files and tables of strangers: whatever stands in them, they are read or refused in words.

Random texts and texts of the right words in the wrong places are Hypothesis's; each case below it was a traceback, an
endless loop or an open door before its guard stood.
"""

import csv
import math

import msgspec
import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from sievelight.errors import SIEVELIGHT_ERRORS, DataError, InputError
from sievelight.files import safe_name
from sievelight.study.outputs import cell
from sievelight.study.settings import Settings, read_settings
from sievelight.study.table import COLUMNS, ROLES, each_of, parse_frames, read_table
from sievelight.text_files import read_text, read_toml

few = settings(max_examples=150, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture])


@pytest.fixture
def write(tmp_path):
    def write(name, content):
        path = tmp_path / name
        path.write_bytes(content if isinstance(content, bytes) else content.encode())
        return path

    return write


def read_or_refused(reader, path):
    """What the reader gave; None where it refused with one of the three errors, which name a mend."""
    try:
        return reader(path)
    except SIEVELIGHT_ERRORS as error:
        assert error.problem and error.mend, error
        return None


def leaves(value):
    if isinstance(value, dict):
        value = list(value.values())
    if isinstance(value, (list, tuple)):
        for item in value:
            yield from leaves(item)
    else:
        yield value


SECTIONS = {f.name: [k.name for k in msgspec.structs.fields(f.type)] for f in msgspec.structs.fields(Settings)}
numbers = st.one_of(
    st.integers(-5, 5),
    st.floats(0, 3),
    st.sampled_from(["inf", "-inf", "nan", "1e400", "1e-320", "-0.0", "9" * 30, "9" * 5000, "0x7fffffffffffffffff"]),
)
toml_values = st.recursive(
    st.one_of(
        numbers.map(lambda x: x if isinstance(x, str) else repr(x)),
        st.sampled_from(['"line"', '"sphere"', '"nan"', '"1e999"', '"\\u0000"', "true", '""', "1979-05-27", '"../x"']),
        st.text(max_size=8).map(lambda t: msgspec.json.encode(t).decode()),
    ),
    lambda inner: st.lists(inner, max_size=4).map(lambda items: f"[{', '.join(items)}]"),
    max_leaves=6,
)


@st.composite
def study_files(draw):
    lines = []
    for section in draw(st.lists(st.sampled_from(sorted(SECTIONS)), max_size=4, unique=True)):
        lines.append(f"[{section}]")
        for key in draw(st.lists(st.sampled_from(SECTIONS[section]), max_size=4, unique=True)):
            lines.append(f"{key} = {draw(toml_values)}")
    return "\n".join(lines)


@few
@given(content=st.one_of(study_files(), st.text(max_size=60), st.binary(max_size=60)))
def test_a_study_file_is_read_or_refused(write, content):
    found = read_or_refused(read_settings, write("study.toml", content))
    if found is not None:
        for value in leaves(msgspec.to_builtins(found)):
            assert not isinstance(value, float) or math.isfinite(value)


cells = st.one_of(
    st.sampled_from(["", "a", "b", "sample", "0-3", "each 0-2", "1e400", "nan", "²", "=1+1", "'", '"', "\x00", "-1"]),
    st.floats(allow_nan=True).map(repr),
    st.text(max_size=6),
)


@st.composite
def tables(draw):
    header = ["name", "role", "file", *draw(st.lists(st.sampled_from(sorted(COLUMNS[3:])), max_size=4, unique=True))]
    rows = draw(st.lists(st.lists(cells, max_size=len(header) + 1), max_size=5))
    for row in rows:
        if len(row) > 1 and draw(st.booleans()):
            row[1] = draw(st.sampled_from(ROLES))
    return "\n".join(",".join(row) for row in [header, *rows])


@few
@given(content=st.one_of(tables(), st.text(max_size=60), st.binary(max_size=60)))
def test_a_table_is_read_or_refused(write, content):
    for m in read_or_refused(read_table, write("m.csv", content)) or []:
        assert m.name
        assert all(math.isfinite(x) for x in [*m.values.values(), *m.u.values()])
        for problem, mend in m.problems:
            assert problem and mend


@few
@given(text=st.one_of(st.text(alphabet="0123456789-,; all²٣", max_size=20), st.text(max_size=8)))
def test_frames_are_a_list_or_refused(text):
    found = read_or_refused(parse_frames, each_of(text) or text)
    assert found is None or len(found) <= 1_000_000


@pytest.mark.parametrize(
    ("content", "said"),
    [
        ("a = " + "[" * 100_000, "nests lists or tables too deeply"),
        ("a = " + "9" * 5000, "a number that cannot be"),
        (b"\xff\xfe", "not a text file"),
        ("[" + "a" * (1 << 22), "has at most"),
    ],
)
def test_a_toml_bomb_is_refused_in_words(write, content, said):
    with pytest.raises(DataError, match=said):
        read_toml(write("study.toml", content), "study file", "Mend it.")


@pytest.mark.parametrize(
    ("line", "said"),
    [
        ("[instrument]\ndistance_mm = inf", r"\[instrument\] distance_mm is inf"),
        ("[instrument]\nbeam_center_px = [1, nan]", "beam_center_px is nan"),
        ("[instrument]\ndistance_mm = 1e300", "between 1e-30 and 1e.30"),
        ("[detector]\ndead_time_s = 1e-310", "dead_time_s is 1e-310"),
        ('[instrument]\npitch_deg = "nan"', "pitch_deg is nan"),
        ("[distribution]\nseed = " + "9" * 40, "seed"),
        ('[study]\nmeasurements = "a\\u0000b"', "control character"),
        ('[study]\noutput = "../elsewhere"', "no folder below"),
        ('[study]\noutput = "/tmp"', "no folder below"),
        ("[[mask.polygon]]\ncorners_px = [[0, 0], [1, inf], [2, 2]]", r"\[mask\] polygon.corners_px is inf"),
    ],
)
def test_numbers_and_paths_of_a_study_are_bounded(write, line, said):
    with pytest.raises(InputError, match=said):
        read_settings(write("study.toml", line + "\n"))


@pytest.mark.parametrize(
    ("frames", "said"),
    [
        ("²", "not a list"),
        ("9" * 5000, "not a list"),
        (",".join(["0-999999"] * 3), "at most 1000000"),
        ("5-1", "runs backwards"),
    ],
)
def test_a_frames_cell_cannot_ask_for_all_memory(write, frames, said):
    with pytest.raises(InputError, match=said):
        parse_frames(frames)
    table = read_table(write("m.csv", f'name,role,file,frames\na,sample,a.h5,"{frames}"\nb,sample,b.h5,\n'))
    assert table[0].problems and not table[1].problems


@pytest.mark.parametrize(
    "content",
    ["name,role,file\n" + "x" * 200_000, 'name,role,file\n"a\n', "name,role,file\na,sample,\x00\n", "\r\r\r", b"\xff"],
)
def test_an_odd_table_is_no_traceback(write, content):
    read_or_refused(read_table, write("m.csv", content))


def test_a_cell_with_a_control_character_is_told(write):
    table = read_table(write("m.csv", 'name,role,file\na,sample,"x\x07.h5"\nb,sample,b.h5\n'))
    assert "control character" in table[0].problems[0][0] and not table[1].problems


def test_a_pipe_and_a_folder_are_no_text(tmp_path):
    import os

    os.mkfifo(tmp_path / "pipe.toml")
    for name in ("pipe.toml", ".", "none.toml", "a\0b"):
        with pytest.raises(DataError):
            read_text(tmp_path / name, "study file", "Check the path.")


@few
@given(name=st.text(max_size=400))
def test_a_name_is_one_short_file_beside_the_others(name, tmp_path):
    safe = safe_name(name)
    assert (tmp_path / safe).parent == tmp_path and safe not in ("", ".", "..")
    assert "/" not in safe and "\0" not in safe and len(safe.encode()) <= 200
    (tmp_path / f".{safe}.1234567-abcdef01.part").touch()


def test_long_names_that_begin_alike_do_not_share_a_file():
    assert safe_name("a" * 300) != safe_name("a" * 301)


@few
@given(text=st.text(max_size=12))
def test_no_text_in_a_result_is_a_formula(text):
    shown = cell(text)
    assert not shown.startswith(("=", "+", "-", "@", "\t", "\r", "\n"))
    assert shown in (text, f"'{text}")


def test_numbers_stay_numbers():
    assert (cell(-1.5), cell(-3), cell(True), cell(math.nan), cell(None)) == ("-1.5", "-3", "yes", "", "")
    assert next(csv.reader([cell("=HYPERLINK(0)")])) == ["'=HYPERLINK(0)"]
