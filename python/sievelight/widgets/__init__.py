# SPDX-License-Identifier: GPL-3.0-or-later
"""Widgets for a notebook: which one do I use, and when.

* Which pixels must not count? :class:`MaskEditor`: rectangles, circles, polygons and pixels on a frame.
* Where is the beam? :class:`BeamPicker`: click it, see a calibrant's rings move with it, refine.
* Which q range? :class:`RangePicker`: drag a range of Guinier's law, of the sizes or of the background, and see Rg and x50
  follow with their bands.
* What did the study find? :class:`StudyBrowser`. How far is it? :class:`StudyWatcher`, which also stops it without loss.

Show one by naming it on the last line of a cell. Each returns plain values, and most of them `toml` (lines for a study) and
`code` (Python), which do again without a hand what the hand did. All of it can be done from the keyboard: Tab goes
through the controls, the picture takes arrow keys, and Tab leaves it again.

This package is not imported by `import sievelight`; it needs the extra `notebook`.
"""

import matplotlib as _matplotlib
import matplotlib.pyplot as _pyplot

try:
    import ipywidgets as _ipywidgets  # noqa: F401

    # The package that draws the live pictures makes itself the default for all pictures when it is imported; a notebook
    # that asked for another default keeps it.
    _before = _matplotlib.get_backend()
    import ipympl as _ipympl  # noqa: F401

    _pyplot.switch_backend(_before)
except ImportError as error:
    raise ImportError(
        f"sievelight.widgets needs the package '{error.name}', which is not installed.\n"
        "Install the extra: pip install 'sievelight[notebook]', then restart the kernel."
    ) from error

from sievelight.widgets.beam_picker import BeamPicker
from sievelight.widgets.mask_editor import MaskEditor
from sievelight.widgets.range_picker import RangePicker
from sievelight.widgets.study_browser import StudyBrowser
from sievelight.widgets.study_watcher import StudyWatcher

__all__ = ["BeamPicker", "MaskEditor", "RangePicker", "StudyBrowser", "StudyWatcher"]
