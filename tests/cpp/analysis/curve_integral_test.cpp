// SPDX-License-Identifier: GPL-3.0-or-later
#include "sievelight/analysis/curve_integral.hpp"

#include "analysis/synthetic.hpp"
#include "sievelight/base/error.hpp"

#include <gtest/gtest.h>

#include <cmath>

namespace sievelight {
namespace {

using namespace synthetic;

// I = 1 / (1 + q^2)^2: integral of q^2 I sin(qr)/(qr) over all q is (pi/4) exp(-r) (Debye, Anderson, Brumberger 1957).
struct Parts {
  Curve curve =
      with_counting_u(bare(log_grid(0.02, 30.0, 600),
                           log_grid(0.02, 30.0, 600).unaryExpr([](double q) { return std::pow(1.0 + q * q, -2); })),
                      1e-4);
  PorodFit porod = fit_porod(curve, {.q_range_per_nm = Range{10.0, 30.0}});
};

// Below: Guinier's law by its closed form sqrt(pi) erf(sqrt(a) x) / (4 a^1.5) - x exp(-a x^2) / (2 a), less B x^3 / 3.
TEST(CurveIntegral, BelowTheDataIsGuiniersLawLessTheBackground) {
  const Parts p;
  const GuinierFit guinier = fit_guinier(p.curve, {.q_rg_max = 0.5});
  const CurveIntegral integral(p.curve, guinier, p.porod);
  const double a = std::pow(guinier.rg_nm.value, 2) / 3.0, x = p.curve.q_per_nm[guinier.first];
  const double law =
      std::sqrt(pi) * std::erf(std::sqrt(a) * x) / (4.0 * std::pow(a, 1.5)) - x * std::exp(-a * x * x) / (2.0 * a);
  const CurveSum low = integral.below([](double) { return 1.0; });
  EXPECT_NEAR(low.value, guinier.i0.value * law - p.porod.background.value * x * x * x / 3.0, 1e-12 * x * x * x);
  // With r = 300 nm, q r reaches 6 below the first point: the panels still hold.
  const auto k = [](double q) { return std::cos(300.0 * q); };
  EXPECT_NEAR(CurveIntegral(p.curve, guinier, p.porod, 300.0).below(k).value,
              CurveIntegral(p.curve, guinier, p.porod, 3000.0).below(k).value, 1e-12);
}

// Trapezoids of q^2 I for k = 1, h^2/12 of the step h = 1.2 % of curvatures of order ten: 2e-4. Swinging kernels
// have the same error, as q^2 I is what is made of straight lines.
TEST(CurveIntegral, DataIsTheIntegralBetweenItsPoints) {
  const Parts p;
  const CurveIntegral integral(p.curve, std::nullopt, p.porod, 20.0);
  for (const double r : {0.0, 1.0, 5.0, 20.0}) {
    const auto k = [&](double q) { return r == 0.0 ? 1.0 : std::sin(q * r) / (q * r); };
    double exact = 0.0;  // Simpson's rule with 200 000 steps
    const double low = p.curve.q_per_nm[0], high = p.curve.q_per_nm[integral.join()];
    const int steps = 200000;
    for (int i = 0; i <= steps; ++i) {
      const double q = low + (high - low) * i / steps;
      exact += (i == 0 || i == steps ? 1.0
                : i % 2 == 1         ? 4.0
                                     : 2.0) *
               q * q * (std::pow(1.0 + q * q, -2) - p.porod.background.value) * k(q);
    }
    exact *= (high - low) / steps / 3.0;
    EXPECT_NEAR(integral.data(k).value, exact, 3e-4 * pi / 4.0) << r;
  }
}

TEST(CurveIntegral, InfluenceIsTheDerivative) {
  const Parts p;
  const auto k = [](double q) { return std::sin(2.0 * q) / (2.0 * q); };
  const CurveIntegral integral(p.curve, std::nullopt, p.porod, 2.0);
  const CurveSum data = integral.data(k), low = integral.below(k);
  // Linear in I once the fits are linear in I, as this Porod fit is with its weights held: J . I is the value itself.
  EXPECT_NEAR(data.influence.dot(p.curve.intensity), data.value, 1e-10);
  EXPECT_NEAR(low.influence.dot(p.curve.intensity), low.value, 1e-12);
}

TEST(CurveIntegral, RefusesFitsOfAnotherCurve) {
  const Parts p;
  Curve shorter = p.curve;
  shorter.q_per_nm.conservativeResize(100);
  shorter.intensity.conservativeResize(100);
  shorter.private_u.conservativeResize(100);
  EXPECT_THROW(CurveIntegral(shorter, std::nullopt, p.porod), InputError);
}

}  // namespace
}  // namespace sievelight
