// SPDX-License-Identifier: GPL-3.0-or-later
#include "bindings.hpp"

#include "sievelight/geometry/geometry.hpp"

#include <fmt/format.h>

using namespace sievelight;

namespace {

using Pair = std::pair<double, double>;

RingKnowledge knowledge(double wavelength_nm, Pair pixel_size_mm, std::optional<double> distance_mm,
                        std::optional<Pair> beam_center_px) {
  RingKnowledge known;
  known.wavelength_nm = wavelength_nm;
  known.pixel_size_x_mm = pixel_size_mm.first;
  known.pixel_size_y_mm = pixel_size_mm.second;
  known.distance_mm = distance_mm;
  known.beam_center_px = beam_center_px;
  return known;
}

void bind_rings(py::module_& m) {
  const RingOptions ring;
  m.def(
      "calibrate_rings_from_nothing",
      [](const Image& counts, const Mask& masked, const Calibrant& calibrant, double wavelength_nm, Pair pixel_size_mm,
         std::optional<double> distance_mm, std::optional<Pair> beam_center_px, bool refine_tilt, int max_order,
         double search_relative, double search_px, double beam_fwhm_mm) {
        return calibrate_rings(counts, masked, knowledge(wavelength_nm, pixel_size_mm, distance_mm, beam_center_px),
                               calibrant, {refine_tilt, max_order, search_relative, search_px, beam_fwhm_mm});
      },
      no_gil(), py::arg("counts"), py::arg("masked"), py::kw_only(), py::arg("calibrant"), py::arg("wavelength_nm"),
      py::arg("pixel_size_mm"), py::arg("distance_mm") = py::none(), py::arg("beam_center_px") = py::none(),
      py::arg("refine_tilt") = ring.refine_tilt, py::arg("max_order") = ring.max_order,
      py::arg("search_relative") = ring.search_relative, py::arg("search_px") = ring.search_px,
      py::arg("beam_fwhm_mm") = ring.beam_fwhm_mm);
}

}  // namespace

void bind_calibration(py::module_& m) { bind_rings(m); }
