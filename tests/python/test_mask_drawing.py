# SPDX-License-Identifier: GPL-3.0-or-later
"""A mask as it is drawn: its text, read by a study, gives the very same pixels, and so does its Python."""

from types import SimpleNamespace

import numpy as np
import pytest

import sievelight as sl
from sievelight.study.masks import study_mask
from sievelight.study.settings import parse_settings
from sievelight.widgets import drawing
from sievelight.widgets.cover import cover
from sievelight.widgets.drawing import Drawing, Stroke, strokes_of

SHAPE = (60, 80)


def as_a_study_masks(toml, shape=SHAPE, folder=None):
    """The mask that a study makes of the text; its own search for defects is off, because it is not what was drawn."""
    settings = parse_settings("[mask]\nfind_defects = false\n" + toml)
    nothing = np.zeros(shape, dtype=bool)
    exposure = SimpleNamespace(counts=np.ones(shape), masked=nothing)
    row = SimpleNamespace(exposures=[exposure], metadata=SimpleNamespace(saturation_value=None))
    return study_mask(settings, folder, {"row": row})


def as_python_masks(code, **names):
    exec(code, names := {"np": np, "sl": sl, **names})
    return names["masked"]


def some_strokes(rng, n):
    """Shapes at random places, a third of them erasing, some of all outside the shape."""
    for _ in range(n):
        a, b = rng.uniform(0, (SHAPE[1] - 1, SHAPE[0] - 1)), rng.uniform(0, (SHAPE[1] - 1, SHAPE[0] - 1))
        how = {"erase": bool(rng.random() < 0.34), "outside": bool(rng.random() < 0.1)}
        kind = rng.integers(4)
        if kind == 0:
            yield drawing.rectangle(tuple(a), tuple(b), **how)
        elif kind == 1:
            yield drawing.circle(tuple(a), tuple(a + rng.uniform(2, 12, 2)), **how)
        elif kind == 2:
            yield drawing.polygon([tuple(a), tuple(b), tuple(rng.uniform(5, 55, 2))], **how)
        else:
            yield drawing.pixels([tuple(a), tuple(b)], erase=how["erase"])


@pytest.mark.parametrize("seed", range(12))
def test_the_text_gives_the_same_pixels_in_a_study_whatever_was_drawn(seed):
    rng = np.random.default_rng(seed)
    drawn = Drawing(SHAPE, start=rng.random(SHAPE) < 0.02 if seed % 2 else None)
    for stroke in some_strokes(rng, 9):
        drawn.add(stroke)
    if not drawn.mask.all():
        assert np.array_equal(as_a_study_masks(drawn.toml), drawn.mask)
    assert np.array_equal(as_python_masks(drawn.code, start=drawn.start), drawn.mask)


def test_a_shape_that_nothing_cuts_is_written_as_it_was_drawn():
    drawn = Drawing(SHAPE)
    drawn.add(drawing.circle((40.04, 30), (50, 30)))
    drawn.add(drawing.rectangle((2.4, 3.6), (9.6, 5.2)))
    drawn.add(drawing.rectangle((60, 50), (70, 55), erase=True))  # touches neither
    assert drawn.toml == (
        "[[mask.circle]]\ncenter_px = [40.0, 30.0]\nradius_px = 10.0\n\n[[mask.rectangle]]\nx_px = [2, 10]\ny_px = [4, 5]\n"
    )


def test_shapes_of_a_study_are_gone_on_with():
    text = "[[mask.polygon]]\ncorners_px = [[1.0, 1.0], [20.0, 1.0], [1.0, 20.0]]\n\n[[mask.circle]]\ncenter_px = [40.0, 30.0]\nradius_px = 35.0\noutside = true\n"
    drawn = Drawing(SHAPE)
    for stroke in strokes_of(text):
        drawn.add(stroke)
    assert np.array_equal(as_a_study_masks(text), drawn.mask)
    assert np.array_equal(as_a_study_masks(drawn.toml), drawn.mask)


def test_undo_and_redo_go_through_the_strokes():
    drawn = Drawing(SHAPE)
    masks = [drawn.mask]
    for stroke in (
        drawing.rectangle((1, 1), (5, 5)),
        drawing.circle((30, 30), (35, 30)),
        drawing.pixels([(3, 3)], erase=True),
    ):
        drawn.add(stroke)
        masks.append(drawn.mask)
    for expected in masks[-2::-1]:
        drawn.undo()
        assert np.array_equal(drawn.mask, expected)
    assert drawn.undo() is None
    for expected in masks[1:]:
        drawn.redo()
        assert np.array_equal(drawn.mask, expected)
    assert drawn.redo() is None
    drawn.undo()
    drawn.add(drawing.pixels([(0, 0)]))
    assert drawn.redo() is None, "a new stroke ends what could be done again"


def test_a_stroke_that_touches_nothing_is_refused_and_changes_nothing():
    drawn = Drawing(SHAPE)
    with pytest.raises(sl.InputError):
        drawn.add(Stroke("circle", {"center_px": (500.0, 500.0), "radius_px": 3.0}))
    with pytest.raises(sl.InputError, match="outside of the frame"):
        drawn.add(drawing.pixels([(80, 3)]))
    assert not drawn.strokes and not drawn.mask.any()
    with pytest.raises(sl.InputError, match=r"shape \(3, 4\)"):
        Drawing(SHAPE, start=np.zeros((3, 4), dtype=bool))


def test_rectangles_cover_a_mask_without_overlap():
    rng = np.random.default_rng(3)
    for share in (0.0, 0.05, 0.5, 0.95, 1.0):
        masked = rng.random((17, 23)) < share
        times = np.zeros(masked.shape, dtype=int)
        for (c0, c1), (r0, r1) in cover(masked):
            times[r0 : r1 + 1, c0 : c1 + 1] += 1
        assert np.array_equal(times, masked.astype(int))
