// SPDX-License-Identifier: GPL-3.0-or-later
#include "bindings.hpp"

#include "sievelight/reduce/desmear.hpp"
#include "sievelight/reduce/slit.hpp"
#include "sievelight/reduce/smear.hpp"

using namespace sievelight;
using Eigen::VectorXd;

namespace {

using Measured2 = std::optional<std::pair<VectorXd, VectorXd>>;

SmearOptions smear_options(const std::string& interpolation, double high_q_exponent) {
  return {.interpolation = word<Interpolation>(interpolation, "kind of interpolation",
                                               {{"linear", Interpolation::linear}, {"cubic", Interpolation::cubic}}),
          .high_q_exponent = high_q_exponent};
}

std::optional<LineWeight> line_weight(const Measured2& measured) {
  if (!measured) return std::nullopt;
  return measured_weight(measured->first, measured->second);
}

}  // namespace

void bind_slit(py::module_& m) {
  py::class_<LineWeight>(m, "LineWeight", "Weight against position: straight between the knots, integral 1.")
      .def_readonly("position", &LineWeight::position)
      .def_readonly("weight", &LineWeight::weight)
      .def(pickle(&LineWeight::position, &LineWeight::weight));
  py::class_<SlitGeometry>(m, "SlitGeometry", "Where positions in mm lie.")
      .def_readonly("distance_mm", &SlitGeometry::distance_mm)
      .def_readonly("wavelength_nm", &SlitGeometry::wavelength_nm)
      .def(pickle(&SlitGeometry::distance_mm, &SlitGeometry::wavelength_nm));
  py::class_<SlitProfile>(m, "SlitProfile", "A line-shaped beam: its profile along the line and across it.")
      .def_readonly("length", &SlitProfile::length)
      .def_readonly("infinite", &SlitProfile::infinite)
      .def_readonly("width", &SlitProfile::width)
      .def_readonly("width_sd", &SlitProfile::width_sd)
      .def_readonly("geometry", &SlitProfile::geometry)
      .def(pickle(&SlitProfile::length, &SlitProfile::infinite, &SlitProfile::width, &SlitProfile::width_sd,
                  &SlitProfile::geometry));
  m.def("trapezoid", &trapezoid, py::arg("half_top"), py::arg("half_base"));
  m.def(
      "slit_profile",
      [](const std::optional<std::pair<double, double>>& trapezoid_halves, const Measured2& length, bool infinite,
         double width_fwhm, const Measured2& width, const std::optional<std::pair<double, double>>& geometry) {
        SlitProfile out;
        out.length = line_weight(length);
        if (trapezoid_halves) out.length = trapezoid(trapezoid_halves->first, trapezoid_halves->second);
        out.infinite = infinite;
        out.width = line_weight(width);
        out.width_sd = sd_of_fwhm(width_fwhm);
        if (geometry) out.geometry = SlitGeometry{geometry->first, geometry->second};
        check(out);
        return out;
      },
      py::kw_only(), py::arg("trapezoid_halves"), py::arg("length"), py::arg("infinite"), py::arg("width_fwhm"),
      py::arg("width"), py::arg("geometry"));
  m.def("with_slit", &with_slit, py::arg("curve"), py::arg("profile"));
  py::class_<SmearingMatrix>(m, "SmearingMatrix", "The slit as a matrix on sampled curves.")
      .def_readonly("q_out_per_nm", &SmearingMatrix::q_out_per_nm)
      .def_readonly("q_in_per_nm", &SmearingMatrix::q_in_per_nm)
      .def_readonly("matrix", &SmearingMatrix::matrix)
      .def_readonly("beyond", &SmearingMatrix::beyond);
  m.def(
      "smearing_matrix",
      [](const VectorXd& q_out, const VectorXd& q_in, const SlitProfile& profile, const std::string& interpolation,
         double high_q_exponent) {
        return smearing_matrix(q_out, q_in, profile, smear_options(interpolation, high_q_exponent));
      },
      py::arg("q_out_per_nm"), py::arg("q_in_per_nm"), py::arg("profile"), py::kw_only(), py::arg("interpolation"),
      py::arg("high_q_exponent"), no_gil());
  py::class_<Desmeared>(m, "Desmeared", "An estimate of what a pinhole would have seen, for plots only.")
      .def_readonly("q_per_nm", &Desmeared::q_per_nm)
      .def_readonly("intensity", &Desmeared::intensity)
      .def_readonly("smeared", &Desmeared::smeared)
      .def_readonly("extrapolated", &Desmeared::extrapolated)
      .def_readonly("iterations", &Desmeared::iterations)
      .def_readonly("chi2_per_point", &Desmeared::chi2_per_point)
      .def_readonly("note", &Desmeared::note)
      .def("__repr__", [](const Desmeared& d) { return py::str("<Desmeared: {}>").format(d.note); });
  m.def(
      "desmear_lake",
      [](const Curve& curve, const SlitProfile& profile, int most_iterations, double chi2_per_point,
         const std::string& interpolation, double high_q_exponent) {
        return desmear_lake(curve, profile,
                            {.most_iterations = most_iterations,
                             .chi2_per_point = chi2_per_point,
                             .smear = smear_options(interpolation, high_q_exponent)});
      },
      py::arg("curve"), py::arg("profile"), py::kw_only(), py::arg("most_iterations"), py::arg("chi2_per_point"),
      py::arg("interpolation"), py::arg("high_q_exponent"), no_gil());
}
