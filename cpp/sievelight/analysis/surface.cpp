// SPDX-License-Identifier: GPL-3.0-or-later
#include "sievelight/analysis/surface.hpp"

#include "sievelight/base/error.hpp"
#include "sievelight/base/units.hpp"

#include <fmt/format.h>

#include <cmath>
#include <initializer_list>
#include <utility>

namespace sievelight {
namespace {

constexpr double m2_per_cm2 = 1e-4;
// S/V in 1/nm to m2/cm3: 1 nm^-1 = 1e7 cm2/cm3 = 1e3 m2/cm3.
constexpr double m2_per_cm3_from_per_nm = 1e3;

void require(const std::optional<Given>& given, const char* what, double low, double high, const char* mend) {
  if (!given) return;
  if (!(given->value > low) || !(given->value < high) || !(given->u >= 0.0))
    throw InputError(
        fmt::format("{} is {} with u = {}; it must lie between {} and {}.", what, given->value, given->u, low, high),
        mend);
}

// A product of powers of the curve's results and of given numbers, with its influence and causes.
struct Product {
  double value;
  Eigen::VectorXd relative_influence;
  std::map<std::string, double> relative_causes;
  Eigen::VectorXd guessed_variance;

  Product& times(const CurveEstimate& factor, double power) {
    value *= std::pow(factor.value, power);
    relative_influence += power / factor.value * factor.influence;
    for (const auto& [id, sd] : factor.causes) relative_causes[id] += power / factor.value * sd;
    return *this;
  }
  // `derivative`: d ln(factor) / d given.
  Product& times(double factor, const char* id, const Given& given, double derivative) {
    value *= factor;
    if (given.u > 0.0) relative_causes[id] += derivative * given.u;
    return *this;
  }
  CurveEstimate estimate(const Curve& curve) const {
    auto causes = relative_causes;
    for (auto& [id, sd] : causes) sd *= value;
    return estimate_from(curve, value, value * relative_influence, std::move(causes), guessed_variance);
  }
};

}  // namespace

double surface_m2_per_cm3(double porod_constant_per_cm5, double contrast_per_cm2) {
  return porod_constant_per_cm5 / (2.0 * pi * contrast_per_cm2 * contrast_per_cm2) * m2_per_cm2;
}

SpecificSurface specific_surface(const Curve& curve, const PorodFit& porod, const Invariant& invariant,
                                 const SurfaceOptions& options) {
  check(curve);
  const double large = std::numeric_limits<double>::infinity();
  require(options.contrast_per_cm2, "the contrast", 0.0, large,
          "Give the difference of the scattering-length densities, positive (silica in air: about 1.86e11 1/cm2).");
  require(options.porosity, "the porosity", 0.0, 1.0, "Give the pores' share of the volume, as a fraction.");
  require(options.skeletal_density_g_per_cm3, "the skeletal density", 0.0, 30.0, "Give it in g/cm3 (silica: 2.2).");
  require(options.apparent_density_g_per_cm3, "the apparent density", 0.0, 30.0, "Give it in g/cm3.");
  if (porod.constant.influence.size() != curve.size() || invariant.value.influence.size() != curve.size())
    throw InputError("the Porod fit or the invariant does not belong to this curve.", "Take both from the same curve.");
  if (options.contrast_per_cm2 && curve.unit == IntensityUnit::relative)
    throw InputError("a surface from the contrast needs an absolute intensity, and this curve's is relative.",
                     "Bring the curve to 1/cm, or give the porosity instead: then the scale cancels.");
  if (!(porod.constant.value > 0.0))
    throw NumericalError(fmt::format("Porod's constant is {:.2g} +- {:.2g}, not above zero: from this curve no surface "
                                     "can be told.",
                                     porod.constant.value, porod.constant.u),
                         "Expose longer, check the background subtraction, or measure to higher q.");

  const Product one{1.0, Eigen::VectorXd::Zero(curve.size()), {}, larger_guess(porod.constant, invariant.value)};
  SpecificSurface out;
  const Product length = Product(one).times(scaled(invariant.value, 4.0 / pi), 1.0).times(porod.constant, -1.0);
  out.porod_length_nm = length.estimate(curve);
  std::optional<Product> per_volume;
  if (options.porosity) {
    const Given phi = *options.porosity;
    const double p = phi.value, s = 1.0 - p;
    out.pore_chord_nm = Product(length).times(1.0 / s, "porosity", phi, 1.0 / s).estimate(curve);
    out.solid_chord_nm = Product(length).times(1.0 / p, "porosity", phi, -1.0 / p).estimate(curve);
    per_volume = Product(one)
                     .times(scaled(porod.constant, pi * m2_per_cm3_from_per_nm), 1.0)
                     .times(invariant.value, -1.0)
                     .times(p * s, "porosity", phi, 1.0 / p - 1.0 / s);
    out.from_porosity_m2_per_cm3 = per_volume->estimate(curve);
    out.volume = "from the porosity: per volume in which the porosity holds (solid and pores)";
  }
  if (options.contrast_per_cm2) {
    const Given contrast = *options.contrast_per_cm2;
    const Product absolute = Product(one)
                                 .times(scaled(porod.constant_per_cm5, m2_per_cm2 / (2.0 * pi)), 1.0)
                                 .times(std::pow(contrast.value, -2), "contrast", contrast, -2.0 / contrast.value);
    if (curve.unit == IntensityUnit::cm2_per_g) {
      out.m2_per_g = absolute.estimate(curve);
      out.m2_per_g_by = "the contrast, from an intensity per gram";
    } else {
      out.from_contrast_m2_per_cm3 = absolute.estimate(curve);
      out.volume += std::string(out.volume.empty() ? "" : "; ") +
                    "from the contrast: per volume that the sample's thickness stands for (a powder's gaps included)";
      if (!per_volume) per_volume = absolute;
    }
  }
  if (per_volume && !out.m2_per_g) {
    const char* by = options.porosity ? "the porosity" : "the contrast";
    if (options.apparent_density_g_per_cm3) {
      const Given rho = *options.apparent_density_g_per_cm3;
      out.m2_per_g =
          Product(*per_volume).times(1.0 / rho.value, "apparent_density", rho, -1.0 / rho.value).estimate(curve);
      out.m2_per_g_by = fmt::format("{} and the apparent density", by);
    } else if (options.skeletal_density_g_per_cm3 && options.porosity) {
      const Given rho = *options.skeletal_density_g_per_cm3, phi = *options.porosity;
      const double s = 1.0 - phi.value;
      out.m2_per_g = Product(*per_volume)
                         .times(1.0 / rho.value, "skeletal_density", rho, -1.0 / rho.value)
                         .times(1.0 / s, "porosity", phi, 1.0 / s)
                         .estimate(curve);
      out.m2_per_g_by = fmt::format("{} and the skeletal density", by);
    } else if (options.skeletal_density_g_per_cm3) {
      out.warnings.push_back("A surface per gram from the contrast needs the porosity or the apparent density, too.");
    }
  }
  if (!porod.law_holds) out.warnings.push_back("Porod's law does not hold in its window: these are no true surfaces.");
  if (porod.constant.u > 0.5 * porod.constant.value)
    out.warnings.push_back("Porod's constant is uncertain by more than half: do not quote a surface from it.");
  return out;
}

GrainPorosity porosity_per_gram(const Curve& curve, const Invariant& invariant, Given contrast, Given skeletal) {
  check(curve);
  require(contrast, "the contrast", 0.0, std::numeric_limits<double>::infinity(),
          "Give the difference of the scattering-length densities, positive (silica in air: about 1.86e11 1/cm2).");
  require(skeletal, "the skeletal density", 0.0, 30.0, "Give it in g/cm3 (silica: 2.2).");
  if (curve.unit != IntensityUnit::cm2_per_g || invariant.value.influence.size() != curve.size())
    throw InputError(
        fmt::format("a porosity per gram needs a curve in cm2/g and its invariant, not one in {}.", name(curve.unit)),
        "Reduce with the mass per area; for a curve in 1/cm use phi_one_minus_phi.");
  const double rho = skeletal.value;
  GrainPorosity out;
  out.porosity = Product{1.0, Eigen::VectorXd::Zero(curve.size()), {}, invariant.value.guessed_variance}
                     .times(invariant.value_per_cm4, 1.0)
                     .times(std::pow(contrast.value, -2) / (2.0 * pi * pi), "contrast", contrast, -2.0 / contrast.value)
                     .times(rho, "skeletal_density", skeletal, 1.0 / rho)
                     .estimate(curve);
  const double phi = out.porosity.value;
  if (!(phi > 0.0 && phi < 1.0))
    throw NumericalError(fmt::format("the invariant asks for a porosity of {:.3g}.", phi),
                         "Check the scale (mass per area), the contrast and the skeletal density.");
  // d v = d phi / (rho (1 - phi)^2) - v d rho / rho.
  const double slope = 1.0 / (rho * (1.0 - phi) * (1.0 - phi)), volume = phi / (rho * (1.0 - phi));
  auto causes = scaled(out.porosity, slope).causes;
  if (skeletal.u > 0.0) causes["skeletal_density"] -= volume * skeletal.u / rho;
  out.pore_volume_cm3_per_g =
      estimate_from(curve, volume, slope * out.porosity.influence, causes, out.porosity.guessed_variance);
  return out;
}

}  // namespace sievelight
