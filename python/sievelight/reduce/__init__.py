# SPDX-License-Identifier: GPL-3.0-or-later
"""From frames to curves in 1/cm: bins, corrections, averages, transmission, background, absolute scale.

Which one do I use, and when?

* :func:`make_bins`, then :func:`average` for one measurement, or :class:`Averager` for many with one geometry.
* :func:`given_transmission`, :func:`transmission_from_monitors` or :func:`transmission_from_frames`.
* :func:`absolute_curve` subtracts the background and divides by transmission and thickness; for the standard without
  ``absolute_scale``, then :func:`absolute_scale` gives k for all other samples.
* :func:`azimuthal_profile` and :func:`q_azimuth_map` for oriented samples; :func:`area_average` for smooth pictures.
* :func:`find_spikes`, :func:`remove_spikes` and :func:`compare_repeats` for several exposures of one sample.
* :func:`fit_background_factor` where neither transmission nor the background's monitor are known.
* :func:`slit_profile`, :func:`smear` and :func:`desmear` for line-shaped beams.
* :func:`geometry_shifts` and :func:`add_geometry_causes` put the calibration's error on each curve.

Units: q in 1/nm, lengths in mm, times in s, intensity in 1/cm, angles in degrees. ``_u`` is a standard uncertainty.
"""

from sievelight._core import (
    MULTIPLE_SCATTERING_ABOVE,
    Absolute,
    AbsoluteScale,
    Absorber,
    AreaAveraged,
    Averaged,
    AzimuthalProfile,
    BackgroundFactor,
    Blur,
    CapillaryShape,
    Desmeared,
    FlatField,
    GeometryShift,
    IntensityStandard,
    Measured,
    OverSubtraction,
    PlateShape,
    PowderMass,
    QAzimuthMap,
    RepeatReport,
    RepeatTest,
    RepeatTrend,
    ScatteringProbability,
    SlitProfile,
    SmearingMatrix,
    Spike,
    SpikeReport,
    Step,
    StepEffect,
    Transmission,
)
from sievelight.reduce.absolute import (
    absolute_curve,
    absolute_scale,
    dispersant,
    fit_background_factor,
    over_subtracted,
    plate_self_absorption,
    powder_mass,
    scale_from_direct_beam,
    scattering_probability,
    srm3600,
    water_standard,
    with_curve,
)
from sievelight.reduce.average import (
    Averager,
    average,
    average_options,
    check_step,
    flat_field,
    reduction_steps,
    whole_chain,
)
from sievelight.reduce.azimuth import area_average, azimuthal_profile, q_azimuth_map
from sievelight.reduce.bins import linear_edges, log_edges, make_bins, usable_q
from sievelight.reduce.causes import add_geometry_causes, add_wavelength_cause, geometry_shifts, q_u_per_nm
from sievelight.reduce.repeats import compare_repeats, find_spikes, remove_spikes
from sievelight.reduce.slit import desmear, slit_profile, smear, smearing_matrix, with_slit
from sievelight.reduce.transmission import given_transmission, transmission_from_frames, transmission_from_monitors

__all__ = [
    "MULTIPLE_SCATTERING_ABOVE",
    "Absolute",
    "AbsoluteScale",
    "Absorber",
    "AreaAveraged",
    "Averaged",
    "Averager",
    "AzimuthalProfile",
    "BackgroundFactor",
    "Blur",
    "CapillaryShape",
    "Desmeared",
    "FlatField",
    "GeometryShift",
    "IntensityStandard",
    "Measured",
    "OverSubtraction",
    "PlateShape",
    "PowderMass",
    "QAzimuthMap",
    "RepeatReport",
    "RepeatTest",
    "RepeatTrend",
    "ScatteringProbability",
    "SlitProfile",
    "SmearingMatrix",
    "Spike",
    "SpikeReport",
    "Step",
    "StepEffect",
    "Transmission",
    "absolute_curve",
    "absolute_scale",
    "add_geometry_causes",
    "add_wavelength_cause",
    "area_average",
    "average",
    "average_options",
    "azimuthal_profile",
    "check_step",
    "compare_repeats",
    "desmear",
    "dispersant",
    "find_spikes",
    "fit_background_factor",
    "flat_field",
    "geometry_shifts",
    "given_transmission",
    "linear_edges",
    "log_edges",
    "make_bins",
    "over_subtracted",
    "plate_self_absorption",
    "powder_mass",
    "q_azimuth_map",
    "q_u_per_nm",
    "reduction_steps",
    "remove_spikes",
    "scale_from_direct_beam",
    "scattering_probability",
    "slit_profile",
    "smear",
    "smearing_matrix",
    "srm3600",
    "transmission_from_frames",
    "transmission_from_monitors",
    "usable_q",
    "water_standard",
    "whole_chain",
    "with_curve",
    "with_slit",
]
