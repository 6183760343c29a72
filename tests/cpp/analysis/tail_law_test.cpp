// SPDX-License-Identifier: GPL-3.0-or-later
#include "sievelight/analysis/tail_law.hpp"

#include "analysis/synthetic.hpp"

#include <gsl/gsl_integration.h>
#include <gtest/gtest.h>

#include <cmath>
#include <random>
#include <vector>

namespace sievelight {
namespace {

using namespace synthetic;

const std::vector<TailLaw> laws{
    {TailBackground::flat, Walls::sharp, false},        {TailBackground::flat, Walls::sharp, true},
    {TailBackground::square, Walls::sharp, true},       {TailBackground::fourth, Walls::sharp, false},
    {TailBackground::exponential, Walls::sharp, false}, {TailBackground::flat, Walls::smooth, false},
    {TailBackground::flat, Walls::smooth, true},        {TailBackground::square, Walls::smooth, false}};

// I of the law written out, with B 0.02, K 3, C 0.5, growth 0.004, s 0.03 nm^2.
Eigen::VectorXd written_out(const Eigen::ArrayXd& q, const TailLaw& law) {
  const Eigen::ArrayXd h =
      law.walls == Walls::smooth ? (-0.03 * q.square()).exp().eval() : Eigen::ArrayXd::Ones(q.size());
  Eigen::ArrayXd out = (3.0 * q.pow(-4) + (law.next_term ? 0.5 : 0.0) * q.pow(-6)) * h;
  switch (law.background) {
    case TailBackground::flat:
      return out + 0.02;
    case TailBackground::square:
      return out + 0.02 + 0.004 * q.square();
    case TailBackground::fourth:
      return out + 0.02 + 0.004 * q.pow(4);
    case TailBackground::exponential:
      return out + 0.02 * (0.004 * q.square()).exp();
  }
  return out;
}

std::vector<double> truth(const TailLaw& law) {
  std::vector<double> out{0.02, 3.0};
  if (law.next_term) out.push_back(0.5);
  if (law.background != TailBackground::flat) out.push_back(0.004);
  if (law.walls == Walls::smooth) out.push_back(0.03);
  return out;
}

// Linear laws to rounding; the search for b and s stops at 1e-8 of chi-square, here 1e-5 of the values.
TEST(TailLaw, RecoversEachLawFromItself) {
  const Eigen::VectorXd q = log_grid(0.5, 6.0, 120);
  for (const TailLaw& law : laws) {
    const Eigen::VectorXd intensity = written_out(q, law);
    const TailFit fit = fit_tail(q, intensity, (0.01 * intensity.array()).square(), law);
    ASSERT_TRUE(fit.settled);
    const std::vector<double> expected = truth(law);
    ASSERT_EQ(fit.coefficient.size(), static_cast<Eigen::Index>(expected.size()));
    for (std::size_t k = 0; k < expected.size(); ++k)
      EXPECT_NEAR(fit.coefficient[static_cast<Eigen::Index>(k)] / expected[k], 1.0, 2e-5)
          << k << " of law " << &law - laws.data();
  }
}

// The influence is the derivative: against central differences of the fit, 1e-3 u a point.
TEST(TailLaw, InfluenceIsTheDerivative) {
  const Eigen::VectorXd q = log_grid(0.5, 6.0, 60);
  for (const TailLaw& law : laws) {
    const Eigen::VectorXd intensity = written_out(q, law);
    const Eigen::ArrayXd variance = (0.01 * intensity.array()).square();
    const TailFit fit = fit_tail(q, intensity, variance, law);
    for (const Eigen::Index i : {0, 20, 45, 59}) {
      const double step = 0.3 * std::sqrt(variance[i]);
      Eigen::VectorXd up = intensity, down = intensity;
      up[i] += step, down[i] -= step;
      const Eigen::VectorXd slope =
          (fit_tail(q, up, variance, law).coefficient - fit_tail(q, down, variance, law).coefficient) / (2.0 * step);
      for (Eigen::Index k = 0; k < slope.size(); ++k)
        EXPECT_NEAR(slope[k], fit.influence(k, i), 0.02 * fit.influence.row(k).cwiseAbs().maxCoeff())
            << k << " at " << i << " of law " << &law - laws.data();
    }
  }
}

// Each further number makes K less sure: the diagonal of an inverse grows when a column is added (textbook).
TEST(TailLaw, EachFurtherNumberWidensK) {
  const Eigen::VectorXd q = log_grid(0.5, 6.0, 120);
  const Eigen::VectorXd intensity = written_out(q, laws[0]);
  const Eigen::ArrayXd variance = (0.01 * intensity.array()).square();
  const auto u = [&](TailLaw law) { return std::sqrt(fit_tail(q, intensity, variance, law).inverse(1, 1)); };
  const double plain = u(laws[0]), square = u({TailBackground::square}), both = u(laws[7]);
  EXPECT_GT(square, 1.02 * plain);
  EXPECT_GT(both, 1.2 * square);
}

double by_quadrature(int power, double s, double x) {
  struct Given {
    int power;
    double s;
  } given{power, s};
  gsl_function f{[](double q, void* p) {
                   const auto* g = static_cast<Given*>(p);
                   return std::exp(-g->s * q * q) * std::pow(q, -g->power);
                 },
                 &given};
  gsl_integration_workspace* space = gsl_integration_workspace_alloc(200);
  double value = 0, error = 0;
  gsl_integration_qagiu(&f, x, 0.0, 1e-10, 200, space, &value, &error);
  gsl_integration_workspace_free(space);
  return value;
}

// Against adaptive quadrature of the integrand (GSL's qagiu, 1e-10).
TEST(TailLaw, SmoothTailIsTheIntegral) {
  for (const int power : {2, 4})
    for (const double s : {0.0, 0.001, 0.03, 0.5})
      for (const double x : {0.4, 1.0, 3.0}) {
        const double exact = by_quadrature(power, s, x);
        EXPECT_NEAR(smooth_tail(power, s, x) / exact, 1.0, 1e-9) << power << " " << s << " " << x;
      }
  EXPECT_EQ(smooth_tail(2, -1.0, 0.5), 2.0);
}

}  // namespace
}  // namespace sievelight
