// SPDX-License-Identifier: GPL-3.0-or-later
#include "sievelight/plan/information.hpp"

#include "sievelight/base/error.hpp"
#include "sievelight/distribution/noise.hpp"
#include "sievelight/distribution/summary.hpp"

#include <fmt/format.h>

#include <Eigen/Cholesky>
#include <cmath>

namespace sievelight {
namespace {

using Eigen::Index;
using Eigen::MatrixXd;
using Eigen::VectorXd;

void check_sample(const NamedSample& s) {
  const auto wanted = static_cast<Index>(parameter_names(s.family).size());
  if (s.parameters.size() != wanted)
    throw InputError(
        fmt::format("a {} distribution has {} parameters; {} are given.", name(s.family), wanted, s.parameters.size()),
        fmt::format("Give {}.", fmt::join(parameter_names(s.family), ", ")));
  if (!(s.parameters.array() > 0).all() || !s.parameters.allFinite())
    throw InputError(fmt::format("a parameter of the {} distribution is not above zero.", name(s.family)),
                     "Give sizes in nm and relative widths above zero.");
  if (!(s.volume > 0) || !std::isfinite(s.volume) || !(s.contrast_per_cm2 >= 0))
    throw InputError(fmt::format("the volume is {}, the contrast {} 1/cm^2.", s.volume, s.contrast_per_cm2),
                     "Give a volume above zero and the difference of the scattering-length densities.");
}

double unit_of(const NamedSample& s) { return s.contrast_per_cm2 > 0 ? contrast_factor(s.contrast_per_cm2) : 1.0; }

Kernel kernel_for(const Curve& bins, const KernelOptions& options) {
  const Index last = bins.size() - 1;
  const bool edges = bins.q_low_per_nm.size() > 0;
  return make_kernel(bins,
                     family_grid(edges ? bins.q_low_per_nm[0] : bins.q_per_nm[0],
                                 edges ? bins.q_high_per_nm[last] : bins.q_per_nm[last]),
                     options);
}

VectorXd curve_of(const Kernel& kernel, const NamedSample& s) {
  VectorXd out = unit_of(s) * s.volume * (kernel.volume_nm3 * family_density(s.family, s.parameters, kernel.grid));
  return out.array() + s.power_law_k * kernel.power_law.array() + s.flat_level;
}

}  // namespace

VectorXd expected_intensity(const Curve& bins, const NamedSample& sample, const KernelOptions& options) {
  check(bins);
  check_sample(sample);
  return curve_of(kernel_for(bins, options), sample);
}

std::map<std::string, Foreseen> foresee(const Curve& curve, const NamedSample& sample, bool power_law,
                                        const KernelOptions& options) {
  check(curve);
  check_sample(sample);
  const VectorXd u = pointwise_u(curve);
  if (!(u.array() > 0).all())
    throw InputError("a point has no uncertainty.", "Give private_u above zero at every point.");
  const Kernel kernel = kernel_for(curve, options);
  const Summariser summarise_one(kernel.grid, options.shape.surface_per_size, options.shape.surface_per_nm);
  const auto& names = parameter_names(sample.family);
  const Index k = sample.parameters.size(), all = k + 2 + (power_law ? 1 : 0);
  struct Measure {
    const char* name;
    double Summary::*value;
  };
  constexpr Measure measures[] = {{"x10_nm", &Summary::x10_nm},
                                  {"x50_nm", &Summary::x50_nm},
                                  {"x90_nm", &Summary::x90_nm},
                                  {"mean_nm", &Summary::mean_nm},
                                  {"relative_width", &Summary::relative_width}};
  const Summary here = summarise_one(family_density(sample.family, sample.parameters, kernel.grid));

  // Everything is counted in units of itself (relative steps), so that the information is well scaled.
  MatrixXd j(curve.size(), all);
  MatrixXd gradient = MatrixXd::Zero(static_cast<Index>(std::size(measures)), all);
  VectorXd scale = VectorXd::Ones(all);
  const double step = 1e-4;  // truncation 1e-8, far from rounding: the density is smooth in every parameter
  for (Index i = 0; i < k; ++i) {
    NamedSample above = sample, below = sample;
    above.parameters[i] *= 1 + step;
    below.parameters[i] *= 1 - step;
    j.col(i) = (curve_of(kernel, above) - curve_of(kernel, below)) / (2 * step);
    scale[i] = sample.parameters[i];
    const Summary a = summarise_one(family_density(above.family, above.parameters, kernel.grid));
    const Summary b = summarise_one(family_density(below.family, below.parameters, kernel.grid));
    for (std::size_t m = 0; m < std::size(measures); ++m)
      gradient(static_cast<Index>(m), i) = (a.*measures[m].value - b.*measures[m].value) / (2 * step);
  }
  NamedSample particles = sample;
  particles.flat_level = particles.power_law_k = 0;
  j.col(k) = curve_of(kernel, particles);
  scale[k] = sample.volume;
  scale[k + 1] = u.mean();
  j.col(k + 1).setConstant(scale[k + 1]);
  if (power_law) {
    scale[k + 2] = u.mean() / kernel.power_law.mean();
    j.col(k + 2) = scale[k + 2] * kernel.power_law;
  }
  const Noise noise(u, coherent_causes(curve).u);
  const MatrixXd white = noise.whiten(j);
  const MatrixXd information = white.transpose() * white;
  const VectorXd size = information.diagonal().cwiseSqrt().cwiseInverse();
  const Eigen::LDLT<MatrixXd> solved(size.asDiagonal() * information * size.asDiagonal());
  if (solved.info() != Eigen::Success || !(solved.vectorD().array() > 1e-12).all())
    throw NumericalError("this curve does not determine all numbers of the expected sample.",
                         "Widen the q range towards the expected sizes, or leave the power law out.");
  const MatrixXd covariance = size.asDiagonal() * solved.solve(MatrixXd::Identity(all, all)) * size.asDiagonal();
  const MatrixXd to_data = noise.whiten_back(white * covariance);  // (n, all)

  std::map<std::string, Foreseen> out;
  const auto keep = [&](const std::string& what, double value, const VectorXd& d) {
    out[what] = {value, std::sqrt(std::max(0.0, d.dot(covariance * d))), to_data * d};
  };
  const auto own = [&](const std::string& what, double value, Index i) {
    keep(what, value, scale[i] * VectorXd::Unit(all, i));
  };
  for (Index i = 0; i < k; ++i) own(names[static_cast<std::size_t>(i)], sample.parameters[i], i);
  own("volume", sample.volume, k);
  own("background", sample.flat_level, k + 1);
  if (power_law) own("power_law_k", sample.power_law_k, k + 2);
  for (std::size_t m = 0; m < std::size(measures); ++m)
    keep(measures[m].name, here.*measures[m].value, gradient.row(static_cast<Index>(m)));
  return out;
}

}  // namespace sievelight
