// SPDX-License-Identifier: GPL-3.0-or-later
#include "bindings.hpp"

#include "sievelight/distribution/distribution.hpp"

using namespace sievelight;

namespace {

// Ranges and estimates travel as tuples in a pickle, everything else as it is.
py::object pack(const Range& r) { return py::make_tuple(r.low, r.high); }
py::object pack(const Estimate& e) { return py::make_tuple(e.value, e.u, pack(e.band68), pack(e.band95)); }
py::object pack(const std::map<std::string, Estimate>& all) {
  py::dict out;
  for (const auto& [name, e] : all) out[py::str(name)] = pack(e);
  return out;
}
py::object pack(const std::map<std::string, Band>& all) {
  py::dict out;
  for (const auto& [name, b] : all) out[py::str(name)] = py::make_tuple(b.median, b.low68, b.high68, b.low95, b.high95);
  return out;
}
template <typename T>
py::object pack(const T& value) {
  return py::cast(value);
}

void unpack(const py::handle& from, Range& r) {
  const auto t = from.cast<py::sequence>();
  r = {t[0].cast<double>(), t[1].cast<double>()};
}
void unpack(const py::handle& from, Estimate& e) {
  const auto t = from.cast<py::sequence>();
  e.value = t[0].cast<double>();
  e.u = t[1].cast<double>();
  unpack(t[2], e.band68);
  unpack(t[3], e.band95);
}
void unpack(const py::handle& from, std::map<std::string, Estimate>& all) {
  for (const auto& [name, value] : py::cast<py::dict>(from)) unpack(value, all[name.cast<std::string>()]);
}
void unpack(const py::handle& from, std::map<std::string, Band>& all) {
  for (const auto& [name, value] : py::cast<py::dict>(from)) {
    const auto t = value.cast<py::sequence>();
    Band& b = all[name.cast<std::string>()];
    std::size_t k = 0;
    for (Eigen::VectorXd* v : {&b.median, &b.low68, &b.high68, &b.low95, &b.high95})
      *v = t[k++].cast<Eigen::VectorXd>();
  }
}
template <typename T>
void unpack(const py::handle& from, T& value) {
  value = from.cast<T>();
}

py::dict state(const SizeDistribution& d) {
  py::dict out;
  for_each_field([&](const char* name, auto member) { out[name] = pack(d.*member); });
  return out;
}

SizeDistribution from_state(const py::dict& from) {
  SizeDistribution d;
  for_each_field([&](const char* name, auto member) { unpack(from[name], d.*member); });
  return d;
}

}  // namespace

