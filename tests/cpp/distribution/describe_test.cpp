// SPDX-License-Identifier: GPL-3.0-or-later
#include "sievelight/distribution/describe.hpp"

#include <gtest/gtest.h>

#include "distribution/synthetic.hpp"

namespace sievelight {
namespace {

using synthetic::contrast_per_cm2;

// The influence of the data on a summary, against brute force: move the data along a smooth and a rough direction,
// invert again with the same random numbers, and compare the change of the posterior mean. Both are means over draws
// worth some 2000, so each carries 2-3 % of the posterior sd of sampling error; moves are made of the size of that sd.
TEST(Describe, InfluenceIsTheDerivativeOfTheResult) {
  const Curve c = synthetic::noisy(synthetic::ideal(synthetic::log_normal(14, 0.2), {}), 1);
  InvertOptions options;
  options.contrast_per_cm2 = contrast_per_cm2;
  options.draws = 4000;
  const Kernel kernel = make_kernel(c, options);
  const SizeDistribution d = invert(c, kernel, options);
  const Eigen::ArrayXd t = Eigen::ArrayXd::LinSpaced(c.size(), 0, 1);
  for (const auto& [name, influence] : d.influence) {
    ASSERT_EQ(influence.size(), c.size());
    if (name == "pore_chord_nm" || name == "mesopore_share") continue;  // 2/3 of another one; all of the window
    const double sd = std::sqrt((d.draws.at(name).array() - d.draws.at(name).mean()).square().mean());
    for (const Eigen::ArrayXd& shape : {Eigen::ArrayXd((12 * t).sin()), Eigen::ArrayXd((40 * t).cos())}) {
      Eigen::VectorXd move = shape * c.private_u.array();
      const double per_unit = influence.dot(move);
      // Half a posterior sd, but no more than half a sigma a point, to stay where the response is linear.
      move *= std::min(0.5, 0.5 * sd / std::max(std::abs(per_unit), 1e-300));
      Curve up = c, down = c;
      up.intensity += move;
      down.intensity -= move;
      const double change =
          invert(up, kernel, options).draws.at(name).mean() - invert(down, kernel, options).draws.at(name).mean();
      EXPECT_NEAR(change / sd, 2 * influence.dot(move) / sd, 0.4) << name;
    }
  }
}

// Scaling every intensity and its u scales the volume and nothing else: by two, without rounding, draw by draw. So
// J . I = volume for the volume and 0 for sizes (Euler), to rounding: the noise of the draws must not show here, for a
// scale error moves a curve by many times the error of its level.
TEST(Describe, InfluenceKnowsThatVolumeIsProportionalToIntensity) {
  const Curve c = synthetic::noisy(synthetic::ideal(synthetic::log_normal(14, 0.2), {}), 2);
  InvertOptions options;
  options.contrast_per_cm2 = contrast_per_cm2;
  options.draws = 800;
  const SizeDistribution d = invert(c, options);
  Curve more = c;
  more.intensity *= 2.0;
  more.private_u *= 2.0;
  const SizeDistribution scaled = invert(more, options);
  EXPECT_NEAR(scaled.x50_nm.value / d.x50_nm.value, 1.0, 1e-12);
  EXPECT_NEAR(scaled.phi_one_minus_phi.value / d.phi_one_minus_phi.value, 2.0, 1e-12);
  for (const auto& [name, influence] : d.influence) {
    const bool scales =
        name == "phi_one_minus_phi" || name == "specific_surface_m2_per_cm3" || name == "number_per_cm3";
    if (name == "volume_fraction") continue;  // d phi = d v / (1 - 2 phi)
    const double value = d.draws.at(name).mean();
    EXPECT_NEAR(influence.dot(c.intensity), scales ? value : 0.0, 1e-9 * std::abs(value)) << name;
  }
}

// A scale of q by a relative e moves I by e dI/d ln q and every size by -e the other way: the size that fits I(q (1 +
// e)) is smaller. J . dI/d ln q = -x50, for the sampled method and for a quick one, whose 200 draws leave some 0.2 of
// noise.
TEST(Describe, InfluenceKnowsThatSizesGoWithTheScaleOfQ) {
  const Curve ideal = synthetic::ideal(synthetic::log_normal(14, 0.2), {}), c = synthetic::noisy(ideal, 2);
  const Eigen::Index n = c.size();
  Eigen::VectorXd slope = Eigen::VectorXd::Zero(n);
  for (Eigen::Index i = 0; i < n; ++i) {
    const Eigen::Index low = std::max<Eigen::Index>(0, i - 1), high = std::min(n - 1, i + 1);
    slope[i] = (ideal.intensity[high] - ideal.intensity[low]) / std::log(ideal.q_per_nm[high] / ideal.q_per_nm[low]);
  }
  for (const InversionMethod method : {InversionMethod::sampled, InversionMethod::evidence}) {
    InvertOptions options;
    options.method = method;
    double sum = 0.0;
    constexpr int seeds = 6;
    for (int seed = 1; seed <= seeds; ++seed) {
      options.seed = static_cast<std::uint64_t>(seed);
      const SizeDistribution d = invert(c, options);
      sum += d.influence.at("x50_nm").dot(slope) / d.x50_nm.value / seeds;
    }
    EXPECT_NEAR(sum, 1.0, 0.2) << name(method);
  }
}

TEST(Describe, InfluenceIsZeroAtPointsThatWereNotUsed) {
  Curve c = synthetic::noisy(synthetic::ideal(synthetic::log_normal(14, 0.2), {}), 3);
  InvertOptions options;
  options.draws = 400;
  options.q_range_per_nm = Range{0.1, 1.2};
  const SizeDistribution d = invert(c, options);
  const Eigen::VectorXd& j = d.influence.at("x50_nm");
  ASSERT_EQ(j.size(), c.size());
  for (Eigen::Index i = 0; i < c.size(); ++i) EXPECT_EQ(j[i] != 0, options.q_range_per_nm->contains(c.q_per_nm[i]));
  EXPECT_LT(d.q_per_nm.size(), c.size());
}

// The fit is the curve as the instrument would show it: with a 10 % scale error its band is still as tight as the
// points make it, because the scale was the same for all of them.
TEST(Describe, FitIncludesTheCoherentShifts) {
  Curve c = synthetic::noisy(synthetic::ideal(synthetic::log_normal(14, 0.2), {}), 4);
  c.causes["scale"] = {CauseKind::coherent, 0.1 * c.intensity};
  InvertOptions options;
  options.contrast_per_cm2 = contrast_per_cm2;
  const SizeDistribution d = invert(c, options);
  const Eigen::ArrayXd width = (d.fit_high95 - d.fit_low95).array() / d.fit.array();
  EXPECT_LT(width.head(60).mean(), 0.05);
  EXPECT_NEAR(d.residual.squaredNorm() / static_cast<double>(c.size()), 1.0, 5 * std::sqrt(2.0 / 120));
}

}  // namespace
}  // namespace sievelight
