// SPDX-License-Identifier: GPL-3.0-or-later
#include "bindings.hpp"

#include "sievelight/plan/plan.hpp"

using namespace sievelight;

namespace {

void bind_rates(py::module_& m) {
  py::class_<CountingRates>(m, "CountingRates",
                            "Counting variance times seconds of each bin, and the u that no counting removes.")
      .def(py::init([](Eigen::VectorXd sample, Eigen::VectorXd background, Eigen::VectorXd floor) {
             return CountingRates{std::move(sample), std::move(background), std::move(floor)};
           }),
           py::kw_only(), py::arg("sample"), py::arg("background"), py::arg("floor"))
      .def_readonly("sample", &CountingRates::sample)
      .def_readonly("background", &CountingRates::background)
      .def_readonly("floor", &CountingRates::floor);
  m.def("predicted_u", &predicted_u, py::arg("rates"), py::kw_only(), py::arg("sample_s"), py::arg("background_s"));

  py::class_<SummaryRates>(m, "SummaryRates", "Counting variance of one summary, times seconds.")
      .def(py::init([](double sample, double background) {
             return SummaryRates{sample, background};
           }),
           py::kw_only(), py::arg("sample"), py::arg("background"))
      .def_readonly("sample", &SummaryRates::sample)
      .def_readonly("background", &SummaryRates::background)
      .def("variance", &SummaryRates::variance, py::kw_only(), py::arg("sample_s"), py::arg("background_s"));
  m.def("summary_rates", &summary_rates, py::arg("rates"), py::arg("influence"));
  m.def("best_split", &best_split, py::arg("rates"), py::kw_only(), py::arg("samples"));

  const auto beam = [](double photons_per_s, double transmission, double cell_transmission, double thickness_mm,
                       double wavelength_nm, double azimuth_share, double efficiency) {
    return ExpectedBeam{photons_per_s, transmission,  cell_transmission, thickness_mm,
                        wavelength_nm, azimuth_share, efficiency};
  };
  py::class_<ExpectedBeam>(m, "ExpectedBeam", "The beam and what stands in it.")
      .def(py::init(beam), py::kw_only(), py::arg("photons_per_s"), py::arg("transmission") = 1.0,
           py::arg("cell_transmission") = 1.0, py::arg("thickness_mm") = 1.0, py::arg("wavelength_nm"),
           py::arg("azimuth_share") = 1.0, py::arg("efficiency") = 1.0)
      .def_readonly("photons_per_s", &ExpectedBeam::photons_per_s)
      .def_readonly("transmission", &ExpectedBeam::transmission)
      .def_readonly("thickness_mm", &ExpectedBeam::thickness_mm);
  m.def("counts_per_s", &counts_per_s, py::arg("bins"), py::arg("beam"));
  m.def("expected_rates", &expected_rates, py::arg("expected"), py::kw_only(), py::arg("background_per_cm"),
        py::arg("beam"), py::arg("relative_floor"));
}

}  // namespace

void bind_plan(py::module_& m) {
  bind_rates(m);
  py::class_<ExposureLaw>(m, "ExposureLaw", "u^2 = (a t^-b)^2 + floor^2.")
      .def_readonly("a", &ExposureLaw::a)
      .def_readonly("b", &ExposureLaw::b)
      .def_readonly("floor", &ExposureLaw::floor)
      .def("u", &ExposureLaw::u, py::arg("exposure_s"))
      .def("exposure_s", &ExposureLaw::exposure_s, py::arg("u"))
      .def("pays_until_s", &ExposureLaw::pays_until_s)
      .def("__repr__", [](const ExposureLaw& l) {
        return py::str("<ExposureLaw: u² = ({:.3g} t^-{:.3f})² + {:.3g}²>").format(l.a, l.b, l.floor);
      });
  m.def("fit_exposure_law", &fit_exposure_law, py::arg("exposure_s"), py::arg("u_counting"), py::kw_only(),
        py::arg("floor") = 0.0);

  py::class_<NamedSample>(m, "NamedSample", "A sample that is supposed to be there.")
      .def(py::init([](const std::string& family, Eigen::VectorXd parameters, double volume, double contrast_per_cm2,
                       double flat_level, double power_law_k) {
             return NamedSample{
                 family_called(family), std::move(parameters), volume, contrast_per_cm2, flat_level, power_law_k};
           }),
           py::kw_only(), py::arg("family"), py::arg("parameters"), py::arg("volume"),
           py::arg("contrast_per_cm2") = 0.0, py::arg("flat_level") = 0.0, py::arg("power_law_k") = 0.0);
  py::class_<Foreseen>(m, "Foreseen", "One number with the error that the information of a curve leaves.")
      .def_readonly("value", &Foreseen::value)
      .def_readonly("u", &Foreseen::u)
      .def_readonly("influence", &Foreseen::influence)
      .def("__repr__", [](const Foreseen& f) { return py::str("<Foreseen: {:.5g} ± {:.2g}>").format(f.value, f.u); });
  m.def("expected_intensity", &expected_intensity, no_gil(), py::arg("bins"), py::arg("sample"), py::kw_only(),
        py::arg("kernel"));
  m.def("foresee", &foresee, no_gil(), py::arg("curve"), py::arg("sample"), py::kw_only(), py::arg("power_law"),
        py::arg("kernel"));
}
