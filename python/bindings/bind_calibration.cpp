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

void bind_beam_spot(py::module_& m) {
  py::class_<BeamSpot>(m, "BeamSpot", "The direct beam's counts inside a circle, its centre and size.")
      .def_readonly("counts", &BeamSpot::counts)
      .def_readonly("u_counts", &BeamSpot::u_counts)
      .def_readonly("background", &BeamSpot::background)
      .def_readonly("radius_px", &BeamSpot::radius_px)
      .def_readonly("x_px", &BeamSpot::x_px)
      .def_readonly("y_px", &BeamSpot::y_px)
      .def_readonly("covariance_px2", &BeamSpot::covariance_px2)
      .def_readonly("fwhm_x_px", &BeamSpot::fwhm_x_px)
      .def_readonly("fwhm_y_px", &BeamSpot::fwhm_y_px)
      .def_readonly("u_fwhm_x_px", &BeamSpot::u_fwhm_x_px)
      .def_readonly("u_fwhm_y_px", &BeamSpot::u_fwhm_y_px)
      .def_readonly("warnings", &BeamSpot::warnings)
      .def("__repr__", [](const BeamSpot& b) {
        return fmt::format(
            "BeamSpot({:.6g} +- {:.2g} counts within {:.1f} px of ({:.3f}, {:.3f}), FWHM {:.2f} by {:.2f} px)",
            b.counts, b.u_counts, b.radius_px, b.x_px, b.y_px, b.fwhm_x_px, b.fwhm_y_px);
      });
  const BeamSpotOptions spot;
  m.def(
      "beam_spot",
      [](const Image& counts, const Mask& masked, double radius_px, double gap_px, double annulus_px,
         std::optional<Pair> near_px, double search_px, double saturation_value) {
        return beam_spot(counts, masked, {radius_px, gap_px, annulus_px, near_px, search_px, saturation_value});
      },
      no_gil(), py::arg("counts"), py::arg("masked"), py::kw_only(), py::arg("radius_px") = spot.radius_px,
      py::arg("gap_px") = spot.gap_px, py::arg("annulus_px") = spot.annulus_px, py::arg("near_px") = py::none(),
      py::arg("search_px") = spot.search_px, py::arg("saturation_value") = spot.saturation_value);
}

void bind_sample_plane(py::module_& m) {
  m.def("with_sample_offset", &with_sample_offset, py::arg("geometry"), py::arg("offset_mm"));
  py::class_<SamplePlaneOffsets>(m, "SamplePlaneOffsets",
                                 "How far positions stand nearer to the detector than the reference.")
      .def_readonly("offset_mm", &SamplePlaneOffsets::offset_mm)
      .def_readonly("covariance", &SamplePlaneOffsets::covariance)
      .def_readonly("reference", &SamplePlaneOffsets::reference)
      .def("u_mm", &SamplePlaneOffsets::u_mm, py::arg("position"), "Standard uncertainty of a position's offset, mm.");
  m.def("sample_plane_offsets", &sample_plane_offsets, py::arg("positions"), py::arg("reference") = 0);
  m.def("geometry_components_at",
        py::overload_cast<const RingCalibration&, double, double, const std::string&>(&geometry_components),
        py::arg("calibration"), py::arg("offset_mm"), py::arg("u_offset_mm"), py::arg("position"));
}

}  // namespace

void bind_calibration(py::module_& m) {
  bind_rings(m);
  bind_beam_spot(m);
  bind_sample_plane(m);
  m.def(
      "calibrate_strip",
      [](const Image& counts, const Mask& masked, const Calibrant& calibrant, double wavelength_nm, Pair pixel_size_mm,
         std::optional<double> distance_mm, std::optional<Pair> beam_center_px, int max_order) {
        RingOptions options;
        options.max_order = max_order;
        return calibrate_strip(counts, masked, knowledge(wavelength_nm, pixel_size_mm, distance_mm, beam_center_px),
                               calibrant, options);
      },
      no_gil(), py::arg("counts"), py::arg("masked"), py::kw_only(), py::arg("calibrant"), py::arg("wavelength_nm"),
      py::arg("pixel_size_mm"), py::arg("distance_mm") = py::none(), py::arg("beam_center_px") = py::none(),
      py::arg("max_order") = 0);
  m.def("looks_like_calibrant", &looks_like_calibrant, no_gil(), py::arg("counts"), py::arg("map"), py::arg("masked"));
}
