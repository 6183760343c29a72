// SPDX-License-Identifier: GPL-3.0-or-later
#include "bindings.hpp"

#include "sievelight/analysis/analysis.hpp"

using namespace sievelight;

namespace {

using OptionalRange = std::optional<std::pair<double, double>>;
std::optional<Range> range_from(const OptionalRange& given) {
  if (!given) return std::nullopt;
  return Range{given->first, given->second};
}

using OptionalGiven = std::optional<std::pair<double, double>>;
std::optional<Given> given_from(const OptionalGiven& pair) {
  if (!pair) return std::nullopt;
  return Given{pair->first, pair->second};
}

void bind_curve_estimate(py::module_& m) {
  py::class_<CurveEstimate, Estimate>(
      m, "CurveEstimate",
      "An Estimate from a curve: `influence` (n) is d value / d intensity, `causes` are "
      "signed standard deviations of errors that do not come with the curve.")
      .def_readonly("influence", &CurveEstimate::influence)
      .def_readonly("causes", &CurveEstimate::causes)
      .def_readonly("guessed_variance", &CurveEstimate::guessed_variance)
      .def(py::pickle(
          [](const CurveEstimate& e) {
            return py::make_tuple(e.value, e.u, e.band68, e.band95, e.influence, e.causes, e.guessed_variance);
          },
          [](const py::tuple& t) {
            return CurveEstimate{{t[0].cast<double>(), t[1].cast<double>(), t[2].cast<Range>(), t[3].cast<Range>()},
                                 t[4].cast<Eigen::VectorXd>(),
                                 t[5].cast<std::map<std::string, double>>(),
                                 t[6].cast<Eigen::VectorXd>()};
          }));
}

void bind_guinier(py::module_& m) {
  py::class_<GuinierFit>(m, "GuinierFit", "Guinier's law fitted to the start of a curve.")
      .def_readonly("rg_nm", &GuinierFit::rg_nm)
      .def_readonly("i0", &GuinierFit::i0)
      .def_property_readonly("unit", [](const GuinierFit& f) { return name(f.unit); })
      .def_readonly("q_range_per_nm", &GuinierFit::q_range_per_nm)
      .def_readonly("first", &GuinierFit::first)
      .def_readonly("points", &GuinierFit::points)
      .def_readonly("dropped", &GuinierFit::dropped)
      .def_readonly("q_rg_low", &GuinierFit::q_rg_low)
      .def_readonly("q_rg_high", &GuinierFit::q_rg_high)
      .def_readonly("chi2", &GuinierFit::chi2)
      .def_readonly("degrees_of_freedom", &GuinierFit::degrees_of_freedom)
      .def_readonly("chi2_probability", &GuinierFit::chi2_probability)
      .def_readonly("curvature", &GuinierFit::curvature)
      .def_readonly("curvature_u", &GuinierFit::curvature_u)
      .def_readonly("sphere_bias_percent", &GuinierFit::sphere_bias_percent)
      .def_readonly("warnings", &GuinierFit::warnings)
      .def("intensity", &guinier_intensity, py::arg("q_per_nm"), "The law at q (m), in the curve's unit.")
      .def("__repr__",
           [](const GuinierFit& f) {
             return py::str(
                        "<GuinierFit: Rg {:.4g} ± {:.2g} nm, I0 {:.4g} ± {:.2g} {}, q Rg {:.2f} to {:.2f}, {} "
                        "points{}>")
                 .format(f.rg_nm.value, f.rg_nm.u, f.i0.value, f.i0.u, name(f.unit), f.q_rg_low, f.q_rg_high, f.points,
                         f.warnings.empty() ? "" : ", with warnings");
           })
      .def(pickle(&GuinierFit::rg_nm, &GuinierFit::i0, &GuinierFit::unit, &GuinierFit::q_range_per_nm,
                  &GuinierFit::first, &GuinierFit::points, &GuinierFit::dropped, &GuinierFit::q_rg_low,
                  &GuinierFit::q_rg_high, &GuinierFit::chi2, &GuinierFit::degrees_of_freedom,
                  &GuinierFit::chi2_probability, &GuinierFit::curvature, &GuinierFit::curvature_u,
                  &GuinierFit::sphere_bias_percent, &GuinierFit::warnings));
  const GuinierOptions defaults;
  m.def(
      "fit_guinier",
      [](const Curve& curve, double q_rg_max, const OptionalRange& range, int min_points, double drop_beyond,
         double law_tolerance, double drop_up_to) {
        return fit_guinier(curve, {q_rg_max, range_from(range), min_points, drop_beyond, law_tolerance, drop_up_to});
      },
      py::arg("curve"), py::kw_only(), py::arg("q_rg_max") = defaults.q_rg_max, py::arg("q_range_per_nm") = py::none(),
      py::arg("min_points") = defaults.min_points, py::arg("drop_beyond") = defaults.drop_beyond,
      py::arg("law_tolerance") = defaults.law_tolerance, py::arg("drop_up_to") = defaults.drop_up_to, no_gil());
}

const std::vector<std::pair<const char*, TailBackground>> tail_backgrounds{
    {name(TailBackground::flat), TailBackground::flat},
    {name(TailBackground::square), TailBackground::square},
    {name(TailBackground::fourth), TailBackground::fourth},
    {name(TailBackground::exponential), TailBackground::exponential}};
const std::vector<std::pair<const char*, Walls>> tail_walls{{name(Walls::sharp), Walls::sharp},
                                                            {name(Walls::smooth), Walls::smooth}};

void bind_porod(py::module_& m) {
  py::class_<TailLaw>(m, "TailLaw", "Which terms a fit of the tail has.")
      .def(pickle(&TailLaw::background, &TailLaw::walls, &TailLaw::next_term));
  py::class_<PorodFit>(m, "PorodFit", "Porod's law fitted to the tail of a curve.")
      .def_readonly("constant", &PorodFit::constant)
      .def_readonly("background", &PorodFit::background)
      .def_readonly("constant_per_cm5", &PorodFit::constant_per_cm5)
      .def_readonly("next_term", &PorodFit::next_term)
      .def_readonly("next_term_fitted", &PorodFit::next_term_fitted)
      .def_property_readonly("background_law", [](const PorodFit& f) { return name(f.law.background); })
      .def_property_readonly("walls", [](const PorodFit& f) { return name(f.law.walls); })
      .def_readonly("growth", &PorodFit::growth)
      .def_readonly("layer_nm2", &PorodFit::layer_nm2)
      .def_property_readonly("layer_width_nm", &layer_width_nm)
      .def_readonly("richer_drop", &PorodFit::richer_drop)
      .def_readonly("richer_probability", &PorodFit::richer_probability)
      .def_readonly("richer_needed", &PorodFit::richer_needed)
      .def_property_readonly("unit", [](const PorodFit& f) { return name(f.unit); })
      .def_readonly("q_range_per_nm", &PorodFit::q_range_per_nm)
      .def_readonly("first", &PorodFit::first)
      .def_readonly("points", &PorodFit::points)
      .def_readonly("chi2", &PorodFit::chi2)
      .def_readonly("degrees_of_freedom", &PorodFit::degrees_of_freedom)
      .def_readonly("chi2_probability", &PorodFit::chi2_probability)
      .def_readonly("next_term_z", &PorodFit::next_term_z)
      .def_readonly("law_holds", &PorodFit::law_holds)
      .def_readonly("warnings", &PorodFit::warnings)
      .def("intensity", &porod_intensity, py::arg("q_per_nm"), "The fit at q (m), in the curve's unit.")
      .def("background_at", &porod_background, py::arg("q_per_nm"),
           "Its background B(q) at q (m), in the curve's unit.")
      .def("__repr__",
           [](const PorodFit& f) {
             return py::str("<PorodFit: K {:.4g} ± {:.2g} {} nm^-4, B {:.3g} ± {:.2g}, q {:.4g} to {:.4g} 1/nm{}>")
                 .format(f.constant.value, f.constant.u, name(f.unit), f.background.value, f.background.u,
                         f.q_range_per_nm.low, f.q_range_per_nm.high, f.warnings.empty() ? "" : ", with warnings");
           })
      .def(pickle(&PorodFit::constant, &PorodFit::background, &PorodFit::constant_per_cm5, &PorodFit::next_term,
                  &PorodFit::next_term_fitted, &PorodFit::law, &PorodFit::growth, &PorodFit::layer_nm2,
                  &PorodFit::richer_drop, &PorodFit::richer_probability, &PorodFit::richer_needed, &PorodFit::unit,
                  &PorodFit::q_range_per_nm, &PorodFit::first, &PorodFit::points, &PorodFit::chi2,
                  &PorodFit::degrees_of_freedom, &PorodFit::chi2_probability, &PorodFit::next_term_z,
                  &PorodFit::law_holds, &PorodFit::warnings));
  const PorodOptions defaults;
  m.def(
      "fit_porod",
      [](const Curve& curve, const OptionalRange& range, int min_points, double least_ratio, double law_tolerance,
         const std::string& background, const std::string& walls) {
        return fit_porod(curve, {range_from(range), min_points, least_ratio, law_tolerance,
                                 word(background, "background of the tail", tail_backgrounds),
                                 word(walls, "kind of walls", tail_walls)});
      },
      py::arg("curve"), py::kw_only(), py::arg("q_range_per_nm") = py::none(),
      py::arg("min_points") = defaults.min_points, py::arg("least_ratio") = defaults.least_ratio,
      py::arg("law_tolerance") = defaults.law_tolerance, py::arg("background") = "flat", py::arg("walls") = "sharp",
      no_gil());
}

void bind_invariant(py::module_& m) {
  py::class_<Invariant>(m, "Invariant", "The invariant of a curve, with the shares that were extrapolated.")
      .def_readonly("value", &Invariant::value)
      .def_readonly("value_per_cm4", &Invariant::value_per_cm4)
      .def_property_readonly("unit", [](const Invariant& f) { return name(f.unit); })
      .def_readonly("q_range_per_nm", &Invariant::q_range_per_nm)
      .def_readonly("share_extrapolated_low", &Invariant::share_extrapolated_low)
      .def_readonly("share_fitted_high", &Invariant::share_fitted_high)
      .def_readonly("share_extrapolated_high", &Invariant::share_extrapolated_high)
      .def_readonly("guinier_start", &Invariant::guinier_start)
      .def_readonly("warnings", &Invariant::warnings)
      .def("__repr__",
           [](const Invariant& f) {
             return py::str("<Invariant: {:.4g} ± {:.2g} {} nm^-3, extrapolated {:.1f} % below and {:.1f} % above{}>")
                 .format(f.value.value, f.value.u, name(f.unit), 100 * f.share_extrapolated_low,
                         100 * f.share_extrapolated_high, f.warnings.empty() ? "" : ", with warnings");
           })
      .def(pickle(&Invariant::value, &Invariant::value_per_cm4, &Invariant::unit, &Invariant::q_range_per_nm,
                  &Invariant::share_extrapolated_low, &Invariant::share_fitted_high,
                  &Invariant::share_extrapolated_high, &Invariant::guinier_start, &Invariant::warnings));
  m.def("invariant", &invariant, py::arg("curve"), py::kw_only(), py::arg("guinier"), py::arg("porod"), no_gil());
  m.def("phi_one_minus_phi", &phi_one_minus_phi, py::arg("curve"), py::arg("invariant"), py::kw_only(),
        py::arg("contrast_per_cm2"), py::arg("contrast_u_per_cm2") = 0.0, no_gil());
}

void bind_surface(py::module_& m) {
  py::class_<SpecificSurface>(m, "SpecificSurface", "Inner surface and mean chords; None where not asked for.")
      .def_readonly("porod_length_nm", &SpecificSurface::porod_length_nm)
      .def_readonly("pore_chord_nm", &SpecificSurface::pore_chord_nm)
      .def_readonly("solid_chord_nm", &SpecificSurface::solid_chord_nm)
      .def_readonly("from_contrast_m2_per_cm3", &SpecificSurface::from_contrast_m2_per_cm3)
      .def_readonly("from_porosity_m2_per_cm3", &SpecificSurface::from_porosity_m2_per_cm3)
      .def_readonly("m2_per_g", &SpecificSurface::m2_per_g)
      .def_readonly("volume", &SpecificSurface::volume)
      .def_readonly("m2_per_g_by", &SpecificSurface::m2_per_g_by)
      .def_readonly("warnings", &SpecificSurface::warnings)
      .def("__repr__",
           [](const SpecificSurface& s) {
             py::list parts;
             const auto add = [&](const char* text, const std::optional<CurveEstimate>& e) {
               if (e) parts.append(py::str(text).format(e->value, e->u));
             };
             add("{:.4g} ± {:.2g} m2/cm3 (contrast)", s.from_contrast_m2_per_cm3);
             add("{:.4g} ± {:.2g} m2/cm3 (porosity)", s.from_porosity_m2_per_cm3);
             add("{:.4g} ± {:.2g} m2/g", s.m2_per_g);
             add("l_p {:.4g} ± {:.2g} nm", s.porod_length_nm);
             return py::str("<SpecificSurface: {}{}>")
                 .format(py::str(", ").attr("join")(parts), s.warnings.empty() ? "" : ", with warnings");
           })
      .def(pickle(&SpecificSurface::porod_length_nm, &SpecificSurface::pore_chord_nm, &SpecificSurface::solid_chord_nm,
                  &SpecificSurface::from_contrast_m2_per_cm3, &SpecificSurface::from_porosity_m2_per_cm3,
                  &SpecificSurface::m2_per_g, &SpecificSurface::volume, &SpecificSurface::m2_per_g_by,
                  &SpecificSurface::warnings));
  m.def(
      "specific_surface",
      [](const Curve& curve, const PorodFit& porod, const Invariant& q, const OptionalGiven& contrast,
         const OptionalGiven& porosity, const OptionalGiven& skeletal, const OptionalGiven& apparent) {
        return specific_surface(
            curve, porod, q, {given_from(contrast), given_from(porosity), given_from(skeletal), given_from(apparent)});
      },
      py::arg("curve"), py::kw_only(), py::arg("porod"), py::arg("invariant"), py::arg("contrast_per_cm2") = py::none(),
      py::arg("porosity") = py::none(), py::arg("skeletal_density_g_per_cm3") = py::none(),
      py::arg("apparent_density_g_per_cm3") = py::none(), no_gil());
  py::class_<GrainPorosity>(m, "GrainPorosity", "Pores of the grains, from an intensity per gram.")
      .def_readonly("porosity", &GrainPorosity::porosity)
      .def_readonly("pore_volume_cm3_per_g", &GrainPorosity::pore_volume_cm3_per_g)
      .def(pickle(&GrainPorosity::porosity, &GrainPorosity::pore_volume_cm3_per_g));
  m.def(
      "porosity_per_gram",
      [](const Curve& curve, const Invariant& q, std::pair<double, double> contrast,
         std::pair<double, double> skeletal) {
        return porosity_per_gram(curve, q, {contrast.first, contrast.second}, {skeletal.first, skeletal.second});
      },
      py::arg("curve"), py::arg("invariant"), py::kw_only(), py::arg("contrast_per_cm2"),
      py::arg("skeletal_density_g_per_cm3"), no_gil());
}

}  // namespace

void bind_analysis(py::module_& m) {
  bind_curve_estimate(m);
  bind_guinier(m);
  bind_porod(m);
  bind_invariant(m);
  bind_surface(m);
}
