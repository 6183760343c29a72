// SPDX-License-Identifier: GPL-3.0-or-later
#include "sievelight/reduce/desmear.hpp"

#include "reduce/slit_forms.hpp"
#include "sievelight/base/error.hpp"
#include "support/refusal.hpp"

#include <gtest/gtest.h>

#include <random>

namespace sievelight {
namespace {

using Eigen::Index;
using Eigen::VectorXd;

// Smeared by adaptive quadrature, not by the matrix that desmearing uses.
Curve smeared(const std::function<double(double)>& intensity, const VectorXd& q, const SlitProfile& slit,
              double relative_u = 0.0) {
  Curve c;
  c.q_per_nm = q;
  c.intensity = smear(intensity, q, slit);
  c.private_u = relative_u * c.intensity;
  return c;
}

// The interior: where the slit (half length 0.5) does not look beyond the last point.
void expect_identity(const std::function<double(double)>& intensity, const Curve& curve, const Desmeared& d,
                     double interior) {
  for (Index i = 0; i < curve.size() && curve.q_per_nm[i] < interior; ++i)
    EXPECT_NEAR(d.intensity[i], intensity(curve.q_per_nm[i]), 1e-3 * intensity(curve.q_per_nm[i])) << curve.q_per_nm[i];
}

TEST(Desmear, UndoesAFiniteSlitOnATwoPhaseMedium) {
  SlitProfile slit = box_slit(0.5);
  slit.length = trapezoid(0.3, 0.5);
  const Curve curve = smeared(dab, log_grid(0.02, 6, 400), slit);
  const Desmeared d = desmear_lake(curve, slit);
  expect_identity(dab, curve, d, 5.0);
  EXPECT_TRUE(d.smeared.isApprox(curve.intensity, 1e-5));
}

TEST(Desmear, UndoesAnInfiniteSlitOnATwoPhaseMedium) {
  const Curve curve = smeared(dab, log_grid(0.02, 60, 800), infinite_slit());
  expect_identity(dab, curve, desmear_lake(curve, infinite_slit()), 30.0);
}

// Up to the first minimum's flank a sphere; through the minima, where I falls to zero and the relative error has no
// meaning, the error is held against the neighbouring maximum.
TEST(Desmear, UndoesASlitOnASphere) {
  const auto spheres = [](double q) { return sphere(4 * q); };
  const SlitProfile slit = box_slit(0.2);
  const Curve curve = smeared(spheres, log_grid(0.02, 4, 900), slit);
  DesmearOptions options;
  options.most_iterations = 3000;
  const Desmeared d = desmear_lake(curve, slit, options);
  expect_identity(spheres, curve, d, 0.9);
  // Source: side maxima of a sphere at x = 5.763, 9.095: P = 7.425e-3, 1.268e-3.
  for (Index i = 0; i < curve.size() && curve.q_per_nm[i] < 3.0; ++i) {
    const double x = 4 * curve.q_per_nm[i], scale = x < 7.7 ? 7.425e-3 : 4.5 / std::pow(x, 4);
    EXPECT_NEAR(d.intensity[i], spheres(curve.q_per_nm[i]), 0.02 * scale + 1e-3 * spheres(curve.q_per_nm[i]))
        << curve.q_per_nm[i];
  }
}

// With noise it stops at the noise: fewer steps, chi2 per point at most 1 and not far below.
TEST(Desmear, NeverFitsTheNoise) {
  const SlitProfile slit = box_slit(0.5);
  Curve curve = smeared(dab, log_grid(0.02, 6, 200), slit, 0.02);
  std::mt19937_64 random(7);
  std::normal_distribution<double> normal;
  for (Index i = 0; i < curve.size(); ++i) curve.intensity[i] += curve.private_u[i] * normal(random);
  const Desmeared d = desmear_lake(curve, slit);
  EXPECT_GE(d.iterations, 1);
  EXPECT_LE(d.iterations, 20);
  EXPECT_LE(d.chi2_per_point, 1.0);
  EXPECT_GT(d.chi2_per_point, 0.2);
  EXPECT_NE(d.note.find("for plots only"), std::string::npos) << d.note;
  EXPECT_NE(d.note.find("at the noise"), std::string::npos) << d.note;
  EXPECT_NE(d.note.find("beyond 6 1/nm I falls as q^-4"), std::string::npos) << d.note;
}

TEST(Desmear, RefusesWhatItWouldDivideBy) {
  Curve curve = smeared(dab, log_grid(0.1, 1, 10), SlitProfile{});
  curve.intensity[4] = -0.1;
  EXPECT_NE(
      refusal<InputError>([&] { desmear_lake(curve, box_slit(1)); }).find("1 points of the curve are not positive"),
      std::string::npos);
  EXPECT_THROW(desmear_lake(smeared(dab, log_grid(0.1, 1, 3), SlitProfile{}), box_slit(1)), InputError);
  curve.intensity[4] = 0.1;
  DesmearOptions options;
  options.most_iterations = 0;
  EXPECT_THROW(desmear_lake(curve, box_slit(1), options), InputError);
}

}  // namespace
}  // namespace sievelight
