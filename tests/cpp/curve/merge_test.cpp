// SPDX-License-Identifier: GPL-3.0-or-later
#include "sievelight/curve/merge.hpp"

#include "curve/two_configurations.hpp"
#include "sievelight/base/error.hpp"
#include "support/refusal.hpp"

#include <gtest/gtest.h>

namespace sievelight {
namespace {

using Eigen::Index;
using Eigen::VectorXd;

constexpr const char* merge_id = "merge scale: s";

// The long camera has few counts at its end, the short one few at its beginning; the high curve is in units 1/1.25 of
// the low one's. Both share thickness and absolute scale, each has its own transmission and its own blank.
std::pair<Curve, Curve> configurations() {
  Curve low = binned(two_phase, 0.05, 0.6, 60), high = binned(two_phase, 0.25, 3.0, 70);
  low.private_u = 0.01 * low.intensity.array() * (1 + (low.q_per_nm.array() / 0.3).pow(3));
  high.private_u = 0.02 * high.intensity.array() * (1 + (0.3 / high.q_per_nm.array()).pow(3)) + 1e-4;
  low.causes["counts: blank"] = {CauseKind::pointwise, -0.3 * low.private_u};
  high.causes["counts: blank"] = {CauseKind::pointwise, -0.3 * high.private_u};
  for (Curve* c : {&low, &high}) {
    c->causes["absolute scale"] = {CauseKind::coherent, 0.0258 * c->intensity};
    c->causes["thickness: s"] = {CauseKind::coherent, -0.01 * c->intensity};
  }
  low.causes["transmission: low"] = {CauseKind::coherent, 0.006 * low.intensity};
  high.causes["transmission: high"] = {CauseKind::coherent, 0.004 * high.intensity};
  high = scale(high, {0.8, {}});
  return {low, high};
}

MergeOptions named(MergeOptions o = {}) {
  o.name = "s";
  return o;
}

TEST(Merge, RecoversTheScaleOfNoiselessCurvesAndKeepsEveryPoint) {
  auto [low, high] = configurations();
  const Merged m = merge(low, high, named());
  // A cubic spline that is good to the noise (1 %) is off by far less than the scale's own error.
  EXPECT_NEAR(m.scale.value, 1.25, 0.05 * m.scale_u);
  EXPECT_LT(m.chi2, 0.1 * m.degrees_of_freedom);
  ASSERT_EQ(m.warnings.size(), 1u);  // of two absolute curves 25 % apart
  EXPECT_NE(m.warnings[0].find("both curves are absolute"), std::string::npos);
  // Exact where nothing else limits the spline.
  for (Curve* c : {&low, &high}) {
    c->private_u.setZero();
    c->causes.clear();
  }
  const Merged exact = merge(low, high, named());
  EXPECT_NEAR(exact.scale.value, 1.25, 1e-6);
  EXPECT_EQ(exact.scale_u, 0.0);
  EXPECT_TRUE(std::isnan(exact.chi2));
  EXPECT_EQ(exact.notes.size(), 2u);
  const Curve& c = exact.curve;
  EXPECT_NO_THROW(check(c));
  for (Index i = 0; i < c.size(); ++i) EXPECT_NEAR(c.intensity[i], two_phase(c.q_per_nm[i]), 0.01 * c.intensity[i]);
}

// What both share moves both alike: it drops out of the scale and stays on the whole merged curve. What only the scaled
// curve has is undone by the scale; what only the other has is passed on.
TEST(Merge, EveryCauseGoesOnWithItsSign) {
  const auto [low, high] = configurations();
  const Merged m = merge(low, high, named());
  const auto relative = [&](const std::string& id) -> VectorXd {
    return m.curve.causes.at(id).u.cwiseQuotient(m.curve.intensity);
  };
  // 1e-4: as far as the smooth curve misses the points.
  EXPECT_NEAR(m.scale.causes.at("absolute scale"), 0.0, 1e-4 * 0.0258);
  EXPECT_NEAR(m.scale.causes.at("transmission: low"), 1.25 * 0.006, 1e-5);
  EXPECT_NEAR(m.scale.causes.at("transmission: high"), -1.25 * 0.004, 1e-5);
  EXPECT_LT((relative("absolute scale").array() - 0.0258).abs().maxCoeff(), 1e-5);
  EXPECT_LT((relative("thickness: s").array() + 0.01).abs().maxCoeff(), 1e-5);
  EXPECT_LT((relative("transmission: low").array() - 0.006).abs().maxCoeff(), 1e-5);
  EXPECT_LT(relative("transmission: high").array().abs().maxCoeff(), 1e-5);
  // The scale's own error stands on the scaled part only.
  const VectorXd own = relative(merge_id);
  for (Index i = 0; i < own.size(); ++i) {
    if (m.curve.q_per_nm[i] < m.q_cut_per_nm)
      EXPECT_EQ(own[i], 0.0);
    else
      EXPECT_NEAR(own[i], m.scale.causes.at(merge_id) / m.scale.value, 1e-12);
  }
  EXPECT_GT(m.scale.causes.at(merge_id), 0.0);
  double all = 0;
  for (const auto& [id, u] : m.scale.causes) all += u * u;
  EXPECT_NEAR(m.scale_u, std::sqrt(all), 1e-15);
}

TEST(Merge, ScalesTheLowCurveInstead) {
  const auto [low, high] = configurations();
  const Merged up = merge(low, high, named()), down = merge(low, high, named({.scaled = MergeSide::low}));
  EXPECT_NEAR(down.scale.value * up.scale.value, 1.0, 1e-12);
  EXPECT_EQ(down.q_cut_per_nm, up.q_cut_per_nm);
  EXPECT_TRUE(down.curve.intensity.isApprox(up.curve.intensity / up.scale.value, 1e-12));
  EXPECT_EQ(down.curve.causes.at(merge_id).u.tail(1)[0], 0.0);
}

TEST(Merge, KeepsWholePointsOfOneCurveOnEachSideOfTheCut) {
  const auto [low, high] = configurations();
  const Merged m = merge(low, high, named());
  Index n = 0;
  while (m.curve.q_per_nm[n] < m.q_cut_per_nm) {
    EXPECT_EQ(m.curve.intensity[n], low.intensity[n]);
    EXPECT_EQ(m.curve.private_u[n], low.private_u[n]);
    ++n;
  }
  for (Index i = m.curve.size() - 1, j = high.size() - 1; i >= n; --i, --j) {
    EXPECT_NEAR(m.curve.private_u[i], m.scale.value * high.private_u[j], 1e-15);
    EXPECT_EQ(m.curve.q_low_per_nm[i], high.q_low_per_nm[j]);
  }
  for (Index i = 1; i < m.curve.size(); ++i)
    EXPECT_GE(m.curve.q_low_per_nm[i], m.curve.q_high_per_nm[i - 1] * (1 - 1e-9));
  // The relative errors per bin cross where 1 % (1 + (q/0.3)^3) = 2 % (1 + (0.3/q)^3), at q = 0.3 * 2^(1/3); bins of
  // the two curves are of nearly one width in ln q (0.041, 0.035).
  EXPECT_NEAR(m.q_cut_per_nm, 0.3 * std::cbrt(2.0), 0.03);
}

TEST(Merge, CutsWhereItIsTold) {
  auto [low, high] = configurations();
  EXPECT_EQ(merge(low, high, named({.q_cut_per_nm = 0.4})).q_cut_per_nm, 0.4);
  // The long camera is sharper up to its end.
  low.q_resolution_per_nm = VectorXd::Constant(60, 0.005);
  high.q_resolution_per_nm = VectorXd::Constant(70, 0.02);
  EXPECT_NEAR(merge(low, high, named({.keep = MergeRule::better_resolution})).q_cut_per_nm, 0.6, 1e-9);
  const Merged ranged = merge(low, high, named({.q_range_per_nm = Range{0.3, 0.5}}));
  EXPECT_EQ(ranged.overlap_per_nm.low, 0.3);
  EXPECT_LT(ranged.points_low, merge(low, high, named()).points_low);
}

TEST(Merge, TakesAFixedScale) {
  const auto [low, high] = configurations();
  const Merged m = merge(low, high, named({.scale = Factor{1.25, {{"attenuator", 0.02}}}}));
  EXPECT_EQ(m.scale.value, 1.25);
  EXPECT_EQ(m.scale_u, 0.02);
  EXPECT_FALSE(m.curve.causes.contains(merge_id));
  EXPECT_EQ(m.curve.causes.at("attenuator").u[0], 0.0);
  EXPECT_GT(m.curve.causes.at("attenuator").u.tail(1)[0], 0.0);
  // With a scale of 1 the curves do not agree: 25 % is far more than the 0.7 % of their own transmissions.
  EXPECT_FALSE(merge(low, high, named({.scale = Factor{}})).warnings.empty());
}

// 600 draws of every cause by id. Tolerances: three standard errors of a standard deviation, 3/sqrt(1200) = 0.087, and
// of the coverage of 95 % bands, 3 sqrt(0.95 0.05/600) = 0.027.
TEST(Merge, PullsOfTheScaleAreStandardNormalAndItsBandsCover) {
  const auto [low, high] = configurations();
  double sum = 0, square = 0, chi2 = 0, freedom = 0;
  int covered = 0, rejected = 0;
  constexpr int draws = 600;
  for (int d = 0; d < draws; ++d) {
    Draw draw(1000u + static_cast<unsigned>(d));
    const Curve a = draw(low), b = draw(high);
    const Merged m = merge(a, b, named());
    const double pull = (m.scale.value - 1.25) / m.scale_u;
    sum += pull;
    square += pull * pull;
    covered += std::abs(pull) < 1.959964;
    chi2 += m.chi2;
    freedom += m.degrees_of_freedom;
    rejected += m.p_value < 0.05;
  }
  EXPECT_NEAR(sum / draws, 0.0, 3 / std::sqrt(draws));
  EXPECT_NEAR(std::sqrt(square / draws), 1.0, 0.087);
  EXPECT_NEAR(covered / double(draws), 0.95, 0.027);
  // Choosing the number of splines by the data takes up to a twentieth of chi2.
  EXPECT_NEAR(chi2 / freedom, 1.0, 0.06);
  EXPECT_NEAR(rejected / double(draws), 0.05, 0.03);
  RecordProperty("pull_sd", std::to_string(std::sqrt(square / draws)));
  RecordProperty("coverage", std::to_string(covered / double(draws)));
  RecordProperty("chi2_per_degree", std::to_string(chi2 / freedom));
}

// The merged curve's own covariance holds for what is made of it, although the scale's error from counts is taken as
// independent of the points it was made from: the standard deviation of a sum over the high part, and of its ratio to
// the low part, is right within 10 % (three standard errors are 9 %).
TEST(Merge, CovarianceOfTheMergedCurveHoldsByBruteForce) {
  const auto [low, high] = configurations();
  const Merged truth = merge(low, high, named());
  const double cut = truth.q_cut_per_nm;
  double square_tail = 0, square_ratio = 0;
  constexpr int draws = 600;
  for (int d = 0; d < draws; ++d) {
    Draw draw(5000u + static_cast<unsigned>(d));
    const Curve a = draw(low), b = draw(high);
    const Curve m = merge(a, b, named({.q_cut_per_nm = cut})).curve;
    const Eigen::MatrixXd c = covariance(m);
    VectorXd tail = VectorXd::Zero(m.size()), head = tail;
    for (Index i = 0; i < m.size(); ++i) (m.q_per_nm[i] < cut ? head : tail)[i] = 1 / truth.curve.intensity[i];
    const double x = tail.dot(m.intensity) / tail.dot(truth.curve.intensity);
    const double y = head.dot(m.intensity) / head.dot(truth.curve.intensity);
    const VectorXd dx = tail / tail.dot(truth.curve.intensity);
    const VectorXd dr = (dx - x / y * head / head.dot(truth.curve.intensity)) / y;
    square_tail += (x - 1) * (x - 1) / dx.dot(c * dx);
    square_ratio += (x / y - 1) * (x / y - 1) / dr.dot(c * dr);
  }
  EXPECT_NEAR(std::sqrt(square_tail / draws), 1.0, 0.1);
  EXPECT_NEAR(std::sqrt(square_ratio / draws), 1.0, 0.1);
  RecordProperty("tail_sd", std::to_string(std::sqrt(square_tail / draws)));
  RecordProperty("ratio_sd", std::to_string(std::sqrt(square_ratio / draws)));
}

// Two samples merged on the same bins share the blank's counts point by point, and no longer with an unmerged curve.
TEST(Merge, APointwiseCauseStaysSharedOnTheSameBinsOnly) {
  auto [low, high] = configurations();
  high = scale(high, {1.25, {}});
  const auto fixed = named({.scale = Factor{}, .q_cut_per_nm = 0.4});
  const Curve a = merge(low, high, fixed).curve;
  const Curve b = merge(scale(low, {1.1, {}}), scale(high, {1.1, {}}), fixed).curve;
  const Eigen::MatrixXd shared = covariance(a, b);
  const VectorXd u = a.causes.at("counts: blank").u;
  const VectorXd coherent = (0.0258 * 0.0258 + 0.01 * 0.01) * 1.1 * a.intensity.array().square();
  const VectorXd own = (a.q_per_nm.array() < 0.4).select(0.006 * a.intensity, 0.004 * a.intensity);
  EXPECT_TRUE(shared.diagonal().isApprox(1.1 * u.cwiseAbs2() + coherent + 1.1 * own.cwiseAbs2(), 1e-9));
  EXPECT_NE(refusal<InputError>([&] { covariance(a, low); }).find("'counts: blank' but not their q bins"),
            std::string::npos);
}

TEST(Merge, WarnsWhenTheShapesDiffer) {
  auto [low, high] = configurations();
  high.intensity.array() += high.intensity[20];  // a background left in the high curve
  const Merged m = merge(low, high, named());
  ASSERT_FALSE(m.warnings.empty());
  EXPECT_NE(m.warnings[0].find("differ in shape where they overlap (0.25 to 0.6 1/nm)"), std::string::npos)
      << m.warnings[0];
  EXPECT_LT(m.p_value, 1e-3);
}

TEST(Merge, WarnsWhenAbsoluteCurvesNeedAScale) {
  const auto [low, high] = configurations();
  auto [a, b] = std::pair{low, high};
  for (Curve* c : {&a, &b}) c->causes.erase("absolute scale");
  EXPECT_FALSE(merge(a, b, named()).warnings.empty());
  a.unit = b.unit = IntensityUnit::relative;
  EXPECT_TRUE(merge(a, b, named()).warnings.empty());
}

TEST(Merge, RefusesWhatCannotBeMerged) {
  const auto [low, high] = configurations();
  const auto words = [](const Curve& a, const Curve& b, const MergeOptions& o = named()) {
    return refusal<InputError>([&] { merge(a, b, o); });
  };
  const auto holds = [](const std::string& text, const std::string& part) {
    EXPECT_NE(text.find(part), std::string::npos) << text;
  };
  holds(words(crop(low, 0, 0.2), high), "0 points of the low curve and 0 of the high one lie in the overlap");
  holds(words(crop(low, 0, 0.2), high), "The low curve ends at");
  holds(words(high, low), "Give the curve of the longer camera first");
  Curve other = high;
  other.unit = IntensityUnit::relative;
  holds(words(low, other), "different units (1/cm and relative)");
  other = high;
  other.slit_length_per_nm = other.slit_width_per_nm = VectorXd::Ones(70);
  holds(words(low, other), "one curve was measured with a slit");
  Curve slit = low;
  slit.slit_length_per_nm = slit.slit_width_per_nm = VectorXd::Constant(60, 0.5);
  holds(words(slit, other), "the slit is 0.5 1/nm long in the low curve and 1 1/nm in the high one");
  other = high;
  other.causes[merge_id] = {CauseKind::coherent, VectorXd::Ones(70)};
  holds(words(low, other), "already carries the cause 'merge scale: s'");
  holds(words(low, high, named({.q_cut_per_nm = 2.0})), "the cut at 2 1/nm lies outside the overlap");
  holds(words(low, high, named({.keep = MergeRule::better_resolution})), "has no q resolution");
  holds(words(low, high, named({.scale = Factor{-1.0, {}}})), "the scale is -1");
}

}  // namespace
}  // namespace sievelight
