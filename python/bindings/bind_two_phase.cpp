// SPDX-License-Identifier: GPL-3.0-or-later
#include "bindings.hpp"

#include "sievelight/analysis/contrast_series.hpp"
#include "sievelight/analysis/correlation.hpp"
#include "sievelight/analysis/random_two_phase.hpp"
#include "sievelight/analysis/tail_comparison.hpp"

using namespace sievelight;

namespace {

using Pair = std::pair<double, double>;
std::optional<Range> range_from(const std::optional<Pair>& given) {
  if (!given) return std::nullopt;
  return Range{given->first, given->second};
}
std::optional<Given> given_from(const std::optional<Pair>& pair) {
  if (!pair) return std::nullopt;
  return Given{pair->first, pair->second};
}

void bind_correlation(py::module_& m) {
  py::class_<CurveEstimates>(m, "CurveEstimates", "Numbers (m) found from one curve, each with its influence.")
      .def_readonly("value", &CurveEstimates::value)
      .def_readonly("u", &CurveEstimates::u)
      .def_property_readonly("band68", &CurveEstimates::band68, "(m, 2) ends of the central 68 % intervals.")
      .def_property_readonly("band95", &CurveEstimates::band95, "(m, 2) ends of the central 95 % intervals.")
      .def_readonly("influence", &CurveEstimates::influence)
      .def_readonly("causes", &CurveEstimates::causes)
      .def(pickle(&CurveEstimates::value, &CurveEstimates::u, &CurveEstimates::influence, &CurveEstimates::causes));
  py::class_<CorrelationFunction>(m, "CorrelationFunction",
                                  "Correlation function and chord lengths of a two-phase system.")
      .def_readonly("r_nm", &CorrelationFunction::r_nm)
      .def_readonly("correlation", &CorrelationFunction::correlation)
      .def_readonly("chords_per_nm", &CorrelationFunction::chords_per_nm)
      .def_readonly("porod_length_nm", &CorrelationFunction::porod_length_nm)
      .def_readonly("start_length_nm", &CorrelationFunction::start_length_nm)
      .def_readonly("correlation_length_nm", &CorrelationFunction::correlation_length_nm)
      .def_readonly("correlation_volume_nm3", &CorrelationFunction::correlation_volume_nm3)
      .def_readonly("resolution_nm", &CorrelationFunction::resolution_nm)
      .def_readonly("largest_nm", &CorrelationFunction::largest_nm)
      .def_readonly("invariant", &CorrelationFunction::total)
      .def_readonly("warnings", &CorrelationFunction::warnings)
      .def("__repr__",
           [](const CorrelationFunction& c) {
             return py::str(
                        "<CorrelationFunction: {} r up to {:.4g} nm, l_p {:.4g} ± {:.2g} nm, resolution {:.3g} nm{}>")
                 .format(c.r_nm.size(), c.r_nm[c.r_nm.size() - 1], c.porod_length_nm.value, c.porod_length_nm.u,
                         c.resolution_nm, c.warnings.empty() ? "" : ", with warnings");
           })
      .def(pickle(&CorrelationFunction::r_nm, &CorrelationFunction::correlation, &CorrelationFunction::chords_per_nm,
                  &CorrelationFunction::porod_length_nm, &CorrelationFunction::start_length_nm,
                  &CorrelationFunction::correlation_length_nm, &CorrelationFunction::correlation_volume_nm3,
                  &CorrelationFunction::resolution_nm, &CorrelationFunction::largest_nm, &CorrelationFunction::total,
                  &CorrelationFunction::warnings));
  m.def(
      "correlation_function",
      [](const Curve& curve, const std::optional<GuinierFit>& guinier, const PorodFit& porod,
         const std::optional<Eigen::VectorXd>& r, double r_max, std::optional<bool> data_through_window) {
        return correlation_function(curve, guinier, porod, {r.value_or(Eigen::VectorXd{}), r_max, data_through_window});
      },
      py::arg("curve"), py::kw_only(), py::arg("guinier"), py::arg("porod"), py::arg("r_nm") = py::none(),
      py::arg("r_max_nm") = 0.0, py::arg("data_through_window") = py::none(), no_gil());
}

void bind_random_two_phase(py::module_& m) {
  py::class_<RandomTwoPhase>(m, "RandomTwoPhase", "The random two-phase model fitted to a curve.")
      .def_readonly("correlation_nm", &RandomTwoPhase::correlation_nm)
      .def_readonly("amplitude", &RandomTwoPhase::amplitude)
      .def_readonly("background", &RandomTwoPhase::background)
      .def_readonly("constant", &RandomTwoPhase::constant)
      .def_readonly("invariant", &RandomTwoPhase::invariant)
      .def_property_readonly("unit", [](const RandomTwoPhase& f) { return name(f.unit); })
      .def_readonly("q_range_per_nm", &RandomTwoPhase::q_range_per_nm)
      .def_readonly("first", &RandomTwoPhase::first)
      .def_readonly("points", &RandomTwoPhase::points)
      .def_readonly("chi2", &RandomTwoPhase::chi2)
      .def_readonly("degrees_of_freedom", &RandomTwoPhase::degrees_of_freedom)
      .def_readonly("chi2_probability", &RandomTwoPhase::chi2_probability)
      .def_readonly("runs_probability", &RandomTwoPhase::runs_probability)
      .def_readonly("model_holds", &RandomTwoPhase::model_holds)
      .def_readonly("warnings", &RandomTwoPhase::warnings)
      .def("intensity", &random_two_phase_intensity, py::arg("q_per_nm"), "The model at q (m), in the curve's unit.")
      .def("__repr__",
           [](const RandomTwoPhase& f) {
             return py::str("<RandomTwoPhase: a {:.4g} ± {:.2g} nm, I(0) {:.4g} ± {:.2g} {}, {}>")
                 .format(f.correlation_nm.value, f.correlation_nm.u, f.amplitude.value, f.amplitude.u, name(f.unit),
                         f.model_holds ? "the model holds" : "the model does not hold");
           })
      .def(pickle(&RandomTwoPhase::correlation_nm, &RandomTwoPhase::amplitude, &RandomTwoPhase::background,
                  &RandomTwoPhase::constant, &RandomTwoPhase::invariant, &RandomTwoPhase::unit,
                  &RandomTwoPhase::q_range_per_nm, &RandomTwoPhase::first, &RandomTwoPhase::points,
                  &RandomTwoPhase::chi2, &RandomTwoPhase::degrees_of_freedom, &RandomTwoPhase::chi2_probability,
                  &RandomTwoPhase::runs_probability, &RandomTwoPhase::model_holds, &RandomTwoPhase::warnings));
  m.def(
      "fit_random_two_phase",
      [](const Curve& curve, const std::optional<Pair>& range, bool background) {
        return fit_random_two_phase(curve, {range_from(range), background});
      },
      py::arg("curve"), py::kw_only(), py::arg("q_range_per_nm") = py::none(), py::arg("background") = true, no_gil());
  m.def(
      "random_two_phase_surface",
      [](const Curve& curve, const RandomTwoPhase& fit, const std::optional<Pair>& contrast,
         const std::optional<Pair>& porosity, const std::optional<Pair>& skeletal,
         const std::optional<Pair>& apparent) {
        return random_two_phase_surface(
            curve, fit, {given_from(contrast), given_from(porosity), given_from(skeletal), given_from(apparent)});
      },
      py::arg("curve"), py::arg("fit"), py::kw_only(), py::arg("contrast_per_cm2") = py::none(),
      py::arg("porosity") = py::none(), py::arg("skeletal_density_g_per_cm3") = py::none(),
      py::arg("apparent_density_g_per_cm3") = py::none(), no_gil());
}

void bind_contrast_series(py::module_& m) {
  py::class_<ContrastSeries>(m, "ContrastSeries", "The parabola of a porous solid's scattering in its pore fluid.")
      .def_readonly("match_per_cm2", &ContrastSeries::match_per_cm2)
      .def_readonly("open", &ContrastSeries::open)
      .def_readonly("remainder", &ContrastSeries::remainder)
      .def_readonly("share", &ContrastSeries::share)
      .def_readonly("fitted", &ContrastSeries::fitted)
      .def_readonly("deviation", &ContrastSeries::deviation)
      .def_readonly("weights", &ContrastSeries::weights)
      .def_readonly("covariance", &ContrastSeries::covariance)
      .def_readonly("chi2", &ContrastSeries::chi2)
      .def_readonly("degrees_of_freedom", &ContrastSeries::degrees_of_freedom)
      .def_readonly("chi2_probability", &ContrastSeries::chi2_probability)
      .def_readonly("findings", &ContrastSeries::findings)
      .def_readonly("warnings", &ContrastSeries::warnings)
      .def("parabola", &contrast_parabola, py::arg("fluid_per_cm2"), "The fit at fluids' densities (k).")
      .def("__repr__",
           [](const ContrastSeries& s) {
             return py::str("<ContrastSeries: match point {:.4g} ± {:.2g} 1/cm2, {:.2g} ± {:.2g} % remains{}>")
                 .format(s.match_per_cm2.value, s.match_per_cm2.u, 100 * s.share.value, 100 * s.share.u,
                         s.warnings.empty() ? "" : ", with warnings");
           })
      .def(pickle(&ContrastSeries::match_per_cm2, &ContrastSeries::open, &ContrastSeries::remainder,
                  &ContrastSeries::share, &ContrastSeries::fitted, &ContrastSeries::deviation, &ContrastSeries::weights,
                  &ContrastSeries::covariance, &ContrastSeries::chi2, &ContrastSeries::degrees_of_freedom,
                  &ContrastSeries::chi2_probability, &ContrastSeries::findings, &ContrastSeries::warnings));
  m.def(
      "fit_contrast_series",
      [](const std::vector<std::tuple<Curve, CurveEstimate, Pair>>& given, const std::optional<Pair>& solid) {
        std::vector<ContrastPoint> points;
        for (const auto& [curve, result, fluid] : given) points.push_back({curve, result, {fluid.first, fluid.second}});
        return fit_contrast_series(points, {given_from(solid)});
      },
      py::arg("points"), py::kw_only(), py::arg("solid_per_cm2") = py::none(), no_gil());
  m.def(
      "mean_intensity",
      [](const Curve& curve, const Pair& range) {
        return mean_intensity(curve, {range.first, range.second});
      },
      py::arg("curve"), py::kw_only(), py::arg("q_range_per_nm"), no_gil());
}

void bind_tail_comparison(py::module_& m) {
  py::class_<TailCandidate>(m, "TailCandidate", "One law of the tail among others.")
      .def_readonly("fit", &TailCandidate::fit)
      .def_readonly("chi2", &TailCandidate::chi2)
      .def_readonly("criterion", &TailCandidate::criterion)
      .def_readonly("share", &TailCandidate::share)
      .def(pickle(&TailCandidate::fit, &TailCandidate::chi2, &TailCandidate::criterion, &TailCandidate::share));
  py::class_<TailComparison>(m, "TailComparison", "Laws of the tail side by side, the best first.")
      .def_readonly("candidates", &TailComparison::candidates)
      .def_readonly("constant", &TailComparison::constant)
      .def_readonly("findings", &TailComparison::findings)
      .def("__repr__",
           [](const TailComparison& t) {
             const TailCandidate& best = t.candidates.front();
             return py::str("<TailComparison: {} walls, {} background (share {:.2f}), K {:.4g} ± {:.2g} over all laws>")
                 .format(name(best.fit.law.walls), name(best.fit.law.background), best.share, t.constant.value,
                         t.constant.u);
           })
      .def(pickle(&TailComparison::candidates, &TailComparison::constant, &TailComparison::findings));
  m.def(
      "compare_tail_laws",
      [](const Curve& curve, const Pair& range, double law_tolerance) {
        return compare_tail_laws(curve, {range.first, range.second}, law_tolerance);
      },
      py::arg("curve"), py::kw_only(), py::arg("q_range_per_nm"), py::arg("law_tolerance") = 0.01, no_gil());
}

}  // namespace

void bind_two_phase(py::module_& m) {
  bind_tail_comparison(m);
  bind_correlation(m);
  bind_random_two_phase(m);
  bind_contrast_series(m);
}
