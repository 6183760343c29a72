// SPDX-License-Identifier: GPL-3.0-or-later
/// Curves for the tests of the folder, and draws of them by brute force.
#pragma once

#include "sievelight/curve/curve.hpp"

#include <cmath>
#include <random>
#include <utility>
#include <vector>

namespace sievelight {

/// Seven bins of unequal width with one cause of each kind and both signs.
inline Curve some_curve() {
  const Eigen::Index n = 7;
  Curve curve;
  curve.unit = IntensityUnit::per_cm;
  curve.q_low_per_nm.resize(n);
  curve.q_high_per_nm.resize(n);
  for (Eigen::Index i = 0; i < n; ++i) {
    curve.q_low_per_nm[i] = 0.1 * std::pow(1.3, static_cast<double>(i));
    curve.q_high_per_nm[i] = 0.1 * std::pow(1.3, static_cast<double>(i + 1));
  }
  curve.q_per_nm = 0.5 * (curve.q_low_per_nm + curve.q_high_per_nm);
  curve.q_resolution_per_nm = 0.02 * curve.q_per_nm;
  const Eigen::ArrayXd q = curve.q_per_nm;
  curve.intensity = 40 * (-8 * q.square()).exp() + 0.5;
  curve.private_u = 0.02 * curve.intensity.array().sqrt() + 0.01;
  curve.causes["blank counts"] = {CauseKind::pointwise, -0.3 * (1 + q)};
  curve.causes["transmission"] = {CauseKind::coherent, 0.02 * curve.intensity};
  curve.causes["distance"] = {CauseKind::coherent, 0.3 * q * (-8 * q.square()).exp()};
  return curve;
}

/// The same bins, other numbers; shares "blank counts" and "distance" (with other signs and sizes) only.
inline Curve another_curve() {
  Curve curve = some_curve();
  curve.intensity *= 0.7;
  curve.causes["blank counts"].u *= -1.4;
  curve.causes["distance"].u *= 0.6;
  curve.causes["own transmission"] = {CauseKind::coherent, 0.03 * curve.intensity};
  curve.causes.erase("transmission");
  return curve;
}

/// One row a draw, the curves side by side in the columns. Each coherent id is one normal number, each pointwise id one
/// vector of them, used by every curve that carries the id; the private part is fresh for each curve.
inline Eigen::MatrixXd draw_curves(const std::vector<Curve>& curves, Eigen::Index draws) {
  std::mt19937_64 random(20240607);
  std::normal_distribution<double> normal;
  const Eigen::Index n = curves.front().size();
  Eigen::MatrixXd out(draws, n * static_cast<Eigen::Index>(curves.size()));
  for (Eigen::Index d = 0; d < draws; ++d) {
    std::map<std::string, Eigen::ArrayXd> drawn;
    for (std::size_t k = 0; k < curves.size(); ++k) {
      Eigen::ArrayXd y = curves[k].intensity;
      for (Eigen::Index i = 0; i < n; ++i) y[i] += normal(random) * curves[k].private_u[i];
      for (const auto& [id, cause] : curves[k].causes) {
        auto [z, fresh] = drawn.try_emplace(id, Eigen::ArrayXd(n));
        if (fresh && cause.kind == CauseKind::coherent) z->second.setConstant(normal(random));
        if (fresh && cause.kind == CauseKind::pointwise)
          for (double& value : z->second) value = normal(random);
        y += z->second * cause.u.array();
      }
      out.row(d).segment(static_cast<Eigen::Index>(k) * n, n) = y.matrix().transpose();
    }
  }
  return out;
}

}  // namespace sievelight
