// SPDX-License-Identifier: GPL-3.0-or-later
#include "sievelight/analysis/anisotropy.hpp"

#include "sievelight/analysis/order_parameter.hpp"
#include "sievelight/analysis/rice.hpp"
#include "sievelight/base/error.hpp"
#include "sievelight/base/gsl.hpp"
#include "sievelight/base/units.hpp"

#include <fmt/format.h>
#include <gsl/gsl_cdf.h>

#include <Eigen/Dense>
#include <algorithm>
#include <cmath>

namespace sievelight {
namespace {

using Eigen::Index;
using Eigen::MatrixXd;
using Eigen::VectorXd;

// Mean of 1, cos 2 chi, sin 2 chi, ... over each bin: a bin of width w shrinks the harmonic m by sin(m w/2)/(m w/2).
MatrixXd harmonics(const AzimuthalProfile& p, bool fourth) {
  MatrixXd x(p.intensity.size(), fourth ? 5 : 3);
  for (Index i = 0; i < x.rows(); ++i) {
    x(i, 0) = 1.0;
    for (int order = 1; 2 * order < x.cols(); ++order) {
      const double m = 2.0 * order, half = 0.5 * m * radians(p.high_deg[i] - p.low_deg[i]);
      x(i, 2 * order - 1) = std::cos(m * radians(p.azimuth_deg[i])) * std::sin(half) / half;
      x(i, 2 * order) = std::sin(m * radians(p.azimuth_deg[i])) * std::sin(half) / half;
    }
  }
  return x;
}

// What u holds beyond Poisson counts (the dark frame's own counts, dead time), as one ratio of variances; >= 1.
double beyond_poisson(const AzimuthalProfile& p) {
  const double claimed = (p.u.array() * p.normalisation.array()).square().sum();
  const double poisson = p.counts.sum();
  const double few = static_cast<double>((p.counts.array() < 10.0).count());  // there u holds one count more
  return poisson > 0 ? std::max(1.0, (claimed - few) / poisson) : 1.0;
}

// Variance of the bins if `level` were the true intensity. For tests of a model: a variance from the bin's own counts
// goes with its fluctuation.
VectorXd variance_at(const AzimuthalProfile& p, const VectorXd& level, double ratio) {
  const VectorXd h = p.normalisation;
  // One count in the whole profile is the least that can be told from none.
  const double least = 1.0 / h.sum();
  return (level.array().max(least) * h.array() + p.dark_counts.array()) / h.array().square() * ratio;
}

void require(const AzimuthalProfile& p, const AnisotropyOptions& options) {
  const Index least = options.fourth_harmonic ? 6 : 4;
  if (p.intensity.size() < least)
    throw InputError(fmt::format("'{}' has {} azimuth bins with pixels.", p.name, p.intensity.size()),
                     fmt::format("Use {} or more.", least));
  const double widest = (p.high_deg - p.low_deg).maxCoeff();
  // cos 4 chi shrinks by a fifth in a bin of 30 degrees; wider bins would guess rather than measure.
  if (widest > 30.0)
    throw InputError(fmt::format("an azimuth bin of '{}' is {:.3g} degrees wide.", p.name, widest),
                     "Use bins of 30 degrees at most.");
  if (options.director_deg && !std::isfinite(*options.director_deg))
    throw InputError(fmt::format("the director is {} degrees.", *options.director_deg), "Give a finite azimuth.");
}

double half_turn(double degrees) { return degrees - 180.0 * std::floor(degrees / 180.0); }

}  // namespace

Anisotropy anisotropy(const AzimuthalProfile& p, const AnisotropyOptions& options) {
  quiet_gsl();
  require(p, options);
  Anisotropy out;
  out.covered_share = (p.high_deg - p.low_deg).sum() / 360.0;

  // 1. Harmonics by least squares with weights from the pixels alone: 1 for whole bins, less where a gap cuts a bin.
  const MatrixXd x = harmonics(p, options.fourth_harmonic);
  VectorXd density = p.normalisation.array() / (p.high_deg - p.low_deg).array(), sorted = density;
  std::sort(sorted.begin(), sorted.end());
  const VectorXd width = p.high_deg - p.low_deg;
  const VectorXd weight =
      (density.array() / (0.5 * sorted[sorted.size() / 2])).min(1.0) * width.array() / width.maxCoeff();
  const MatrixXd normal = x.transpose() * weight.asDiagonal() * x;
  const Eigen::SelfAdjointEigenSolver<MatrixXd> modes(normal);
  const double condition = modes.eigenvalues().maxCoeff() / std::max(modes.eigenvalues().minCoeff(), 1e-300);
  if (condition > 1e4)
    throw NumericalError(fmt::format("the azimuths that '{}' covers ({:.0f} % of the circle) do not determine its "
                                     "harmonics.",
                                     p.name, 100 * out.covered_share),
                         "Use a wider annulus or a smaller mask, or leave out the fourth harmonic.");
  const MatrixXd linear = normal.ldlt().solve(x.transpose() * weight.asDiagonal().toDenseMatrix());
  const VectorXd fit = linear * p.intensity;
  if (!(fit[0] > 0))
    throw InputError(fmt::format("the mean intensity of '{}' is {:.3g}.", p.name, fit[0]),
                     "An orientation needs intensity above zero: check the dark and count longer.");

  // 2. The vector (cos, sin)/2 of A = |c + i s| / (2 mean), its covariance, and what noise adds to its square.
  // The weights do not look at the counts, so the counts are an unbiased estimate of the variance of each sum, whatever
  // the pattern.
  const double ratio = beyond_poisson(p);
  const VectorXd variance = p.counts.array() / p.normalisation.array().square() * ratio;
  const MatrixXd covariance = linear * variance.asDiagonal() * linear.transpose();
  const Eigen::Vector2d z = fit.segment<2>(1) / (2 * fit[0]);
  Eigen::MatrixXd jacobian = MatrixXd::Zero(2, fit.size());
  jacobian(0, 0) = -z[0] / fit[0];
  jacobian(1, 0) = -z[1] / fit[0];
  jacobian(0, 1) = jacobian(1, 2) = 0.5 / fit[0];
  const Eigen::Matrix2d cov = jacobian * covariance * jacobian.transpose();
  out.amplitude_measured = z.norm();
  out.amplitude_squared = z.squaredNorm() - cov.trace();
  out.amplitude_squared_u =
      std::sqrt(4 * std::max(0.0, (z.transpose() * cov * z).value() - cov.squaredNorm()) + 2 * cov.squaredNorm());
  const Eigen::Vector2d along = z.norm() > 0 ? Eigen::Vector2d(z / z.norm()) : Eigen::Vector2d(1, 0);
  const Eigen::Vector2d across(-along[1], along[0]);
  const double u_along = std::sqrt((along.transpose() * cov * along).value());
  const double u_across = std::sqrt((across.transpose() * cov * across).value());
  // Rice's distribution has one width; across and along differ by the sag of a strong pattern only.
  const double r = out.amplitude_measured / u_along;
  const auto band = [&](double level) {
    const Range b = rice_interval(r, level);
    return Range{b.low * u_along, std::min(1.0, b.high * u_along)};
  };
  // 0.6826895, 0.9544997: the content of +-1 and +-2 standard deviations; bands are 68 % and 95 %.
  out.amplitude = {std::sqrt(std::max(0.0, out.amplitude_squared)), u_along, band(0.6826894921370859), band(0.95)};

  // 3. Would an isotropic pattern do? Score test: the variance is that of a flat pattern.
  const VectorXd flat = variance_at(p, VectorXd::Constant(p.intensity.size(), fit[0]), ratio);
  const MatrixXd null_covariance = linear * flat.asDiagonal() * linear.transpose();
  const Eigen::Vector2d c = fit.segment<2>(1);
  const double statistic = c.dot(null_covariance.block<2, 2>(1, 1).ldlt().solve(c));
  out.isotropic_probability = std::exp(-0.5 * statistic);  // chi-square of two degrees of freedom

  const VectorXd residual = p.intensity - x * fit;
  out.chi2 = (residual.array().square() / variance_at(p, x * fit, ratio).array()).sum();
  out.degrees_of_freedom = static_cast<int>(x.rows() - x.cols());

  // 4. Director and order parameter.
  const double fitted = half_turn(0.5 * degrees(std::atan2(z[1], z[0])));
  out.director_deg = options.director_deg ? half_turn(*options.director_deg) : fitted;
  if (!options.director_deg)
    out.director_u_deg = std::min(90.0 / std::sqrt(3.0), 0.5 * degrees(u_across / std::max(z.norm(), 1e-300)));
  if (const auto s2 = order_parameter(p, out.director_deg))
    out.order_parameter =
        Estimate::normal(s2->value, std::sqrt((s2->influence.array().square() * variance.array()).sum()));
  else
    out.warnings.push_back("the order parameter is not given: a gap in azimuth stays open after folding");

  const double bad_fit = out.degrees_of_freedom > 0 ? gsl_cdf_chisq_Q(out.chi2, out.degrees_of_freedom) : 1.0;
  if (bad_fit < 0.001)
    out.warnings.push_back(fmt::format(
        "the profile is not that of its lowest harmonics within its counts (chi2 {:.4g} for {} degrees of "
        "freedom): sharp orientation, crystals, or a beam centre that is off; standard errors hold counts "
        "only{}",
        out.chi2, out.degrees_of_freedom, out.covered_share < 0.99 ? ", and gaps then bias the amplitude" : ""));
  if (out.isotropic_probability > 0.05 && !options.director_deg)
    out.warnings.push_back(
        fmt::format("an isotropic pattern gives as much in {:.2g} of cases: the director is not known, and the order "
                    "parameter about "
                    "it is high by noise",
                    out.isotropic_probability));
  return out;
}

}  // namespace sievelight
