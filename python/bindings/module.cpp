// SPDX-License-Identifier: GPL-3.0-or-later
#include "bindings.hpp"

PYBIND11_MODULE(_core, m) {
  m.doc() = "The compiled core of Sievelight; use it through the package `sievelight`.";
  bind_base(m);
  bind_curve(m);
  bind_curve_files(m);
  bind_frames(m);
  bind_geometry(m);
  bind_calibration(m);
  bind_masks(m);
  bind_reduce(m);
  bind_slit(m);
  bind_analysis(m);
  bind_peaks(m);
  bind_two_phase(m);
  bind_averages(m);
  bind_shapes(m);
  bind_distribution(m);
  bind_parametric(m);
  bind_series(m);
  bind_compare(m);
  bind_plan(m);
}
