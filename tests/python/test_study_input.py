# SPDX-License-Identifier: GPL-3.0-or-later
"""What a study and its table may say, and what is said back when they are wrong."""

import pytest

from sievelight.errors import DataError, InputError
from sievelight.study.settings import read_settings
from sievelight.study.table import parse_frames, read_table


@pytest.fixture
def write(tmp_path):
    def write(name, text):
        (tmp_path / name).write_text(text)
        return tmp_path / name

    return write


def test_a_study_file_is_read_with_its_defaults(write):
    settings = read_settings(write("s.toml", "[instrument]\nwavelength_nm = 0.154187\nbeam_center_px = [1, 2.5]\n"))
    assert settings.instrument.beam_center_px == (1.0, 2.5)
    assert settings.reduce.bins == 200
    assert settings.compare.margin_percent == 5.0


@pytest.mark.parametrize(
    ("text", "said"),
    [
        ("[instrument]\nwavelenght_nm = 0.15\n", ["wavelenght_nm", "[instrument]", "Did you mean 'wavelength_nm'"]),
        ("[instruments]\n", ["[instruments]", "Did you mean 'instrument'"]),
        ("[instrument]\ndistance_mm = -3\n", ["distance_mm", ">"]),
        ("[instrument]\ndistance_mm = 'far'\n", ["distance_mm"]),
        ("[reduce]\nq_min_per_nm = 2\nq_max_per_nm = 1\n", ["q_min_per_nm", "smaller number first"]),
        ("study = 3\n", ["study", "section"]),
        ('[distribution]\nshape = "spheroid"\n', ["spheroid", "axis_ratio"]),
        ("[distribution]\naxis_ratio = 2.0\n", ["sphere", "nothing more"]),
        ('[distribution]\nshape = "cube"\n', ["shape", "cube"]),
        (
            '[distribution]\nshape = "lamella"\nwidth_nm = 300\nhard_sphere_fraction = 0.2\n',
            ["hard spheres", "lamella"],
        ),
        ("[distribution]\npower_exponent = 5.0\n", ["power_exponent"]),
    ],
)
def test_a_wrong_key_or_value_is_named(write, text, said):
    with pytest.raises(InputError) as caught:
        read_settings(write("s.toml", text))
    for words in ["s.toml", *said]:
        assert words in str(caught.value)


def test_broken_toml_names_the_line(write):
    with pytest.raises(DataError, match="line 2"):
        read_settings(write("s.toml", "[study]\ntitle = \n"))


def test_a_missing_study_file_is_said(tmp_path):
    with pytest.raises(DataError, match="no study file"):
        read_settings(tmp_path / "none.toml")


def test_a_table_is_read_and_rows_of_one_name_are_repeats(write):
    table = read_table(
        write(
            "m.csv",
            "name,role,file,batch,thickness_mm,thickness_u_mm,transmission,transmission_u\n"
            "a,sample,a1.h5,b1,0.15,0.001,0.4,0.002\n"
            "a,sample,a2.h5,b1,,,,\n"
            "\n"
            "# a remark\n"
            "bg,background,bg.h5,,,,0.9,0.001\n",
        )
    )
    assert [m.name for m in table] == ["a", "bg"]
    assert [f for f, _ in table[0].files] == ["a1.h5", "a2.h5"]
    assert table[0].u == {"thickness_mm": 0.001, "transmission": 0.002}
    assert not table[0].problems


def test_a_misspelt_column_names_the_nearest(write):
    with pytest.raises(InputError, match="Did you mean 'transmission'"):
        read_table(write("m.csv", "name,role,file,transmision\na,sample,a.h5,0.5\n"))


@pytest.mark.parametrize(
    ("row", "said"),
    [
        ("a,sampel,a.h5,,,", "Did you mean 'sample'"),
        ("a,sample,,,,", "no file is given"),
        ("a,sample,a.h5,x,,", "'x' is not a number"),
        ("a,sample,a.h5,nan,,", "not a finite number"),
        ("a,sample,a.h5,-1,,", "more than zero"),
        ("a,sample,a.h5,,cell,", "there is no row 'cell'"),
        ("a,sample,a.h5,,,3-1", "runs backwards"),
    ],
)
def test_a_bad_cell_is_a_problem_of_its_row_alone(write, row, said):
    table = read_table(write("m.csv", f"name,role,file,thickness_mm,background,frames\nok,sample,ok.h5,0.1,,\n{row}\n"))
    assert not table[0].problems
    (problem, mend) = table[1].problems[0]
    assert "m.csv row 3" in problem
    assert said in problem + mend


def test_repeats_that_disagree_are_told(write):
    table = read_table(write("m.csv", "name,role,file,thickness_mm\na,sample,1.h5,0.1\na,sample,2.h5,0.2\n"))
    assert "rows 2 and 3" in table[0].problems[0][0]


def test_frames_are_counted_from_zero():
    assert parse_frames("0-2, 5") == [0, 1, 2, 5]
    assert parse_frames("") is None


def test_square_pixels_need_one_number(tmp_path):
    path = tmp_path / "study.toml"
    path.write_text("[instrument]\npixel_size_mm = 0.1\n")
    assert read_settings(path).instrument.pixel_size_mm == (0.1, 0.1)
    path.write_text("[instrument]\npixel_size_mm = [0.1]\n")
    with pytest.raises(ValueError, match="pixel_size_mm"):
        read_settings(path)
