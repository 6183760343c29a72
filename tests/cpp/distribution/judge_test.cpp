// SPDX-License-Identifier: GPL-3.0-or-later
#include "sievelight/distribution/judge.hpp"

#include "distribution/synthetic.hpp"
#include "sievelight/base/error.hpp"
#include "sievelight/base/units.hpp"

#include <gtest/gtest.h>

#include <algorithm>
#include <random>

namespace sievelight {
namespace {

Curve flat_curve(unsigned seed, double level) {
  Curve c = synthetic::ideal(synthetic::log_normal(14, 0.2), {});
  c.intensity.setConstant(level);
  c.private_u.setConstant(0.1);
  return synthetic::noisy(std::move(c), seed);
}

bool mentions(const std::vector<std::string>& all, const std::string& word) {
  return std::any_of(all.begin(), all.end(), [&](const auto& s) { return s.find(word) != std::string::npos; });
}

// With 1 % of flat curves let through, 12 of 12 refused has a probability of 0.89; two let through of 0.6 %.
TEST(Judge, RefusesCurvesThatAreNothingButNoise) {
  int refused = 0;
  for (unsigned seed = 1; seed <= 12; ++seed) {
    const double level = seed % 3 == 0 ? -1.0 : seed % 3 == 1 ? 0.0 : 2.0;
    try {
      InvertOptions options;
      options.method = seed % 2 == 0 ? InversionMethod::sampled : InversionMethod::evidence;
      invert(flat_curve(seed, level), options);
    } catch (const NumericalError&) {
      ++refused;
    }
  }
  EXPECT_GE(refused, 11);
}

TEST(Judge, RefusesAWindowThatTheRangeDoesNotSupport) {
  EXPECT_THROW(refuse_unsupported({0.1, 0.3}, {1.9, 60}), InputError);
  EXPECT_THROW(refuse_unsupported({80, 200}, {1.9, 60}), InputError);
  EXPECT_NO_THROW(refuse_unsupported({1, 3}, {1.9, 60}));
}

TEST(Judge, NamesAGapThatCannotBeSeenAcross) {
  Curve c = synthetic::ideal(synthetic::log_normal(14, 0.2), {});
  std::vector<std::string> warnings;
  judge_gaps(c, {5, 39}, warnings);
  EXPECT_TRUE(warnings.empty());
  std::vector<Eigen::Index> kept;
  for (Eigen::Index i = 0; i < c.size(); ++i)
    if (c.q_per_nm[i] < 0.3 || c.q_per_nm[i] > 0.7) kept.push_back(i);
  Curve gapped = c;
  for (Eigen::VectorXd* v :
       {&gapped.q_per_nm, &gapped.intensity, &gapped.private_u, &gapped.q_low_per_nm, &gapped.q_high_per_nm})
    *v = Eigen::VectorXd((*v)(kept));
  judge_gaps(gapped, {5, 39}, warnings);
  ASSERT_EQ(warnings.size(), 1u);
  EXPECT_TRUE(mentions(warnings, "no points between")) << warnings.front();
  warnings.clear();
  judge_gaps(gapped, {3, 5}, warnings);  // sizes that small are sampled across it
  EXPECT_TRUE(warnings.empty());
}

// Sharp peaks at 1 : sqrt(3) : 2 on the curve of spheres: as high as the curve they carry it, small ones disturb it.
TEST(Judge, RefusesACurveThatPeaksOfOrderCarry) {
  Curve c = synthetic::ideal(synthetic::log_normal(9, 0.3), {.q_low = 0.2, .q_high = 2.5, .bins = 200, .noise = 0.01});
  const auto with_peaks = [&](double height) {
    Curve out = c;
    for (Eigen::Index i = 0; i < c.size(); ++i)
      for (const double q : {0.7, 0.7 * std::sqrt(3.0), 1.4})
        out.intensity[i] += height * c.intensity[i] * std::exp(-0.5 * std::pow((c.q_per_nm[i] - q) / 0.02, 2));
    return synthetic::noisy(std::move(out), 7);
  };
  std::vector<std::string> warnings;
  EXPECT_NO_THROW(refuse_order(with_peaks(0.0), warnings));
  EXPECT_TRUE(warnings.empty());
  EXPECT_NO_THROW(refuse_order(with_peaks(0.12), warnings));
  ASSERT_EQ(warnings.size(), 1u);
  EXPECT_TRUE(mentions(warnings, "disturb")) << warnings.front();
  EXPECT_THROW(refuse_order(with_peaks(2.0), warnings), NumericalError);
  InvertOptions options;
  EXPECT_THROW(invert(with_peaks(2.0), options), NumericalError);
  options.look_for_order = false;
  options.method = InversionMethod::evidence;
  EXPECT_NO_THROW(invert(with_peaks(2.0), options));
}

TEST(Judge, SaysWhatWasAssumed) {
  InvertOptions options;
  options.power_law = true;
  KernelOptions model;
  model.power_exponent = 3.5;
  model.interaction = HardSpheres{0.2, 1.0};
  const auto plain = assumptions(model, options);
  EXPECT_TRUE(mentions(plain, "assumption: sphere")) << plain.front();
  EXPECT_TRUE(mentions(plain, "volume fraction 0.2"));
  EXPECT_TRUE(mentions(plain, "given as 3.5"));
  options.also_fit = AlsoFit::power_exponent;
  EXPECT_TRUE(mentions(assumptions(model, options), "exponent is fitted"));
}

}  // namespace
}  // namespace sievelight
