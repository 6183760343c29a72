// SPDX-License-Identifier: GPL-3.0-or-later
#include "bindings.hpp"

#include "sievelight/base/error.hpp"
#include "sievelight/curve/arithmetic.hpp"
#include "sievelight/curve/assumed_u.hpp"
#include "sievelight/curve/curve.hpp"
#include "sievelight/curve/influence.hpp"

using namespace sievelight;
using Eigen::VectorXd;

namespace {

using Causes = std::map<std::string, Cause>;

CauseKind kind_from(const std::string& text) {
  for (const CauseKind kind : {CauseKind::pointwise, CauseKind::coherent})
    if (text == name(kind)) return kind;
  throw InputError("'" + text + "' is not a kind of cause.", "Use 'pointwise' or 'coherent'.");
}

IntensityUnit unit_from(const std::string& text) {
  for (const IntensityUnit unit : {IntensityUnit::relative, IntensityUnit::per_cm, IntensityUnit::cm2_per_g})
    if (text == name(unit)) return unit;
  throw InputError("'" + text + "' is not a unit of intensity.", "Use 'relative', '1/cm' or 'cm2/g'.");
}

// Copies that cannot be written to: a write into a copy would be lost without a word.
py::array frozen(const VectorXd& v) {
  py::array out = py::cast(v);
  out.attr("setflags")(py::arg("write") = false);
  return out;
}

template <typename T>
py::object frozen_dict(const std::map<std::string, T>& map) {
  return py::module_::import("types").attr("MappingProxyType")(py::cast(map));
}

template <VectorXd Curve::*member>
void array_property(py::class_<Curve>& type, const char* label, const char* doc) {
  type.def_property(
      label, [](const Curve& c) { return frozen(c.*member); }, [](Curve& c, const VectorXd& v) { c.*member = v; }, doc);
}

Curve make_curve(const VectorXd& q, const VectorXd& intensity, const std::optional<VectorXd>& private_u, Causes causes,
                 const std::optional<VectorXd>& q_low, const std::optional<VectorXd>& q_high,
                 const std::optional<VectorXd>& q_resolution, const std::optional<VectorXd>& slit_length,
                 const std::optional<VectorXd>& slit_width, const std::string& unit) {
  Curve curve{q,
              intensity,
              private_u.value_or(VectorXd::Zero(q.size())),
              std::move(causes),
              q_low.value_or(VectorXd()),
              q_high.value_or(VectorXd()),
              q_resolution.value_or(VectorXd()),
              slit_length.value_or(VectorXd()),
              slit_width.value_or(VectorXd()),
              unit_from(unit)};
  check(curve);
  return curve;
}

}  // namespace

