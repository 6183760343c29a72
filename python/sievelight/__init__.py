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

from sievelight import plan, plot, series
from sievelight._core import DataError, Estimate, InputError, NumericalError, Range, __version__
from sievelight.analysis import anisotropy, fit_guinier, fit_porod, invariant, porosity_per_gram, specific_surface
from sievelight.calibrate import calibrate
from sievelight.compare import compare_batches
from sievelight.curve import Curve, merge, read_curves, read_text_curve, write_csv, write_nxcansas
from sievelight.distribution import SizeDistribution, invert, write_distribution
from sievelight.frame_formats import RawFrames, forget_frame_format, known_frame_formats, register_frame_format
from sievelight.frames import (
    find_beamstop_shadow,
    find_defects,
    mask_circle,
    mask_polygon,
    mask_rectangle,
    mask_values,
    open_frames,
    read_mask,
    sum_frames,
)
from sievelight.geometry import (
    DetectorGeometry,
    beam_spot,
    calibrant,
    calibrate_rings,
    find_beam_center,
    find_crystal_spots,
    looks_like_calibrant,
    mask_q_range,
    pixel_map,
)
from sievelight.inspect import inspect_file
from sievelight.ordered import domain_size, find_curve_peaks, index_peaks, ordered_pores
from sievelight.parametric import compare_families, fit_parametric
from sievelight.reduce import (
    Averager,
    Blur,
    absolute_curve,
    absolute_scale,
    average,
    azimuthal_profile,
    compare_repeats,
    find_spikes,
    given_transmission,
    make_bins,
    q_azimuth_map,
    remove_spikes,
    transmission_from_frames,
    transmission_from_monitors,
)
from sievelight.reduce_file import reduce_file
from sievelight.study import StudyPlan, StudyResult, follow_study, plan_study, run_study
from sievelight.two_phase import (
    compare_tail_laws,
    correlation_function,
    fit_contrast_series,
    fit_random_two_phase,
    mean_intensity,
    random_two_phase_surface,
)
from sievelight.what_if import what_if

__all__ = [
    "Averager",
    "Blur",
    "Curve",
    "DataError",
    "DetectorGeometry",
    "Estimate",
    "InputError",
    "NumericalError",
    "Range",
    "RawFrames",
    "SizeDistribution",
    "StudyPlan",
    "StudyResult",
    "__version__",
    "absolute_curve",
    "absolute_scale",
    "anisotropy",
    "average",
    "azimuthal_profile",
    "beam_spot",
    "calibrant",
    "calibrate",
    "calibrate_rings",
    "compare_batches",
    "compare_families",
    "compare_repeats",
    "compare_tail_laws",
    "correlation_function",
    "domain_size",
    "find_beam_center",
    "find_beamstop_shadow",
    "find_crystal_spots",
    "find_curve_peaks",
    "find_defects",
    "find_spikes",
    "fit_contrast_series",
    "fit_guinier",
    "fit_parametric",
    "fit_porod",
    "fit_random_two_phase",
    "follow_study",
    "forget_frame_format",
    "given_transmission",
    "index_peaks",
    "inspect_file",
    "invariant",
    "invert",
    "known_frame_formats",
    "looks_like_calibrant",
    "make_bins",
    "mask_circle",
    "mask_polygon",
    "mask_q_range",
    "mask_rectangle",
    "mask_values",
    "mean_intensity",
    "merge",
    "open_frames",
    "ordered_pores",
    "pixel_map",
    "plan",
    "plan_study",
    "plot",
    "porosity_per_gram",
    "q_azimuth_map",
    "random_two_phase_surface",
    "read_curves",
    "read_mask",
    "read_text_curve",
    "reduce_file",
    "register_frame_format",
    "remove_spikes",
    "run_study",
    "series",
    "specific_surface",
    "sum_frames",
    "transmission_from_frames",
    "transmission_from_monitors",
    "what_if",
    "write_csv",
    "write_distribution",
    "write_nxcansas",
]
