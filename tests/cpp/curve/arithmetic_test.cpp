// SPDX-License-Identifier: GPL-3.0-or-later
#include "sievelight/curve/arithmetic.hpp"

#include "curve/some_curves.hpp"
#include "sievelight/base/error.hpp"

#include <gtest/gtest.h>

namespace sievelight {
namespace {

using Eigen::MatrixXd;
using Eigen::VectorXd;

std::string refusal(const auto& call) {
  try {
    call();
  } catch (const InputError& error) {
    EXPECT_FALSE(error.mend().empty());
    return error.what();
  }
  return "accepted";
}

TEST(Arithmetic, ACurveMinusItselfHasNoSharedPart) {
  const Curve a = some_curve(), zero = subtract(a, a);
  EXPECT_TRUE(zero.intensity.isZero(0));
  for (const auto& [id, cause] : zero.causes) EXPECT_TRUE(cause.u.isZero(0)) << id;
  EXPECT_TRUE(zero.private_u.isApprox(std::sqrt(2.0) * a.private_u, 1e-14));
}

TEST(Arithmetic, ASumCarriesTwiceTheSharedPart) {
  const Curve a = some_curve(), twice = add(a, a);
  for (const auto& [id, cause] : twice.causes) EXPECT_TRUE(cause.u.isApprox(2 * a.causes.at(id).u, 1e-15)) << id;
}

// Cov(a - b) = C_aa + C_bb - C_ab - C_ba (GUM 5.2.2), here with causes that are shared in part and in sign.
TEST(Arithmetic, ADifferenceHasTheCovarianceOfTheLaw) {
  const Curve a = some_curve(), b = another_curve();
  const MatrixXd law = covariance(a) + covariance(b) - covariance(a, b) - covariance(b, a);
  EXPECT_TRUE(covariance(subtract(a, b)).isApprox(law, 1e-12));
  const MatrixXd sum_law = covariance(a) + covariance(b) + covariance(a, b) + covariance(b, a);
  EXPECT_TRUE(covariance(add(a, b)).isApprox(sum_law, 1e-12));
}

// What raises k and lowers I by as much (the flux, say) leaves k I alone to first order: u(kI) = k u_I + I u_k = 0.
TEST(Arithmetic, OppositeSignsCancelInAProduct) {
  Curve a = some_curve();
  a.causes["flux"] = {CauseKind::coherent, -0.05 * a.intensity};
  const Curve scaled = scale(a, {3.0, {{"flux", 3.0 * 0.05}, {"thickness", 0.06}}});
  EXPECT_TRUE(scaled.causes.at("flux").u.isZero(1e-14));
  EXPECT_TRUE(scaled.causes.at("thickness").u.isApprox(0.06 * a.intensity, 1e-14));
  EXPECT_TRUE(scaled.intensity.isApprox(3 * a.intensity, 1e-15));
  EXPECT_TRUE(scaled.private_u.isApprox(3 * a.private_u, 1e-15));
  EXPECT_TRUE(scaled.causes.at("blank counts").u.isApprox(3 * a.causes.at("blank counts").u, 1e-15));
  EXPECT_TRUE((scale(a, {-2.0, {}}).private_u.array() >= 0).all());
}

TEST(Arithmetic, FactorsMultiplyAndDivideWithSign) {
  const Factor t{0.5, {{"transmission", 0.01}}}, d{2.0, {{"thickness", 0.1}, {"transmission", -0.02}}};
  const Factor product = multiply(t, d), quotient = divide(t, d);
  EXPECT_DOUBLE_EQ(product.value, 1.0);
  EXPECT_DOUBLE_EQ(product.causes.at("transmission"), 2.0 * 0.01 + 0.5 * -0.02);
  EXPECT_DOUBLE_EQ(product.causes.at("thickness"), 0.05);
  EXPECT_DOUBLE_EQ(quotient.value, 0.25);
  EXPECT_DOUBLE_EQ(quotient.causes.at("transmission"), 0.01 / 2 + 0.5 * 0.02 / 4);
  EXPECT_DOUBLE_EQ(quotient.causes.at("thickness"), -0.5 * 0.1 / 4);
  EXPECT_DOUBLE_EQ(divide(t, t).causes.at("transmission"), 0.0);
}

// Two samples minus the same shared blank: the blank's counts must correlate them, and cancel in their difference.
TEST(Arithmetic, ASharedBlankCancelsInTheDifferenceOfTwoSamples) {
  const Curve blank = share(some_curve(), "blank 2 counts");
  EXPECT_TRUE(blank.private_u.isZero(0));
  EXPECT_TRUE(total_u(blank).isApprox(total_u(some_curve()), 1e-14));
  Curve sample = another_curve();
  sample.causes.clear();
  const Curve a = subtract(sample, blank), b = subtract(sample, blank), difference = subtract(a, b);
  EXPECT_TRUE(difference.causes.at("blank 2 counts").u.isZero(0));
  EXPECT_TRUE(difference.private_u.isApprox(std::sqrt(2.0) * sample.private_u, 1e-14));
  EXPECT_NE(refusal([&] { share(blank, "blank 2 counts"); }).find("already carries"), std::string::npos);
}

TEST(Arithmetic, CropKeepsWhatBelongsToThePoints) {
  const Curve a = some_curve(), part = crop(a, a.q_per_nm[2], a.q_per_nm[4]);
  ASSERT_EQ(part.size(), 3);
  EXPECT_NO_THROW(check(part));
  EXPECT_EQ(part.q_high_per_nm[2], a.q_high_per_nm[4]);
  EXPECT_EQ(part.causes.at("distance").u[0], a.causes.at("distance").u[2]);
  EXPECT_TRUE(covariance(part).isApprox(covariance(a).block(2, 2, 3, 3), 1e-15));
  const std::string words = refusal([&] { crop(a, 5, 6); });
  EXPECT_NE(words.find("no point lies between q = 5 and 6"), std::string::npos) << words;
}

// Rebinning is the linear map A: the covariance of the result must be A C A^T where that is diagonal plus coherent.
TEST(Arithmetic, RebinHasTheCovarianceOfTheLinearMap) {
  const Curve a = some_curve();
  const int group = 3;
  MatrixXd map = MatrixXd::Zero(3, a.size());
  const VectorXd width = a.q_high_per_nm - a.q_low_per_nm;
  for (Eigen::Index i = 0; i < a.size(); ++i) map(i / group, i) = width[i];
  map.array().colwise() /= map.rowwise().sum().array().eval();
  const Curve merged = rebin(a, group);
  EXPECT_NO_THROW(check(merged));
  EXPECT_TRUE(merged.intensity.isApprox(map * a.intensity, 1e-14));
  EXPECT_TRUE(covariance(merged).isApprox(map * covariance(a) * map.transpose(), 1e-12));
  EXPECT_EQ(merged.q_low_per_nm[1], a.q_low_per_nm[3]);
  EXPECT_EQ(merged.q_high_per_nm[2], a.q_high_per_nm[6]);
}

// Subtracting and rebinning commute, also for a pointwise cause of opposite sign in the two curves (its sign must
// survive the rebinning; here both are in one proportion, where that is exact).
TEST(Arithmetic, RebinAndSubtractCommute) {
  const Curve a = some_curve(), b = another_curve();
  const Curve first = rebin(subtract(a, b), 2), last = subtract(rebin(a, 2), rebin(b, 2));
  EXPECT_TRUE(first.intensity.isApprox(last.intensity, 1e-13));
  EXPECT_TRUE(covariance(first).isApprox(covariance(last), 1e-12));
  EXPECT_TRUE(rebin(a, 1).intensity.isApprox(a.intensity, 1e-15));
  EXPECT_NE(refusal([&] { rebin(a, 0); }).find("groups of 0"), std::string::npos);
}

TEST(Arithmetic, RefusesUnlikeCurves) {
  const Curve a = some_curve();
  Curve b = a;
  b.q_per_nm *= 1.0001;
  EXPECT_NE(refusal([&] { subtract(a, b); }).find("different q"), std::string::npos);
  b = a;
  b.unit = IntensityUnit::relative;
  EXPECT_NE(refusal([&] { add(a, b); }).find("different units (1/cm and relative)"), std::string::npos);
  b = a;
  b.causes.at("transmission").kind = CauseKind::pointwise;
  EXPECT_NE(refusal([&] { add(a, b); }).find("'transmission' is coherent in one curve and pointwise"),
            std::string::npos);
  EXPECT_NE(refusal([&] {
              scale(a, {1.0, {{"blank counts", 0.1}}});
            }).find("pointwise in the curve"),
            std::string::npos);
  EXPECT_NE(refusal([&] { divide({}, {0.0, {}}); }).find("zero"), std::string::npos);
}

TEST(Arithmetic, CurvesOfDifferentSlitsDoNotMix) {
  const Curve pinhole = some_curve();
  Curve slit = some_curve();
  slit.slit_length_per_nm = Eigen::VectorXd::LinSpaced(7, 1, 2);
  slit.slit_width_per_nm = Eigen::VectorXd::Constant(7, 0.01);
  EXPECT_THROW(subtract(pinhole, slit), InputError);
  Curve longer = slit;
  longer.slit_length_per_nm *= 1.01;
  EXPECT_THROW(add(slit, longer), InputError);
  EXPECT_EQ(subtract(slit, slit).slit_length_per_nm, slit.slit_length_per_nm);
  EXPECT_EQ(crop(slit, slit.q_per_nm[2], 10).slit_length_per_nm, slit.slit_length_per_nm.tail(5));
  const Curve half = rebin(slit, 2);
  EXPECT_EQ(half.slit_length_per_nm.size(), 4);
  EXPECT_NEAR(half.slit_width_per_nm[1], 0.01, 1e-15);
  EXPECT_NO_THROW(check(half));
}

}  // namespace
}  // namespace sievelight
