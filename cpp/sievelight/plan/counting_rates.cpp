// SPDX-License-Identifier: GPL-3.0-or-later
#include "sievelight/plan/counting_rates.hpp"

#include "sievelight/base/error.hpp"

#include <fmt/format.h>

#include <cmath>
#include <numbers>

namespace sievelight {
namespace {

void check_rates(const CountingRates& r) {
  if (r.sample.size() != r.background.size() || r.sample.size() != r.floor.size())
    throw InputError(
        fmt::format("the rates have {}, {} and {} points.", r.sample.size(), r.background.size(), r.floor.size()),
        "Give sample, background and floor on the same bins.");
  const auto bad = [](const Eigen::VectorXd& v) { return !(v.array() >= 0).all() || !v.allFinite(); };
  if (bad(r.sample) || bad(r.background) || bad(r.floor))
    throw InputError("a counting rate or floor is negative or not a number.", "Give variances times seconds, >= 0.");
}

void check_seconds(double sample_s, double background_s) {
  if (!(sample_s > 0) || !(background_s > 0) || !std::isfinite(sample_s))
    throw InputError(fmt::format("the exposures are {} s and {} s.", sample_s, background_s),
                     "Give seconds above zero.");
}

}  // namespace

Eigen::VectorXd predicted_u(const CountingRates& rates, double sample_s, double background_s) {
  check_rates(rates);
  check_seconds(sample_s, background_s);
  return (rates.sample.array() / sample_s + rates.background.array() / background_s + rates.floor.array().square())
      .sqrt();
}

double SummaryRates::variance(double sample_s, double background_s) const {
  check_seconds(sample_s, background_s);
  return sample / sample_s + background / background_s;
}

SummaryRates summary_rates(const CountingRates& rates, const Eigen::VectorXd& influence) {
  check_rates(rates);
  if (influence.size() != rates.sample.size())
    throw InputError(fmt::format("the influence has {} points, the rates {}.", influence.size(), rates.sample.size()),
                     "Use the influence of a summary of the same curve.");
  const Eigen::VectorXd square = influence.array().square();
  return {square.dot(rates.sample), square.dot(rates.background)};
}

double best_split(const SummaryRates& rates, int samples) {
  if (samples < 1)
    throw InputError(fmt::format("{} samples share the background.", samples), "Give a whole number from 1.");
  if (!(rates.sample > 0) || !(rates.background >= 0))
    throw InputError("the sample has no counting noise of its own.", "Give rates with v_s above zero.");
  return std::sqrt(samples * rates.background / rates.sample);
}

Eigen::VectorXd counts_per_s(const Curve& bins, const ExpectedBeam& b) {
  check(bins);
  if (bins.q_low_per_nm.size() != bins.size() || bins.size() == 0)
    throw InputError("the curve has no bin edges.", "Give q_low_per_nm and q_high_per_nm: counts are of bins.");
  const auto share = [](double x) { return x > 0 && x <= 1; };
  if (!(b.photons_per_s > 0) || !(b.thickness_mm > 0) || !(b.wavelength_nm > 0))
    throw InputError(fmt::format("the beam has {} photons a second through {} mm at {} nm.", b.photons_per_s,
                                 b.thickness_mm, b.wavelength_nm),
                     "Give a flux, a thickness and a wavelength above zero.");
  if (!share(b.transmission) || !share(b.cell_transmission) || !share(b.azimuth_share) || !share(b.efficiency))
    throw InputError(fmt::format("transmission {}, of the cell {}, share of the rings {}, efficiency {}.",
                                 b.transmission, b.cell_transmission, b.azimuth_share, b.efficiency),
                     "Each lies above 0 and at most at 1.");
  const Eigen::ArrayXd area =
      (bins.q_high_per_nm.array().square() - bins.q_low_per_nm.array().square()) / 2;  // integral of q dq
  const double lambda = b.wavelength_nm;
  return b.photons_per_s * b.transmission * b.efficiency * b.azimuth_share * (0.1 * b.thickness_mm) *
         (lambda * lambda / (2 * std::numbers::pi)) * area;
}

CountingRates expected_rates(const Curve& expected, const Eigen::VectorXd& background_per_cm, const ExpectedBeam& beam,
                             double relative_floor) {
  const Eigen::ArrayXd per_s = counts_per_s(expected, beam);
  if (background_per_cm.size() != expected.size() || !(background_per_cm.array() >= 0).all())
    throw InputError("the expected background is negative or on other bins.", "Give 1/cm >= 0 on the curve's bins.");
  const Eigen::ArrayXd seen = expected.intensity.array() + background_per_cm.array();
  if (!(seen >= 0).all() || !(relative_floor >= 0))
    throw InputError("the expected intensity or its floor is negative.", "Counts come from intensities >= 0.");
  return {seen / per_s, background_per_cm.array() / per_s * (beam.transmission / beam.cell_transmission),
          relative_floor * seen};
}

}  // namespace sievelight
