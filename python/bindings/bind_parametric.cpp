// SPDX-License-Identifier: GPL-3.0-or-later
#include "bindings.hpp"

#include "sievelight/distribution/parametric.hpp"

#include <stdexcept>

using namespace sievelight;

SizeFamily family_called(const std::string& wanted) {
  for (const SizeFamily family : all_families())
    if (wanted == name(family)) return family;
  throw std::out_of_range(wanted);
}

void bind_parametric(py::module_& m) {
  using F = ParametricFit;
  py::class_<F>(m, "ParametricFit", "A named distribution fitted to a curve; its errors are conditional on the family.")
      .def_readonly("family", &F::family)
      .def_readonly("shape", &F::shape)
      .def_readonly("parameters", &F::parameters)
      .def_readonly("x10_nm", &F::x10_nm)
      .def_readonly("x50_nm", &F::x50_nm)
      .def_readonly("x90_nm", &F::x90_nm)
      .def_readonly("mean_nm", &F::mean_nm)
      .def_readonly("relative_width", &F::relative_width)
      .def_readonly("phi_one_minus_phi", &F::phi_one_minus_phi)
      .def_readonly("volume_fraction", &F::volume_fraction)
      .def_readonly("background", &F::background)
      .def_readonly("power_law_k", &F::power_law_k)
      .def_readonly("diameter_nm", &F::diameter_nm)
      .def_readonly("q3_per_nm", &F::q3_per_nm)
      .def_readonly("q3_low95", &F::q3_low95)
      .def_readonly("q3_high95", &F::q3_high95)
      .def_readonly("q_per_nm", &F::q_per_nm)
      .def_readonly("measured", &F::measured)
      .def_readonly("fit", &F::fit)
      .def_readonly("residual", &F::residual)
      .def_readonly("chi2", &F::chi2)
      .def_readonly("degrees_of_freedom", &F::degrees_of_freedom)
      .def_readonly("probability", &F::probability)
      .def_readonly("bic", &F::bic)
      .def_readonly("noise_scale", &F::noise_scale)
      .def_readonly("influence", &F::influence)
      .def_readonly("warnings", &F::warnings)
      .def("__repr__", [](const F& f) {
        return py::str("<ParametricFit: {}, x50 {:.4g} ± {:.2g} nm, chi2 {:.4g} for {:.0f} degrees, BIC {:.1f}>")
            .format(f.family, f.x50_nm.value, f.x50_nm.u, f.chi2, f.degrees_of_freedom, f.bic);
      });
  m.def("size_families", [] {
    std::vector<std::string> names;
    for (const SizeFamily family : all_families()) names.emplace_back(name(family));
    return names;
  });
  m.def(
      "fit_parametric",
      [](const Curve& curve, const std::string& family, double contrast_per_cm2, bool power_law,
         const std::optional<Range>& q_range_per_nm, std::uint64_t seed, const KernelOptions& kernel) {
        return fit_parametric(curve, family_called(family),
                              {contrast_per_cm2, power_law, q_range_per_nm, seed, kernel});
      },
      no_gil(), py::arg("curve"), py::arg("family"), py::kw_only(), py::arg("contrast_per_cm2"), py::arg("power_law"),
      py::arg("q_range_per_nm"), py::arg("seed"), py::arg("kernel"));
}