void bind_distribution(py::module_& m) {
  py::class_<SizeGrid>(m, "SizeGrid", "Sizes of an inversion, equally spaced in ln D.")
      .def_readonly("diameter_nm", &SizeGrid::diameter_nm)
      .def_readonly("step", &SizeGrid::step)
      .def_property_readonly("window_nm", &SizeGrid::window_nm);
  py::class_<Kernel>(m, "Kernel", "From a size distribution to a curve; depends on q, sizes and shape only.")
      .def_readonly("grid", &Kernel::grid)
      .def_readonly("shape", &Kernel::shape)
      .def_readonly("q_per_nm", &Kernel::q_per_nm)
      .def_readonly("volume_nm3", &Kernel::volume_nm3)
      .def_readonly("power_law", &Kernel::power_law);
  py::enum_<InversionMethod>(m, "InversionMethod")
      .value("sampled", InversionMethod::sampled)
      .value("evidence", InversionMethod::evidence)
      .value("cross_validation", InversionMethod::cross_validation)
      .value("l_curve", InversionMethod::l_curve)
      .value("maximum_entropy", InversionMethod::maximum_entropy);
  py::enum_<FractionRoot>(m, "FractionRoot")
      .value("smaller", FractionRoot::smaller)
      .value("larger", FractionRoot::larger);
  py::enum_<AlsoFit>(m, "AlsoFit")
      .value("nothing", AlsoFit::nothing)
      .value("hard_sphere_fraction", AlsoFit::hard_sphere_fraction)
      .value("power_exponent", AlsoFit::power_exponent);
  py::class_<InvertOptions>(m, "InvertOptions")
      .def(py::init<>())
      .def_readwrite("diameter_nm", &InvertOptions::diameter_nm)
      .def_readwrite("contrast_per_cm2", &InvertOptions::contrast_per_cm2)
      .def_readwrite("power_law", &InvertOptions::power_law)
      .def_readwrite("method", &InvertOptions::method)
      .def_readwrite("seed", &InvertOptions::seed)
      .def_readwrite("draws", &InvertOptions::draws)
      .def_readwrite("q_range_per_nm", &InvertOptions::q_range_per_nm)
      .def_readwrite("root", &InvertOptions::root)
      .def_readwrite("kernel", &InvertOptions::kernel)
      .def_readwrite("also_fit", &InvertOptions::also_fit)
      .def_readwrite("look_for_order", &InvertOptions::look_for_order);
  py::class_<Band>(m, "Band", "A curve with its central 68 % and 95 % intervals, point by point.")
      .def_readonly("median", &Band::median)
      .def_readonly("low68", &Band::low68)
      .def_readonly("high68", &Band::high68)
      .def_readonly("low95", &Band::low95)
      .def_readonly("high95", &Band::high95);
  py::class_<SizeDistribution> result(m, "SizeDistribution");
  result.def(py::init<>())
      .def("to_dict", &state,
           "All fields as plain values: estimates are (value, u, (low, high) 68 %, (low, high) 95 %).")
      .def_static("from_dict", &from_state, py::arg("state"), "The distribution that to_dict() described.")
      .def(py::pickle(&state, &from_state))
      .def("__repr__", [](const SizeDistribution& d) {
        return py::str(
                   "<SizeDistribution: x50 {:.4g} ± {:.2g} nm, relative width {:.3g} ± {:.2g}, window {:.3g} to {:.3g} "
                   "nm, {} warnings>")
            .format(d.x50_nm.value, d.x50_nm.u, d.relative_width.value, d.relative_width.u, d.window_nm.low,
                    d.window_nm.high, d.warnings.size());
      });
  for_each_field([&](const char* name, auto member) { result.def_readonly(name, member); });
  m.def(
      "make_kernel", [](const Curve& curve, const InvertOptions& options) { return make_kernel(curve, options); },
      py::arg("curve"), py::arg("options"), no_gil());
  m.def("invert", py::overload_cast<const Curve&, const InvertOptions&>(&invert), py::arg("curve"), py::arg("options"),
        no_gil());
  m.def("invert", py::overload_cast<const Curve&, const Kernel&, const InvertOptions&>(&invert), py::arg("curve"),
        py::arg("kernel"), py::arg("options"), no_gil());
  py::class_<TradeOff>(m, "TradeOff", "What every strength of the smoothness penalty would cost and bring.")
      .def_readonly("ln_strength", &TradeOff::ln_strength)
      .def_readonly("chi2_per_point", &TradeOff::chi2_per_point)
      .def_readonly("roughness", &TradeOff::roughness)
      .def_readonly("effective", &TradeOff::effective)
      .def_readonly("ln_evidence", &TradeOff::ln_evidence)
      .def_readonly("cross_validation", &TradeOff::cross_validation)
      .def_readonly("diameter_nm", &TradeOff::diameter_nm)
      .def_readonly("density", &TradeOff::density)
      .def_readonly("by_evidence", &TradeOff::by_evidence)
      .def_readonly("by_cross_validation", &TradeOff::by_cross_validation)
      .def_readonly("at_corner", &TradeOff::at_corner)
      .def("__repr__", [](const TradeOff& t) {
        return py::str(
                   "<TradeOff: {} strengths, ln strength {:.2f} by evidence, {:.2f} by cross-validation, {:.2f} at "
                   "the corner>")
            .format(t.ln_strength.size(), t.ln_strength[t.by_evidence], t.ln_strength[t.by_cross_validation],
                    t.ln_strength[t.at_corner]);
      });
  m.def("trade_off", &trade_off, py::arg("curve"), py::arg("options"), no_gil());
  m.def(
      "write_distribution",
      [](const std::string& path, const SizeDistribution& d, const std::string& title) {
        write_distribution(path, d, {title});
      },
      py::arg("path"), py::arg("distribution"), py::kw_only(), py::arg("title") = "", no_gil());
  m.def("sphere_form_factor", py::vectorize(&sphere_form_factor), py::arg("q_times_radius"),
        "P(x) of a uniform sphere, x = q R.");
}
