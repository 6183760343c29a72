// SPDX-License-Identifier: GPL-3.0-or-later
#include "sievelight/distribution/size_family.hpp"

#include "sievelight/base/error.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>

namespace sievelight {
namespace {

using Eigen::ArrayXd;
using Eigen::Index;
using Eigen::VectorXd;

VectorXd normalised(const ArrayXd& ln_density, const SizeGrid& grid) {
  VectorXd x = (ln_density - ln_density.maxCoeff()).exp();
  x[0] *= 0.5;
  x[x.size() - 1] *= 0.5;
  const double sum = x.sum() * grid.step;
  x[0] *= 2;
  x[x.size() - 1] *= 2;
  return x / sum;
}

VectorXd log_normal(double median_nm, double sigma, const SizeGrid& grid) {
  return normalised(-0.5 * ((grid.diameter_nm.array() / median_nm).log() / sigma).square(), grid);
}

}  // namespace

const char* name(SizeFamily family) {
  switch (family) {
    case SizeFamily::monodisperse:
      return "monodisperse";
    case SizeFamily::log_normal:
      return "log-normal";
    case SizeFamily::schulz_zimm:
      return "Schulz-Zimm";
    case SizeFamily::gaussian:
      return "Gaussian";
    case SizeFamily::two_log_normals:
      break;
  }
  return "two log-normals";
}

const std::vector<SizeFamily>& all_families() {
  static const std::vector<SizeFamily> all{SizeFamily::monodisperse, SizeFamily::log_normal, SizeFamily::schulz_zimm,
                                           SizeFamily::gaussian, SizeFamily::two_log_normals};
  return all;
}

const std::vector<std::string>& parameter_names(SizeFamily family) {
  static const std::vector<std::string> one{"diameter_nm"}, ln{"median_nm", "sigma"},
      width{"mean_nm", "relative_width"}, two{"median_1_nm", "sigma_1", "median_2_nm", "sigma_2", "share_1"};
  switch (family) {
    case SizeFamily::monodisperse:
      return one;
    case SizeFamily::log_normal:
      return ln;
    case SizeFamily::two_log_normals:
      return two;
    default:
      return width;
  }
}

VectorXd family_density(SizeFamily family, const VectorXd& p, const SizeGrid& grid) {
  if (p.size() != static_cast<Index>(parameter_names(family).size()) || !(p.array() > 0).all() || !p.allFinite())
    throw InputError(fmt::format("a {} distribution was given {} parameters, or one that is not above zero.",
                                 name(family), p.size()),
                     fmt::format("It takes {}.", fmt::join(parameter_names(family), ", ")));
  const ArrayXd d = grid.diameter_nm.array();
  switch (family) {
    case SizeFamily::monodisperse: {
      const double place = std::clamp(std::log(p[0] / d[0]) / grid.step, 0.0, static_cast<double>(grid.size() - 1));
      const Index at = std::min(static_cast<Index>(place), grid.size() - 2);
      VectorXd x = VectorXd::Zero(grid.size());
      x[at + 1] = (place - static_cast<double>(at)) / grid.step;
      x[at] = 1 / grid.step - x[at + 1];
      return x;
    }
    case SizeFamily::log_normal:
      return log_normal(p[0], p[1], grid);
    case SizeFamily::schulz_zimm: {
      const double k = 1 / (p[1] * p[1]);  // z + 1; per ln D the density is D^k exp(-k D / mean)
      return normalised(k * (d / p[0]).log() - k * d / p[0], grid);
    }
    case SizeFamily::gaussian:
      return normalised(d.log() - 0.5 * ((d / p[0] - 1) / p[1]).square(), grid);
    case SizeFamily::two_log_normals:
      break;
  }
  const double share = std::min(p[4], 1.0);
  return share * log_normal(p[0], p[1], grid) + (1 - share) * log_normal(p[2], p[3], grid);
}

}  // namespace sievelight
