// SPDX-License-Identifier: GPL-3.0-or-later
#include "sievelight/reduce/smear.hpp"

#include "reduce/slit_forms.hpp"
#include "sievelight/base/error.hpp"

#include <gtest/gtest.h>

namespace sievelight {
namespace {

using Eigen::VectorXd;

VectorXd sampled(const std::function<double(double)>& f, const VectorXd& q) { return q.unaryExpr(f); }

const VectorXd out_q = (VectorXd(5) << 0.02, 0.1, 0.5, 1.0, 2.0).finished();

// 430 samples a decade: a step of 0.0054 in ln q, 6 h^4 = 5e-9 for q^-4.
void expect_closed_form(const std::function<double(double)>& intensity, double high, const SlitProfile& slit,
                        const std::function<double(double)>& smeared, double precision = 1e-8) {
  const VectorXd q = log_grid(0.005, high, static_cast<Eigen::Index>(430 * std::log10(high / 0.005)));
  const SmearingMatrix s = smearing_matrix(out_q, q, slit);
  const VectorXd j = s.matrix * sampled(intensity, q);
  for (Eigen::Index i = 0; i < out_q.size(); ++i)
    EXPECT_NEAR(j[i], smeared(out_q[i]), precision * smeared(out_q[i])) << out_q[i];
}

TEST(Smear, MatchesClosedForms) {
  expect_closed_form(porod, 10, box_slit(1.0), [](double q) { return porod_box(q, 1.0); });
  expect_closed_form(guinier, 10, box_slit(0.3), [](double q) { return guinier_box(q, 0.3); });
  // The two-phase medium falls as q^-4 (1 - 2/q^2): beyond 1000 that is 2e-6 of a part of 1e-3.
  expect_closed_form(dab, 1000, infinite_slit(), dab_infinite);
  expect_closed_form(guinier, 30, infinite_slit(), guinier_infinite);
}

TEST(Smear, APowerLawGoesOnBeyondTheLastSample) {
  // q^-4 is its own extrapolation: an infinite slit from samples that end at 3.
  expect_closed_form(porod, 3, infinite_slit(), [](double q) { return pi_ / 2 * std::pow(q, -3.0); });
  expect_closed_form(porod, 2.5, box_slit(4.0), [](double q) { return porod_box(q, 4.0); });
  const VectorXd q = log_grid(0.005, 3, 1200);
  SmearOptions options;
  options.high_q_exponent = 3;
  const SmearingMatrix s = smearing_matrix(out_q, q, infinite_slit(), options);
  const VectorXd j = s.matrix * sampled([](double x) { return std::pow(x, -3.0); }, q);
  for (Eigen::Index i = 0; i < 5; ++i) EXPECT_NEAR(j[i], 2 / (out_q[i] * out_q[i]), 1e-8 * j[i]);
  // What the extrapolation makes: 2 integral beyond l = sqrt(9 - q^2) of (q^2 + l^2)^(-3/2) = (2/q^2)(1 - l/3).
  for (Eigen::Index i = 0; i < 5; ++i) {
    const double l = std::sqrt(9 - out_q[i] * out_q[i]);
    EXPECT_NEAR(s.beyond[i] * std::pow(3, -3.0), 2 / (out_q[i] * out_q[i]) * (1 - l / 3), 1e-8 * j[i]);
  }
}

TEST(Smear, AgreesWithAdaptiveQuadratureOnADetector) {
  SlitProfile slit;
  slit.geometry = SlitGeometry{300, 0.154};
  slit.length = trapezoid(6.2, 11.9);
  slit.width_sd = 0.12 / 2.3548;
  const VectorXd q = log_grid(0.004, 6, 1400);
  const VectorXd j = smearing_matrix(out_q, q, slit).matrix * sampled(dab, q);
  EXPECT_TRUE(j.isApprox(smear(dab, out_q, slit), 1e-8));
}

TEST(Smear, RowsOfAFiniteSlitSumToOneWhereNothingIsExtrapolated) {
  SlitProfile slit = box_slit(0.3);
  slit.width_sd = 0.001;
  for (const Interpolation how : {Interpolation::linear, Interpolation::cubic}) {
    const SmearingMatrix s = smearing_matrix(out_q, log_grid(0.005, 5, 200), slit, {.interpolation = how});
    for (Eigen::Index i = 0; i < out_q.size(); ++i) {
      EXPECT_NEAR(s.matrix.row(i).sum(), 1.0, 1e-12);
      EXPECT_EQ(s.beyond[i], 0.0);
    }
    if (how == Interpolation::linear) {
      EXPECT_GE(s.matrix.minCoeff(), 0.0);
    }
  }
}

TEST(Smear, WithoutASlitItIsTheIdentity) {
  const VectorXd q = log_grid(0.1, 1, 20);
  const SmearingMatrix s = smearing_matrix(q, q, SlitProfile{});
  EXPECT_TRUE(s.matrix.isApprox(Eigen::MatrixXd::Identity(20, 20), 1e-12));
}

TEST(Smear, RefusesWhatItCannotSmear) {
  EXPECT_THROW(smearing_matrix(out_q, VectorXd::Ones(1), box_slit(1)), InputError);
  EXPECT_THROW(smearing_matrix(out_q, Eigen::Vector2d(0, 1), box_slit(1)), InputError);
  EXPECT_THROW(smearing_matrix(VectorXd::Zero(1), out_q, box_slit(1)), InputError);
  SmearOptions flat;
  flat.high_q_exponent = 1;
  EXPECT_THROW(smearing_matrix(out_q, out_q, infinite_slit(), flat), InputError);
  EXPECT_NO_THROW(smearing_matrix(out_q, out_q, box_slit(1), flat));
}

}  // namespace
}  // namespace sievelight
