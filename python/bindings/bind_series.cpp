// SPDX-License-Identifier: GPL-3.0-or-later
#include "bindings.hpp"

#include "sievelight/compare/compare.hpp"

using namespace sievelight;

namespace {

void bind_change(py::module_& m) {
  using F = SeriesFrame;
  py::class_<F>(m, "SeriesFrame", "One frame of a series against its start.")
      .def_readonly("chi2", &F::chi2)
      .def_readonly("degrees_of_freedom", &F::degrees_of_freedom)
      .def_readonly("p_change", &F::p_change)
      .def_readonly("p_shape", &F::p_shape)
      .def_readonly("contrast_ratio", &F::contrast_ratio)
      .def_readonly("changed", &F::changed)
      .def_readonly("another_shape", &F::another_shape)
      .def(pickle(&F::chi2, &F::degrees_of_freedom, &F::p_change, &F::p_shape, &F::contrast_ratio, &F::changed,
                  &F::another_shape));
  using S = SeriesChange;
  py::class_<S>(m, "SeriesChange", "When the scattering of a series first differs from its start.")
      .def_readonly("frames", &S::frames)
      .def_readonly("first", &S::first)
      .def_readonly("words", &S::words)
      .def("__repr__", [](const S& s) { return py::str("<SeriesChange: {}>").format(s.words); })
      .def(pickle(&S::frames, &S::first, &S::words));
  using H = Hysteresis;
  py::class_<H>(m, "Hysteresis", "The area between the branches of a cycle.")
      .def_readonly("area", &H::area)
      .def_readonly("mean_difference", &H::mean_difference)
      .def_readonly("p_zero", &H::p_zero)
      .def_readonly("common", &H::common)
      .def_readonly("turning_point", &H::turning_point)
      .def("__repr__",
           [](const H& h) {
             return py::str("<Hysteresis: mean difference {:.4g} ± {:.2g}, p {:.2g}>")
                 .format(h.mean_difference.value, h.mean_difference.u, h.p_zero);
           })
      .def(pickle(&H::area, &H::mean_difference, &H::p_zero, &H::common, &H::turning_point));
  const SeriesOptions d;
  m.def(
      "find_change",
      [](const std::vector<Curve>& curves, int start, double alpha, int bands) {
        return find_change(curves, {start, alpha, bands});
      },
      py::arg("curves"), py::kw_only(), py::arg("start") = d.start, py::arg("alpha") = d.alpha,
      py::arg("bands") = d.bands, no_gil());
  m.def(
      "start_of_series",
      [](const std::vector<Curve>& curves, int start) { return start_of_series(on_common_bins(curves), start); },
      py::arg("curves"), py::kw_only(), py::arg("start"), no_gil());
  m.def("hysteresis", &hysteresis, py::arg("x"), py::arg("y"), py::arg("covariance"), py::arg("same_within") = 0.0,
        no_gil());
  m.def("cycles", &cycles, py::arg("x"), py::arg("same_within") = 0.0, no_gil());
  m.def("kelvin_radius_nm", py::vectorize(&kelvin_radius_nm), py::arg("relative_humidity_percent"),
        py::arg("temperature_C"));
}

void bind_filling(py::module_& m) {
  using F = FillingFrame;
  py::class_<F>(m, "FillingFrame", "How far a frame's pores are filled, smallest first.")
      .def_readonly("filled_share", &F::filled_share)
      .def_readonly("filled_up_to_nm", &F::filled_up_to_nm)
      .def_readonly("chi2", &F::chi2)
      .def_readonly("degrees_of_freedom", &F::degrees_of_freedom)
      .def_readonly("p_filling", &F::p_filling)
      .def_readonly("refused", &F::refused)
      .def(pickle(&F::filled_share, &F::filled_up_to_nm, &F::chi2, &F::degrees_of_freedom, &F::p_filling, &F::refused));
  using S = Filling;
  py::class_<S>(m, "Filling", "Whether a filling of the start's pores gives the later curves of a series.")
      .def_readonly("frames", &S::frames)
      .def_readonly("share_covariance", &S::share_covariance)
      .def_readonly("words", &S::words)
      .def("__repr__", [](const S& s) { return py::str("<Filling: {}>").format(s.words); })
      .def(pickle(&S::frames, &S::share_covariance, &S::words));
  const FillingOptions d;
  m.def(
      "find_filling",
      [](const std::vector<Curve>& curves, Eigen::VectorXd diameter_nm, Eigen::MatrixXd cumulative_draws,
         KernelOptions kernel, bool power_law, const SeriesChange& change, int start, double filled_ratio, double alpha,
         int bands) {
        return find_filling(curves, {std::move(diameter_nm), std::move(cumulative_draws), std::move(kernel), power_law},
                            change, {start, filled_ratio, alpha, bands});
      },
      py::arg("curves"), py::kw_only(), py::arg("diameter_nm"), py::arg("cumulative_draws"), py::arg("kernel"),
      py::arg("power_law"), py::arg("change"), py::arg("start") = d.start, py::arg("filled_ratio") = d.filled_ratio,
      py::arg("alpha") = d.alpha, py::arg("bands") = d.bands, no_gil());
}

}  // namespace

void bind_series(py::module_& m) {
  bind_change(m);
  bind_filling(m);
}
