// SPDX-License-Identifier: GPL-3.0-or-later
#include "bindings.hpp"

#include "sievelight/curve/csv.hpp"
#include "sievelight/curve/merge.hpp"
#include "sievelight/curve/nxcansas_io.hpp"
#include "sievelight/curve/read_curves.hpp"
#include "sievelight/curve/text_io.hpp"

using namespace sievelight;

namespace {

using Terms = std::vector<std::pair<std::string, std::string>>;
using Notes = std::vector<std::string>;

void bind_info(py::module_& m) {
  py::class_<ProcessStep>(m, "ProcessStep", "One step of processing: name, a sentence, named terms, and notes.")
      .def(py::init([](const std::string& step, const std::string& description, Terms terms, Notes notes) {
             return ProcessStep{step, description, std::move(terms), std::move(notes)};
           }),
           py::arg("name"), py::arg("description") = "", py::arg("terms") = Terms{}, py::arg("notes") = Notes{})
      .def_readonly("name", &ProcessStep::name)
      .def_readonly("description", &ProcessStep::description)
      .def_readonly("terms", &ProcessStep::terms)
      .def_readonly("notes", &ProcessStep::notes)
      .def("__eq__",
           [](const ProcessStep& a, const ProcessStep& b) {
             return a.name == b.name && a.description == b.description && a.terms == b.terms && a.notes == b.notes;
           })
      .def("__repr__", [](const ProcessStep& s) {
        return py::str("ProcessStep({!r}, {!r}, {!r})").format(s.name, s.description, s.terms);
      });
  py::class_<InstrumentInfo>(m, "InstrumentInfo", "Source, collimation and detector; NaN or empty where not known.")
      .def(py::init<>())
      .def_readwrite("probe", &InstrumentInfo::probe)
      .def_readwrite("source_type", &InstrumentInfo::source_type)
      .def_readwrite("beam_shape", &InstrumentInfo::beam_shape)
      .def_readwrite("wavelength_nm", &InstrumentInfo::wavelength_nm)
      .def_readwrite("wavelength_spread", &InstrumentInfo::wavelength_spread, "relative, one standard deviation")
      .def_readwrite("collimation_length_mm", &InstrumentInfo::collimation_length_mm)
      .def_readwrite("detector_name", &InstrumentInfo::detector_name)
      .def_readwrite("distance_mm", &InstrumentInfo::distance_mm)
      .def_readwrite("beam_center_px", &InstrumentInfo::beam_center_px, "x, y")
      .def_readwrite("pixel_size_mm", &InstrumentInfo::pixel_size_mm, "x, y")
      .def_readwrite("pitch_deg", &InstrumentInfo::pitch_deg)
      .def_readwrite("yaw_deg", &InstrumentInfo::yaw_deg)
      .def_readwrite("roll_deg", &InstrumentInfo::roll_deg)
      .def_readwrite("slit_length_per_nm", &InstrumentInfo::slit_length_per_nm);
  py::class_<CurveInfo>(m, "CurveInfo", "What stands around the numbers of a curve; NaN where not known.")
      .def(py::init<>())
      .def_readwrite("title", &CurveInfo::title)
      .def_readwrite("run", &CurveInfo::run)
      .def_readwrite("sample_name", &CurveInfo::sample_name)
      .def_readwrite("thickness_mm", &CurveInfo::thickness_mm)
      .def_readwrite("transmission", &CurveInfo::transmission)
      .def_readwrite("temperature_C", &CurveInfo::temperature_C)
      .def_readwrite("sample_details", &CurveInfo::sample_details)
      .def_readwrite("instrument", &CurveInfo::instrument)
      .def_readwrite("steps", &CurveInfo::steps)
      .def_readwrite("notes", &CurveInfo::notes);
  py::class_<NamedCurve>(m, "NamedCurve", "A curve with its name in a file and what stands around it.")
      .def(py::init([](const std::string& curve_name, const Curve& curve, const std::optional<CurveInfo>& info) {
             return NamedCurve{curve_name, curve, info.value_or(CurveInfo{})};
           }),
           py::arg("name"), py::arg("curve"), py::arg("info") = py::none())
      .def_readonly("name", &NamedCurve::name)
      .def_readonly("curve", &NamedCurve::curve)
      .def_readonly("info", &NamedCurve::info)
      .def_readonly("has_uncertainty", &NamedCurve::has_uncertainty)
      .def("__repr__", [](const NamedCurve& n) {
        return py::str("<NamedCurve {!r}: {}{}>")
            .format(
                n.name, py::repr(py::cast(n.curve)),
                n.info.notes.empty() ? py::str("") : py::str("; {}").format(py::str("; ").attr("join")(n.info.notes)));
      });
}

void bind_merge(py::module_& m) {
  py::class_<Merged>(m, "Merged", "Two curves as one, and how well they agree where they overlap.")
      .def_readonly("curve", &Merged::curve)
      .def_readonly("scale", &Merged::scale)
      .def_readonly("scale_u", &Merged::scale_u)
      .def_readonly("overlap_per_nm", &Merged::overlap_per_nm)
      .def_readonly("q_cut_per_nm", &Merged::q_cut_per_nm)
      .def_readonly("points_low", &Merged::points_low)
      .def_readonly("points_high", &Merged::points_high)
      .def_readonly("chi2", &Merged::chi2)
      .def_readonly("degrees_of_freedom", &Merged::degrees_of_freedom)
      .def_readonly("p_value", &Merged::p_value)
      .def_readonly("notes", &Merged::notes)
      .def_readonly("warnings", &Merged::warnings)
      .def("__repr__", [](const Merged& r) {
        return py::str("<Merged: scale {:.5g} ({:.2g}), cut at {:.4g} 1/nm, chi2 {:.4g} of {}>")
            .format(r.scale.value, r.scale_u, r.q_cut_per_nm, r.chi2, r.degrees_of_freedom);
      });
  m.def(
      "merge",
      [](const Curve& low, const Curve& high, const std::string& merge_name, const std::string& scaled,
         const std::string& keep, const std::optional<Factor>& scale, const std::optional<Range>& q_range,
         const std::optional<double>& q_cut) {
        return merge(
            low, high,
            {.name = merge_name,
             .scaled = word<MergeSide>(scaled, "curve to scale", {{"low", MergeSide::low}, {"high", MergeSide::high}}),
             .keep = word<MergeRule>(
                 keep, "rule of what to keep",
                 {{"smaller error", MergeRule::smaller_error}, {"better resolution", MergeRule::better_resolution}}),
             .scale = scale,
             .q_range_per_nm = q_range,
             .q_cut_per_nm = q_cut});
      },
      py::arg("low"), py::arg("high"), py::kw_only(), py::arg("name"), py::arg("scaled") = "high",
      py::arg("keep") = "smaller error", py::arg("scale") = py::none(), py::arg("q_range_per_nm") = py::none(),
      py::arg("q_cut_per_nm") = py::none(), no_gil());
}

}  // namespace

void bind_curve_files(py::module_& m) {
  bind_info(m);
  bind_merge(m);
  m.def("write_nxcansas", py::overload_cast<const std::string&, const Curve&, const CurveInfo&>(&write_nxcansas),
        py::arg("path"), py::arg("curve"), py::arg("info") = CurveInfo{}, no_gil());
  m.def("write_nxcansas", py::overload_cast<const std::string&, const std::vector<NamedCurve>&>(&write_nxcansas),
        py::arg("path"), py::arg("curves"), no_gil());
  m.def("read_curves", &read_curves, py::arg("path"), no_gil());
  m.def("write_csv", &write_csv, py::arg("path"), py::arg("curve"), py::kw_only(), py::arg("causes") = false, no_gil());
  m.def(
      "read_text_curve",
      [](const std::string& path, const std::optional<std::string>& q_unit,
         const std::optional<std::string>& intensity_unit) {
        return read_text_curve(path, {q_unit, intensity_unit});
      },
      py::arg("path"), py::kw_only(), py::arg("q_unit") = py::none(), py::arg("intensity_unit") = py::none(), no_gil());
}
