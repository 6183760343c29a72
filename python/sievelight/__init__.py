# SPDX-License-Identifier: GPL-3.0-or-later
"""From small-angle X-ray detector frames to pore-size distributions with honest uncertainties, and a verdict on batches.

Which one do I use, and when?

* The whole job from a study file: `run_study`, then `sievelight.report.write_report`.
* Step by step, in the order in which data flow: `open_frames`, `read_mask`, `find_defects` → `calibrate_rings`,
  `pixel_map` → `make_bins`, `Averager`, `transmission_from_monitors`, `absolute_curve`, `absolute_scale` →
  `fit_guinier`, `fit_porod`, `invariant`, `specific_surface`, `correlation_function`, `find_curve_peaks`,
  `index_peaks` → `invert` → `compare_batches`.
* One file to its curve, without a study: `reduce_file`.
* What does this file hold? `inspect_file`. Masks: `mask_rectangle`, ..., `find_beamstop_shadow`, `find_crystal_spots`.
* Curves from elsewhere: `read_curves` (NXcanSAS, canSAS XML) or `Curve(q_per_nm=..., intensity=..., private_u=...)`;
  two camera lengths of one sample: `merge`.
* Pictures: `sievelight.plot`.
"""

import lazy_loader

from sievelight import results as _results  # noqa: F401 - gives the core's results their plot(), to_dataframe() and save()

# Each name is loaded when it is first used, so that the command and a notebook start at once; __init__.pyi lists them.
__getattr__, __dir__, __all__ = lazy_loader.attach_stub(__name__, __file__)
