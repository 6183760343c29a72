// SPDX-License-Identifier: GPL-3.0-or-later
#include "bindings.hpp"

#include "sievelight/analysis/analysis.hpp"

using namespace sievelight;

namespace {

using Pair = std::optional<std::pair<double, double>>;

PeakProfile profile_from(const std::string& text) {
  return word<PeakProfile>(text, "profile",
                           {{"automatic", PeakProfile::automatic},
                            {"gaussian", PeakProfile::gaussian},
                            {"lorentzian", PeakProfile::lorentzian},
                            {"pseudo_voigt", PeakProfile::pseudo_voigt}});
}

PoreModel model_from(const std::string& text) {
  return word<PoreModel>(text, "model of pores",
                         {{"automatic", PoreModel::automatic},
                          {"slits", PoreModel::slits},
                          {"cylinders", PoreModel::cylinders},
                          {"cages", PoreModel::cages},
                          {"channels", PoreModel::channels}});
}

IndexingOptions indexing_options(const std::optional<std::vector<std::string>>& symmetries, double q_scale_relative_u) {
  IndexingOptions out;
  out.q_scale_relative_u = q_scale_relative_u;
  if (!symmetries) return out;
  out.symmetries.clear();
  for (const std::string& text : *symmetries) out.symmetries.push_back(symmetry_from(text));
  return out;
}

void bind_curve_peaks(py::module_& m) {
  py::class_<CurvePeak>(m, "CurvePeak", "One peak of a curve; see find_curve_peaks.")
      .def_readonly("q_per_nm", &CurvePeak::q_per_nm)
      .def_readonly("height", &CurvePeak::height)
      .def_readonly("area", &CurvePeak::area)
      .def_readonly("fwhm_per_nm", &CurvePeak::fwhm_per_nm)
      .def_readonly("own_fwhm_per_nm", &CurvePeak::own_fwhm_per_nm)
      .def_readonly("own_fwhm_limit_per_nm", &CurvePeak::own_fwhm_limit_per_nm)
      .def_readonly("blur_fwhm_per_nm", &CurvePeak::blur_fwhm_per_nm)
      .def_readonly("resolution_known", &CurvePeak::resolution_known)
      .def_readonly("resolution_limited", &CurvePeak::resolution_limited)
      .def_property_readonly("profile", [](const CurvePeak& p) { return name(p.profile); })
      .def_readonly("lorentzian_share", &CurvePeak::lorentzian_share)
      .def_readonly("background", &CurvePeak::background)
      .def_readonly("z", &CurvePeak::z)
      .def_readonly("false_alarm", &CurvePeak::false_alarm)
      .def_readonly("advantage", &CurvePeak::advantage)
      .def_readonly("window_per_nm", &CurvePeak::window_per_nm)
      .def_readonly("chi2_probability", &CurvePeak::chi2_probability)
      .def_readonly("set_aside", &CurvePeak::set_aside)
      .def("__repr__",
           [](const CurvePeak& p) {
             return py::str("<CurvePeak: q {:.5g} ± {:.2g} 1/nm, height {:.3g} ± {:.2g}, width {:.3g} ± {:.2g} 1/nm{}>")
                 .format(p.q_per_nm.value, p.q_per_nm.u, p.height.value, p.height.u, p.fwhm_per_nm.value,
                         p.fwhm_per_nm.u, p.set_aside.empty() ? "" : "; set aside: " + p.set_aside);
           })
      .def(pickle(&CurvePeak::q_per_nm, &CurvePeak::height, &CurvePeak::area, &CurvePeak::fwhm_per_nm,
                  &CurvePeak::own_fwhm_per_nm, &CurvePeak::own_fwhm_limit_per_nm, &CurvePeak::blur_fwhm_per_nm,
                  &CurvePeak::resolution_known, &CurvePeak::resolution_limited, &CurvePeak::profile,
                  &CurvePeak::lorentzian_share, &CurvePeak::background, &CurvePeak::z, &CurvePeak::false_alarm,
                  &CurvePeak::advantage, &CurvePeak::window_per_nm, &CurvePeak::chi2_probability,
                  &CurvePeak::set_aside));

  py::class_<CurvePeaks>(m, "CurvePeaks", "The peaks of order on a curve, and what was set aside with its reason.")
      .def_readonly("peaks", &CurvePeaks::peaks)
      .def_readonly("set_aside", &CurvePeaks::set_aside)
      .def_readonly("q_range_per_nm", &CurvePeaks::q_range_per_nm)
      .def_readonly("false_alarm", &CurvePeaks::false_alarm)
      .def_readonly("places", &CurvePeaks::places)
      .def_property_readonly("unit", [](const CurvePeaks& p) { return name(p.unit); })
      .def_readonly("background", &CurvePeaks::background)
      .def_readonly("fit", &CurvePeaks::fit)
      .def_readonly("warnings", &CurvePeaks::warnings)
      .def("__len__", [](const CurvePeaks& p) { return p.peaks.size(); })
      .def("__repr__",
           [](const CurvePeaks& p) {
             py::list at;
             for (const CurvePeak& peak : p.peaks)
               at.append(py::str("{:.5g} ± {:.2g}").format(peak.q_per_nm.value, peak.q_per_nm.u));
             return py::str("<CurvePeaks: {} of order{}{}{}, {} set aside{}>")
                 .format(p.peaks.size(), p.peaks.empty() ? "" : " at ", py::str(", ").attr("join")(at),
                         p.peaks.empty() ? "" : " 1/nm", p.set_aside.size(),
                         p.warnings.empty() ? "" : ", with warnings");
           })
      .def(pickle(&CurvePeaks::peaks, &CurvePeaks::set_aside, &CurvePeaks::q_range_per_nm, &CurvePeaks::false_alarm,
                  &CurvePeaks::places, &CurvePeaks::unit, &CurvePeaks::background, &CurvePeaks::fit,
                  &CurvePeaks::warnings));

  const PeakOptions defaults;
  m.def(
      "find_curve_peaks",
      [](const Curve& curve, const Pair& range, double false_alarm, const std::string& profile,
         double largest_relative_width, double background_tolerance, double least_advantage,
         std::optional<double> resolution_relative_u, int most_peaks) {
        PeakOptions options{.q_range_per_nm = {},
                            .false_alarm = false_alarm,
                            .profile = profile_from(profile),
                            .largest_relative_width = largest_relative_width,
                            .background_tolerance = background_tolerance,
                            .least_advantage = least_advantage,
                            .resolution_relative_u = resolution_relative_u,
                            .most_peaks = most_peaks};
        if (range) options.q_range_per_nm = Range{range->first, range->second};
        return find_curve_peaks(curve, options);
      },
      py::arg("curve"), py::kw_only(), py::arg("q_range_per_nm") = py::none(),
      py::arg("false_alarm") = defaults.false_alarm, py::arg("profile") = "automatic",
      py::arg("largest_relative_width") = defaults.largest_relative_width,
      py::arg("background_tolerance") = defaults.background_tolerance,
      py::arg("least_advantage") = defaults.least_advantage, py::arg("resolution_relative_u") = py::none(),
      py::arg("most_peaks") = defaults.most_peaks, no_gil());
}

void bind_indexing(py::module_& m) {
  py::class_<Reflection>(m, "Reflection", "A reflection that a lattice allows: m, indices and q a / (2 pi).")
      .def_readonly("m", &Reflection::m)
      .def_readonly("indices", &Reflection::indices)
      .def_readonly("ratio", &Reflection::ratio)
      .def_readonly("strong", &Reflection::strong)
      .def("__repr__",
           [](const Reflection& r) { return py::str("<Reflection {}: q a/2π {:.5g}>").format(r.indices, r.ratio); })
      .def(pickle(&Reflection::m, &Reflection::indices, &Reflection::ratio, &Reflection::strong));
  py::class_<IndexedPeak>(m, "IndexedPeak", "A peak and its reflection; `deviation` in units of u.")
      .def_readonly("peak", &IndexedPeak::peak)
      .def_readonly("reflection", &IndexedPeak::reflection)
      .def_readonly("q_per_nm", &IndexedPeak::q_per_nm)
      .def_readonly("deviation", &IndexedPeak::deviation)
      .def("__repr__",
           [](const IndexedPeak& p) {
             return py::str("<IndexedPeak {}: q {:.5g} 1/nm, {:+.1f} u>")
                 .format(p.reflection.indices, p.q_per_nm, p.deviation);
           })
      .def(pickle(&IndexedPeak::peak, &IndexedPeak::reflection, &IndexedPeak::q_per_nm, &IndexedPeak::deviation));
  py::class_<LatticeCandidate>(m, "LatticeCandidate", "One symmetry fitted to the peaks.")
      .def_property_readonly("symmetry", [](const LatticeCandidate& c) { return name(c.symmetry); })
      .def_readonly("lattice_nm", &LatticeCandidate::lattice_nm)
      .def_readonly("chi2", &LatticeCandidate::chi2)
      .def_readonly("degrees_of_freedom", &LatticeCandidate::degrees_of_freedom)
      .def_readonly("chi2_probability", &LatticeCandidate::chi2_probability)
      .def_readonly("indexed", &LatticeCandidate::indexed)
      .def_readonly("unindexed", &LatticeCandidate::unindexed)
      .def_readonly("missing", &LatticeCandidate::missing)
      .def_readonly("misses_strong", &LatticeCandidate::misses_strong)
      .def_readonly("explains", &LatticeCandidate::explains)
      .def_readonly("share", &LatticeCandidate::share)
      .def("__repr__",
           [](const LatticeCandidate& c) {
             return py::str(
                        "<LatticeCandidate {}: a {:.5g} ± {:.2g} nm, {} indexed, {} unindexed, {} missing, {:.1f} %{}>")
                 .format(name(c.symmetry), c.lattice_nm.value, c.lattice_nm.u, c.indexed.size(), c.unindexed.size(),
                         c.missing.size(), 100.0 * c.share, c.explains ? "" : ", does not explain the peaks");
           })
      .def(pickle(&LatticeCandidate::symmetry, &LatticeCandidate::lattice_nm, &LatticeCandidate::chi2,
                  &LatticeCandidate::degrees_of_freedom, &LatticeCandidate::chi2_probability,
                  &LatticeCandidate::indexed, &LatticeCandidate::unindexed, &LatticeCandidate::missing,
                  &LatticeCandidate::misses_strong, &LatticeCandidate::explains, &LatticeCandidate::share));
  py::class_<Indexing>(m, "Indexing", "All symmetries tried, most probable first, and a verdict in words.")
      .def_readonly("candidates", &Indexing::candidates)
      .def_readonly("decided", &Indexing::decided)
      .def_readonly("verdict", &Indexing::verdict)
      .def_readonly("spacing_nm", &Indexing::spacing_nm)
      .def_readonly("warnings", &Indexing::warnings)
      .def("__repr__", [](const Indexing& i) { return py::str("<Indexing: {}>").format(i.verdict); })
      .def(pickle(&Indexing::candidates, &Indexing::decided, &Indexing::verdict, &Indexing::spacing_nm,
                  &Indexing::warnings));
  using Names = std::optional<std::vector<std::string>>;
  m.def(
      "index_peaks",
      [](const Curve& curve, const CurvePeaks& peaks, const Names& symmetries, double q_scale_relative_u) {
        return index_peaks(curve, peaks, indexing_options(symmetries, q_scale_relative_u));
      },
      py::arg("curve"), py::arg("peaks"), py::kw_only(), py::arg("symmetries") = py::none(),
      py::arg("q_scale_relative_u") = 0.0, no_gil());
  m.def(
      "index_positions",
      [](const Eigen::VectorXd& q, const Eigen::VectorXd& u, std::pair<double, double> range, const Names& symmetries,
         double q_scale_relative_u) {
        return index_positions(q, u, {range.first, range.second}, indexing_options(symmetries, q_scale_relative_u));
      },
      py::arg("q_per_nm"), py::kw_only(), py::arg("u_per_nm"), py::arg("q_range_per_nm"),
      py::arg("symmetries") = py::none(), py::arg("q_scale_relative_u") = 0.0, no_gil());
  m.def(
      "reflections",
      [](const std::string& symmetry, int largest_m) { return reflections(symmetry_from(symmetry), largest_m); },
      py::arg("symmetry"), py::kw_only(), py::arg("largest_m"));
}

void bind_pores(py::module_& m) {
  py::class_<OrderedPores>(m, "OrderedPores", "Pore and wall from a lattice parameter and a porosity.")
      .def_property_readonly("symmetry", [](const OrderedPores& p) { return name(p.symmetry); })
      .def_property_readonly("model", [](const OrderedPores& p) { return name(p.model); })
      .def_readonly("pore_nm", &OrderedPores::pore_nm)
      .def_readonly("wall_nm", &OrderedPores::wall_nm)
      .def_readonly("pore_is", &OrderedPores::pore_is)
      .def_readonly("wall_is", &OrderedPores::wall_is)
      .def_readonly("largest_porosity", &OrderedPores::largest_porosity)
      .def("__repr__",
           [](const OrderedPores& p) {
             return py::str("<OrderedPores: pore {:.4g} ± {:.2g} nm ({}), wall {:.4g} ± {:.2g} nm>")
                 .format(p.pore_nm.value, p.pore_nm.u, p.pore_is, p.wall_nm.value, p.wall_nm.u);
           })
      .def(pickle(&OrderedPores::symmetry, &OrderedPores::model, &OrderedPores::pore_nm, &OrderedPores::wall_nm,
                  &OrderedPores::pore_is, &OrderedPores::wall_is, &OrderedPores::largest_porosity));
  m.def(
      "ordered_pores",
      [](const CurveEstimate& lattice, const std::string& symmetry, std::pair<double, double> porosity,
         const std::string& model) {
        return ordered_pores(lattice, symmetry_from(symmetry), {porosity.first, porosity.second}, model_from(model));
      },
      py::arg("lattice_nm"), py::kw_only(), py::arg("symmetry"), py::arg("porosity"), py::arg("model") = "automatic");
  m.def("estimate_without_curve", &estimate_without_curve, py::arg("value"), py::arg("u"));
  m.def(
      "minimal_surface_area", [](const std::string& symmetry) { return minimal_surface_area(symmetry_from(symmetry)); },
      py::arg("symmetry"));

  py::class_<DomainSize>(m, "DomainSize", "How far the order reaches, from the width of a peak.")
      .def_readonly("peak", &DomainSize::peak)
      .def_readonly("scherrer_constant", &DomainSize::scherrer_constant)
      .def_readonly("domain_nm", &DomainSize::domain_nm)
      .def_readonly("lower_limit_nm", &DomainSize::lower_limit_nm)
      .def_readonly("periods", &DomainSize::periods)
      .def_readonly("width_growth_z", &DomainSize::width_growth_z)
      .def_readonly("warnings", &DomainSize::warnings)
      .def("__repr__",
           [](const DomainSize& d) {
             if (!d.domain_nm)
               return py::str("<DomainSize: above {:.3g} nm (95 %), resolution-limited>").format(d.lower_limit_nm);
             return py::str("<DomainSize: {:.4g} ± {:.2g} nm, {:.3g} periods{}>")
                 .format(d.domain_nm->value, d.domain_nm->u, *d.periods, d.warnings.empty() ? "" : ", with warnings");
           })
      .def(pickle(&DomainSize::peak, &DomainSize::scherrer_constant, &DomainSize::domain_nm,
                  &DomainSize::lower_limit_nm, &DomainSize::periods, &DomainSize::width_growth_z,
                  &DomainSize::warnings));
  m.def("domain_size", &domain_size, py::arg("curve"), py::arg("peaks"), py::kw_only(),
        py::arg("scherrer_constant") = 0.9, no_gil());

  py::class_<PeakShare>(m, "PeakShare", "Whether peaks carry the curve: 'none', 'disturb' or 'carry', with figures.")
      .def_property_readonly("role", [](const PeakShare& s) { return name(s.role); })
      .def_readonly("intensity_share", &PeakShare::intensity_share)
      .def_readonly("q2_share", &PeakShare::q2_share)
      .def_readonly("highest_contrast", &PeakShare::highest_contrast)
      .def_readonly("chi2_per_point", &PeakShare::chi2_per_point)
      .def_readonly("windows_per_nm", &PeakShare::windows_per_nm)
      .def_readonly("words", &PeakShare::words)
      .def("__repr__", [](const PeakShare& s) { return py::str("<PeakShare {}: {}>").format(name(s.role), s.words); })
      .def(pickle(&PeakShare::role, &PeakShare::intensity_share, &PeakShare::q2_share, &PeakShare::highest_contrast,
                  &PeakShare::chi2_per_point, &PeakShare::windows_per_nm, &PeakShare::words));
  m.attr("FEWEST_POINTS_FOR_ORDER") = fewest_points_for_order;
  const PeakShareOptions defaults;
  m.def(
      "peak_share",
      [](const Curve& curve, const CurvePeaks& peaks, double carry_height, double carry_share) {
        return peak_share(curve, peaks, {carry_height, carry_share});
      },
      py::arg("curve"), py::arg("peaks"), py::kw_only(), py::arg("carry_height") = defaults.carry_height,
      py::arg("carry_share") = defaults.carry_share, no_gil());
}

}  // namespace

void bind_peaks(py::module_& m) {
  bind_curve_peaks(m);
  bind_indexing(m);
  bind_pores(m);
}
