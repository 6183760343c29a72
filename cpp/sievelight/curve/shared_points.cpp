// SPDX-License-Identifier: GPL-3.0-or-later
#include "sievelight/curve/shared_points.hpp"

#include "sievelight/base/error.hpp"

#include <fmt/format.h>

#include <cmath>

namespace sievelight {
namespace {

using Eigen::Index;

constexpr double same_edge = 1e-9;

bool has_edges(const Curve& c) { return c.q_low_per_nm.size() == c.size() && c.q_high_per_nm.size() == c.size(); }

InputError differ(const std::string& id) {
  return InputError(fmt::format("the curves share the pointwise cause '{}' but not their q bins.", id),
                    "Reduce both curves onto the same q bins before comparing them.");
}

}  // namespace

SharedPoints shared_points(const std::string& id, const Curve& a, const Curve& b) {
  SharedPoints out;
  const auto take = [&out](Index i, Index j) {
    out.in_a.push_back(i);
    out.in_b.push_back(j);
  };
  if (!has_edges(a) || !has_edges(b)) {
    if (!same_bins(a, b)) throw differ(id);
    for (Index i = 0; i < a.size(); ++i) take(i, i);
    return out;
  }
  for (Index i = 0, j = 0; i < a.size() && j < b.size();) {
    const double slack = same_edge * a.q_high_per_nm[i];
    if (std::abs(a.q_low_per_nm[i] - b.q_low_per_nm[j]) <= slack &&
        std::abs(a.q_high_per_nm[i] - b.q_high_per_nm[j]) <= slack)
      take(i++, j++);
    else if (a.q_high_per_nm[i] <= b.q_low_per_nm[j] + slack)
      ++i;
    else if (b.q_high_per_nm[j] <= a.q_low_per_nm[i] + slack)
      ++j;
    else
      throw differ(id);
  }
  return out;
}

}  // namespace sievelight
