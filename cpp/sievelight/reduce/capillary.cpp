// SPDX-License-Identifier: GPL-3.0-or-later
#include "sievelight/reduce/capillary.hpp"

#include "sievelight/base/error.hpp"
#include "sievelight/base/units.hpp"

#include <fmt/format.h>
#include <gsl/gsl_integration.h>

#include <algorithm>
#include <cmath>
#include <memory>

namespace sievelight {
namespace {

using Eigen::Index;
using Eigen::VectorXd;

// Nodes and weights of a Gauss-Legendre rule on (-1, 1). 48 points: C to 1e-7 of itself up to mu R = 3.
constexpr Index rule_points = 48;
const std::pair<VectorXd, VectorXd>& rule() {
  static const auto made = [] {
    const std::unique_ptr<gsl_integration_glfixed_table, void (*)(gsl_integration_glfixed_table*)> table(
        gsl_integration_glfixed_table_alloc(rule_points), gsl_integration_glfixed_table_free);
    std::pair<VectorXd, VectorXd> out{VectorXd(rule_points), VectorXd(rule_points)};
    for (Index i = 0; i < rule_points; ++i)
      gsl_integration_glfixed_point(-1, 1, static_cast<std::size_t>(i), &out.first[i], &out.second[i], table.get());
    return out;
  }();
  return made;
}

}  // namespace

Capillary::Capillary(const CapillaryShape& s, double transmission) : shape_(s), radius_(s.inner_diameter_mm / 2) {
  if (!(radius_ > 0) || !std::isfinite(radius_) || !(s.beam_width_mm >= 0) || !std::isfinite(s.beam_width_mm) ||
      !std::isfinite(s.beam_offset_mm))
    throw InputError(fmt::format("a capillary of inner diameter {} mm under a beam {} mm wide at {} mm.",
                                 s.inner_diameter_mm, s.beam_width_mm, s.beam_offset_mm),
                     "Give the inner diameter above zero and the beam's width across it, both in mm.");
  const double low = s.beam_offset_mm - s.beam_width_mm / 2, high = s.beam_offset_mm + s.beam_width_mm / 2;
  const double from = std::max(low, -radius_), to = std::min(high, radius_);
  if (from > to || (s.beam_width_mm == 0 && std::abs(s.beam_offset_mm) >= radius_))
    throw InputError(
        fmt::format("the beam from {:.4g} to {:.4g} mm misses a capillary of radius {:.4g} mm.", low, high, radius_),
        "Check beam_offset_mm and the inner diameter.");
  if (!(transmission > 0 && transmission <= 1 && std::isfinite(transmission)))
    throw InputError(fmt::format("the transmission of the capillary's contents is {}.", transmission),
                     "It must lie in (0, 1].");
  double beside = 0.0;  // share of the beam that passes beside it
  if (s.beam_width_mm == 0) {
    x_ = VectorXd::Constant(1, s.beam_offset_mm);
    weight_ = VectorXd::Ones(1);
  } else {
    // x = R sin u takes the square root out of the chord at the rim.
    const double u0 = std::asin(from / radius_), u1 = std::asin(to / radius_);
    const VectorXd u = (u0 + u1) / 2 + (u1 - u0) / 2 * rule().first.array();
    x_ = radius_ * u.array().sin();
    weight_ = (u1 - u0) / 2 * rule().second.array() * radius_ * u.array().cos() / s.beam_width_mm;
    beside = 1 - (to - from) / s.beam_width_mm;
  }
  chord_ = 2 * (radius_ * radius_ - x_.array().square()).max(0.0).sqrt();
  if (transmission <= beside)
    throw InputError(fmt::format("a share of {:.3g} of the beam passes beside the capillary, so its transmission "
                                 "cannot be {:.3g}.",
                                 beside, transmission),
                     "Check the beam's width and the inner diameter.");
  // T(mu) falls and is convex: Newton from mu = 0 never passes the root.
  const auto through = [&](double mu) { return (weight_.array() * (-mu * chord_.array()).exp()).sum() + beside; };
  for (int i = 0; i < 100; ++i) {
    const double slope = (weight_.array() * chord_.array() * (-mu_ * chord_.array()).exp()).sum();
    const double step = (through(mu_) - transmission) / slope;
    mu_ += step;
    if (std::abs(step) <= 1e-14 * std::max(mu_, 1e-12)) break;
  }
  mu_ = std::max(mu_, 0.0);
  const Eigen::ArrayXd lit = weight_.array() * (-mu_ * chord_.array()).exp();
  straight_ = (lit * chord_.array()).sum();
  transmitted_ = lit.sum();
  path_ = straight_ / transmission;
}

double Capillary::way_out(double x, double z, double cos_two, double azimuth) const {
  // The scattered direction in the plane across the axis; what runs along the axis only lengthens the way.
  const double sin_two = std::sqrt(std::max(0.0, 1 - cos_two * cos_two));
  const bool vertical = shape_.axis == CapillaryAxis::vertical;
  const double across = sin_two * (vertical ? std::cos(azimuth) : std::sin(azimuth));
  const double plane = std::hypot(across, cos_two), ux = across / plane, uz = cos_two / plane;
  const double along = x * ux + z * uz;
  const double inside = std::max(0.0, radius_ * radius_ - x * x - z * z);
  return (-along + std::sqrt(along * along + inside)) / plane;
}

double Capillary::self_absorption(double cos_two, double azimuth) const {
  if (mu_ == 0.0 || cos_two == 1.0) return 1.0;
  const auto& [node, weight] = rule();
  double sum = 0;
  for (Index i = 0; i < x_.size(); ++i)
    for (Index k = 0; k < node.size(); ++k) {
      const double z = chord_[i] / 2 * node[k];
      sum += weight_[i] * weight[k] * chord_[i] / 2 *
             std::exp(-mu_ * (z + chord_[i] / 2 + way_out(x_[i], z, cos_two, azimuth)));
    }
  return sum / straight_;
}

double Capillary::oblique_wall(double cos_two, double azimuth) const {
  double upstream = 0;
  for (Index i = 0; i < x_.size(); ++i)
    upstream += weight_[i] * std::exp(-mu_ * way_out(x_[i], -chord_[i] / 2, cos_two, azimuth));
  return 0.5 * (1 + upstream / transmitted_);
}

}  // namespace sievelight
