// SPDX-License-Identifier: GPL-3.0-or-later
#include "sievelight/reduce/slit.hpp"

#include "reduce/slit_forms.hpp"
#include "sievelight/base/error.hpp"
#include "support/refusal.hpp"

#include <gsl/gsl_sf_gamma.h>
#include <gtest/gtest.h>

namespace sievelight {
namespace {

using Eigen::VectorXd;

const VectorXd qs = (VectorXd(5) << 0.02, 0.1, 0.5, 1.0, 2.0).finished();

void expect_closed_form(const std::function<double(double)>& intensity, const SlitProfile& slit,
                        const std::function<double(double)>& smeared) {
  const VectorXd j = smear(intensity, qs, slit);
  for (Eigen::Index i = 0; i < qs.size(); ++i) EXPECT_NEAR(j[i], smeared(qs[i]), 1e-8 * smeared(qs[i])) << qs[i];
}

// Source: J = sqrt(pi) Gamma((n-1)/2)/Gamma(n/2) q^-(n-1): pi/q, 2/q^2, (pi/2)/q^3.
TEST(Slit, AnInfiniteSlitTakesOnePowerOff) {
  for (const double n : {2.0, 2.5, 3.0, 4.0})
    expect_closed_form([&](double q) { return std::pow(q, -n); }, infinite_slit(),
                       [&](double q) {
                         return std::sqrt(pi_) * gsl_sf_gamma((n - 1) / 2) / gsl_sf_gamma(n / 2) * std::pow(q, 1 - n);
                       });
  EXPECT_NEAR(smear(porod, VectorXd::Ones(1), infinite_slit())[0], pi_ / 2, 1e-9);
}

TEST(Slit, AnInfiniteSlitLeavesGuiniersRadius) { expect_closed_form(guinier, infinite_slit(), guinier_infinite); }

// Source: (pi I0/2a)(1 + q^2 a^2)^(-3/2); 0.863655363453 at q = 0.7, a = 1.
TEST(Slit, AnInfiniteSlitOnATwoPhaseMedium) {
  expect_closed_form(dab, infinite_slit(), dab_infinite);
  EXPECT_NEAR(smear(dab, VectorXd::Constant(1, 0.7), infinite_slit())[0], 0.863655363453, 1e-9);
}

TEST(Slit, AFiniteSlitOnGuiniersLaw) {
  for (const double half : {0.01, 0.3, 5.0})
    expect_closed_form(guinier, box_slit(half), [&](double q) { return guinier_box(q, half); });
}

// Source: (1/L) integral_0^L (q^2 + l^2)^-2 dl for L = 1 at q = 0.1, 0.5, 1, 2.
TEST(Slit, AFiniteSlitOnPorodsLaw) {
  expect_closed_form(porod, box_slit(1.0), [](double q) { return porod_box(q, 1.0); });
  const VectorXd j = smear(porod, Eigen::Vector4d(0.1, 0.5, 1, 2), box_slit(1.0));
  EXPECT_NEAR(j[0], 785.068787647, 785 * 1e-9);
  EXPECT_NEAR(j[1], 6.02859487118, 6 * 1e-9);
  EXPECT_NEAR(j[2], 0.642699081699, 1e-9);
  EXPECT_NEAR(j[3], 0.0539779755626, 1e-10);
}

// Source: widths add in quadrature, s/sqrt(s^2+w^2) exp(-q^2/2(s^2+w^2)).
TEST(Slit, AGaussianWidthOnAGaussian) {
  const double s = 0.4, w = 0.15, v = s * s + w * w;
  expect_closed_form([&](double q) { return std::exp(-q * q / (2 * s * s)); }, gaussian_width(w),
                     [&](double q) { return s / std::sqrt(v) * std::exp(-q * q / (2 * v)); });
}

// Length and width of a Gaussian curve separate: the product of both closed forms.
TEST(Slit, LengthAndWidthTogether) {
  SlitProfile slit = box_slit(0.3);
  slit.width_sd = 0.15;
  const double s2 = 1.5 / (rg_nm * rg_nm), v = s2 + 0.15 * 0.15;
  expect_closed_form(guinier, slit, [&](double q) {
    return std::sqrt(s2 / v) * std::exp(-q * q / (2 * v)) * guinier_box(q, 0.3) / guinier(q);
  });
}

// Source: 2 integral_0^inf P dl = 6 pi/5 R^-1 for a sphere of R = 1 at q -> 0.
TEST(Slit, ASphereInAnInfiniteSlit) {
  EXPECT_NEAR(smear(sphere, VectorXd::Constant(1, 1e-4), infinite_slit())[0], 3.76991118431, 1e-7);
}

// Source: integral q J dq = 2 integral k^2 I dk (polar coordinates); 2 integral k^2/(1+k^2)^2 dk = pi/2 for the
// two-phase medium, and the closed form of its J gives integral q (pi/2)(1+q^2)^(-3/2) dq = pi/2.
TEST(Slit, TheInvariantSurvivesAnInfiniteSlit) {
  const Eigen::Index n = 4000;
  double sum = 0;
  // q = t/(1-t)^2 takes the tail in; midpoints.
  VectorXd q(n), jacobian(n);
  for (Eigen::Index i = 0; i < n; ++i) {
    const double t = (static_cast<double>(i) + 0.5) / static_cast<double>(n);
    q[i] = t / ((1 - t) * (1 - t));
    jacobian[i] = (1 + t) / std::pow(1 - t, 3) / static_cast<double>(n);
  }
  const VectorXd j = smear(dab, q, infinite_slit());
  for (Eigen::Index i = 0; i < n; ++i) sum += q[i] * j[i] * jacobian[i];
  EXPECT_NEAR(sum, pi_ / 2, 1e-3);  // the tail falls as 1/q^2: midpoints reach 2/n of it
}

// On a detector the slit is straight in mm: for small angles it is (2 pi/lambda L) of that in q.
TEST(Slit, AGeometryTurnsMillimetresIntoQ) {
  SlitProfile slit;
  slit.geometry = SlitGeometry{300, 0.154};
  const double per_mm = 2 * pi_ / (0.154 * 300);
  slit.length = trapezoid(6.2, 11.9);
  SlitProfile in_q;
  in_q.length = trapezoid(6.2 * per_mm, 11.9 * per_mm);
  const VectorXd a = smear(guinier, qs, slit), b = smear(guinier, qs, in_q);
  for (Eigen::Index i = 0; i < qs.size(); ++i) {
    // tan 2theta and 2 sin theta part by (3/2) theta^2 of q^2, at q = 2 by 9e-4 of the exponent's 3.9 and the like.
    EXPECT_NEAR(a[i], b[i], 4e-3 * b[i]) << qs[i];
    EXPECT_NE(a[i], b[i]);
  }
  const Curve c = with_slit(
      [] {
        Curve curve;
        curve.q_per_nm = curve.intensity = qs;
        curve.private_u = VectorXd::Zero(5);
        return curve;
      }(),
      slit);
  EXPECT_TRUE(c.has_slit());
  EXPECT_NEAR(c.slit_length_per_nm[0], per_mm * std::sqrt(second_moment(*slit.length)), 1e-6);
  EXPECT_EQ(c.slit_width_per_nm[0], 0.0);
}

// Source: second moments: box h^2/3; triangle b^2/6; trapezoid (b^2 + t^2)/6.
TEST(Slit, SecondMoments) {
  EXPECT_NEAR(second_moment(trapezoid(2, 2)), 4.0 / 3, 1e-14);
  EXPECT_NEAR(second_moment(trapezoid(0, 3)), 9.0 / 6, 1e-14);
  EXPECT_NEAR(second_moment(trapezoid(6.2, 11.9)), (6.2 * 6.2 + 11.9 * 11.9) / 6, 1e-12);
}

TEST(Slit, AMeasuredProfileOfATrapezoidIsTheTrapezoid) {
  SlitProfile a, b;
  a.length = trapezoid(0.2, 0.5);
  VectorXd x = VectorXd::LinSpaced(101, -0.6, 0.6), w(101);
  for (Eigen::Index i = 0; i < 101; ++i) w[i] = 7 * std::clamp((0.5 - std::abs(x[i])) / 0.3, 0.0, 1.0);
  b.length = measured_weight(x, w);
  // The knots at 0.2 and 0.5 fall between samples of 0.012: an area of 1e-4.
  EXPECT_TRUE(smear(dab, qs, a).isApprox(smear(dab, qs, b), 2e-4));
}

TEST(Slit, RefusesWhatIsNoSlit) {
  const auto words = [](const auto& call) { return refusal<InputError>(call); };
  EXPECT_NE(words([] { trapezoid(3, 2); }).find("3 wide at its top and 2"), std::string::npos);
  EXPECT_NE(words([] { trapezoid(0, 0); }).find("0 <= half top"), std::string::npos);
  EXPECT_NE(words([] { measured_weight(Eigen::Vector2d(1, 0), Eigen::Vector2d(1, 1)); }).find("do not rise at row 2"),
            std::string::npos);
  EXPECT_NE(words([] { measured_weight(Eigen::Vector2d(0, 1), Eigen::Vector2d(1, -1)); }).find("weight is -1"),
            std::string::npos);
  EXPECT_NE(words([] { measured_weight(Eigen::Vector2d(0, 1), Eigen::Vector2d(0, 0)); }).find("all zero"),
            std::string::npos);
  SlitProfile bad = infinite_slit();
  bad.length = trapezoid(1, 1);
  EXPECT_NE(words([&] { check(bad); }).find("infinite slit"), std::string::npos);
  bad = gaussian_width(0.1);
  bad.width = trapezoid(1, 1);
  EXPECT_NE(words([&] { check(bad); }).find("Give one of the two"), std::string::npos);
  bad = SlitProfile{};
  bad.geometry = SlitGeometry{0, 0.15};
  EXPECT_NE(words([&] { check(bad); }).find("the distance is 0 mm"), std::string::npos);
  EXPECT_THROW(with_slit(Curve{}, infinite_slit()), InputError);
  EXPECT_THROW(smear([](double q) { return 1 / q; }, qs, infinite_slit()), NumericalError);
}

}  // namespace
}  // namespace sievelight