void bind_curve(py::module_& m) {
  py::class_<Cause>(m, "Cause", "One shared cause of error: its kind and (n) signed standard deviations. Not writable.")
      .def(py::init([](const std::string& kind, const VectorXd& u) {
             return Cause{kind_from(kind), u};
           }),
           py::arg("kind"), py::arg("u"))
      .def_property_readonly("kind", [](const Cause& c) { return name(c.kind); })
      .def_property_readonly("u", [](const Cause& c) { return frozen(c.u); })
      .def("__repr__", [](const Cause& c) { return py::str("<Cause {}, {} points>").format(name(c.kind), c.u.size()); })
      .def(py::pickle([](const Cause& c) { return py::make_tuple(name(c.kind), c.u); },
                      [](const py::tuple& t) {
                        return Cause{kind_from(t[0].cast<std::string>()), t[1].cast<VectorXd>()};
                      }));

  py::class_<Curve> curve(m, "Curve",
                          "A scattering curve with the causes of its error. Arrays are read as copies that cannot be "
                          "written to; assign a whole array to change one, then call check().");
  curve.def(py::init(&make_curve), py::kw_only(), py::arg("q_per_nm"), py::arg("intensity"),
            py::arg("private_u") = py::none(), py::arg("causes") = Causes{}, py::arg("q_low_per_nm") = py::none(),
            py::arg("q_high_per_nm") = py::none(), py::arg("q_resolution_per_nm") = py::none(),
            py::arg("slit_length_per_nm") = py::none(), py::arg("slit_width_per_nm") = py::none(),
            py::arg("unit") = "relative");
  array_property<&Curve::q_per_nm>(curve, "q_per_nm", "(n) rising, 1/nm");
  array_property<&Curve::intensity>(curve, "intensity", "(n) in `unit`");
  array_property<&Curve::private_u>(curve, "private_u", "(n) independent standard uncertainty, in `unit`");
  array_property<&Curve::q_low_per_nm>(curve, "q_low_per_nm", "(n) lower bin edges, 1/nm, or empty");
  array_property<&Curve::q_high_per_nm>(curve, "q_high_per_nm", "(n) upper bin edges, 1/nm, or empty");
  array_property<&Curve::q_resolution_per_nm>(curve, "q_resolution_per_nm", "(n) one sd of the blur, 1/nm, or empty");
  array_property<&Curve::slit_length_per_nm>(curve, "slit_length_per_nm",
                                             "(n) one sd of a slit's length, 1/nm; empty for a pinhole");
  array_property<&Curve::slit_width_per_nm>(curve, "slit_width_per_nm",
                                            "(n) one sd of a slit's width, 1/nm; empty for a pinhole");
  curve.def("has_slit", &Curve::has_slit, "True when the points are smeared along a slit.")
      .def_property(
          "causes", [](const Curve& c) { return frozen_dict(c.causes); },
          [](Curve& c, const py::object& causes) { c.causes = py::dict(causes).cast<Causes>(); },
          "id -> Cause; assign a whole dict to change it")
      .def_property(
          "unit", [](const Curve& c) { return name(c.unit); },
          [](Curve& c, const std::string& unit) { c.unit = unit_from(unit); }, "'relative', '1/cm' or 'cm2/g'")
      .def("__len__", &Curve::size)
      .def("__add__", &add)
      .def("__sub__", &subtract)
      .def("__mul__", &scale)
      .def("__rmul__", &scale)
      .def("__mul__",
           [](const Curve& c, double k) {
             return scale(c, Factor{k, {}});
           })
      .def("__rmul__",
           [](const Curve& c, double k) {
             return scale(c, Factor{k, {}});
           })
      .def("__repr__",
           [](const Curve& c) {
             if (c.size() == 0) return py::str("<Curve: empty>");
             return py::str("<Curve: {} points, q {:.4g} to {:.4g} 1/nm, intensity in {}, causes: {}>")
                 .format(
                     c.size(), c.q_per_nm[0], c.q_per_nm[c.size() - 1], name(c.unit),
                     c.causes.empty() ? py::str("own counts only") : py::str(", ").attr("join")(py::cast(c.causes)));
           })
      .def(pickle(&Curve::q_per_nm, &Curve::intensity, &Curve::private_u, &Curve::causes, &Curve::q_low_per_nm,
                  &Curve::q_high_per_nm, &Curve::q_resolution_per_nm, &Curve::slit_length_per_nm,
                  &Curve::slit_width_per_nm, &Curve::unit));

  py::class_<Factor>(m, "Factor", "A number with its own coherent causes: id -> signed standard deviation.")
      .def(py::init([](double value, std::map<std::string, double> causes) {
             return Factor{value, std::move(causes)};
           }),
           py::arg("value") = 1.0, py::arg("causes") = std::map<std::string, double>{})
      .def_readonly("value", &Factor::value)
      .def_property_readonly("causes", [](const Factor& f) { return frozen_dict(f.causes); })
      .def("__mul__", &multiply)
      .def("__truediv__", &divide)
      .def("__repr__",
           [](const Factor& f) { return py::str("Factor({!r}, {!r})").format(f.value, py::cast(f.causes)); })
      .def(pickle(&Factor::value, &Factor::causes));

  m.def("check", &check, py::arg("curve"));
  m.def("add", &add, py::arg("a"), py::arg("b"));
  m.def("subtract", &subtract, py::arg("a"), py::arg("b"));
  m.def("scale", &scale, py::arg("curve"), py::arg("factor"));
  m.def("multiply", &multiply, py::arg("a"), py::arg("b"));
  m.def("divide", &divide, py::arg("a"), py::arg("b"));
  m.def("share", &share, py::arg("curve"), py::arg("id"));
  m.def("crop", &crop, py::arg("curve"), py::arg("q_low_per_nm"), py::arg("q_high_per_nm"));
  m.def("rebin", &rebin, py::arg("curve"), py::arg("group"));
  m.def("pointwise_u", &pointwise_u, py::arg("curve"));
  m.def(
      "assume_u", [](const Curve& c, double relative, double floor) { return assume_u(c, relative, floor).curve; },
      py::arg("curve"), py::kw_only(), py::arg("relative"), py::arg("floor"));
  m.def("total_u", &total_u, py::arg("curve"));
  m.def("covariance", py::overload_cast<const Curve&>(&covariance), py::arg("curve"));
  m.def("covariance", py::overload_cast<const Curve&, const Curve&>(&covariance), py::arg("a"), py::arg("b"));
  m.def("variance_of_summary", &variance_of_summary, py::arg("influence"), py::arg("curve"));
  m.def("covariance_of_summaries", &covariance_of_summaries, py::arg("influence_a"), py::arg("a"),
        py::arg("influence_b"), py::arg("b"));
  m.def("variance_by_cause", &variance_by_cause, py::arg("influence"), py::arg("curve"));
}
