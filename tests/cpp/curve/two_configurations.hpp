// SPDX-License-Identifier: GPL-3.0-or-later
/// One sample seen from two camera lengths, for the tests of merging.
#pragma once

#include "sievelight/curve/curve.hpp"

#include <cmath>
#include <functional>
#include <map>
#include <random>

namespace sievelight {

using Intensity = std::function<double(double)>;

/// Random two-phase medium (Debye, Anderson, Brumberger 1957) of correlation length 4 nm.
inline double two_phase(double q) { return 30.0 / std::pow(1 + 16 * q * q, 2) + 0.02; }

/// Means over bins, weight q (the area of an annulus), by a rule far finer than the one tested.
inline Curve binned(const Intensity& intensity, double from, double to, Eigen::Index n, bool logarithmic = true) {
  Curve c;
  c.unit = IntensityUnit::per_cm;
  for (auto* v : {&c.q_per_nm, &c.intensity, &c.private_u, &c.q_low_per_nm, &c.q_high_per_nm}) v->setZero(n);
  const auto edge = [&](Eigen::Index i) {
    const double t = static_cast<double>(i) / static_cast<double>(n);
    return logarithmic ? from * std::pow(to / from, t) : from + (to - from) * t;
  };
  for (Eigen::Index i = 0; i < n; ++i) {
    const double low = edge(i), high = edge(i + 1);
    double area = 0;
    for (int k = 0; k < 400; ++k) {
      const double q = low + (high - low) * (k + 0.5) / 400;
      area += q;
      c.q_per_nm[i] += q * q;
      c.intensity[i] += q * intensity(q);
    }
    c.q_per_nm[i] /= area;
    c.intensity[i] /= area;
    c.q_low_per_nm[i] = low;
    c.q_high_per_nm[i] = high;
  }
  return c;
}

/// The curve with every cause drawn once by id, from one source of random numbers for all curves of a draw.
class Draw {
 public:
  explicit Draw(unsigned seed) : random_(seed) {}
  Curve operator()(const Curve& truth) {
    Curve out = truth;
    for (Eigen::Index i = 0; i < out.size(); ++i) out.intensity[i] += truth.private_u[i] * normal_(random_);
    for (const auto& [id, cause] : truth.causes) {
      if (cause.kind == CauseKind::coherent) {
        const auto [z, fresh] = drawn_.try_emplace(id, 0.0);
        if (fresh) z->second = normal_(random_);
        out.intensity += z->second * cause.u;
      } else {
        for (Eigen::Index i = 0; i < out.size(); ++i) out.intensity[i] += cause.u[i] * normal_(random_);
      }
    }
    return out;
  }

 private:
  std::mt19937_64 random_;
  std::normal_distribution<double> normal_;
  std::map<std::string, double> drawn_;
};

}  // namespace sievelight
