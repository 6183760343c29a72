// SPDX-License-Identifier: GPL-3.0-or-later
#include "sievelight/reduce/common_bins.hpp"

#include "sievelight/base/error.hpp"
#include "sievelight/curve/arithmetic.hpp"
#include "sievelight/reduce/local_fit.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>

namespace sievelight {
namespace {

using Eigen::Index;

constexpr double same_edge = 1e-9;  // rounding of a file's digits, not physics
constexpr double same_mean = 1e-6;  // of a bin's width

}  // namespace

std::pair<Curve, Curve> on_common_bins(const Curve& a, const Curve& b, std::vector<std::string>* notes) {
  const bool bins = a.q_low_per_nm.size() == a.size() && b.q_low_per_nm.size() == b.size() && a.size() > 0;
  if (!bins) return {a, b};
  std::vector<Index> from_a, from_b;
  double shift = 0;
  for (Index i = 0, j = 0; i < a.size() && j < b.size();) {
    const double width = a.q_high_per_nm[i] - a.q_low_per_nm[i];
    const double low = b.q_low_per_nm[j] - a.q_low_per_nm[i], high = b.q_high_per_nm[j] - a.q_high_per_nm[i];
    if (std::abs(low) <= same_edge * a.q_high_per_nm[i] && std::abs(high) <= same_edge * a.q_high_per_nm[i]) {
      from_a.push_back(i++);
      from_b.push_back(j++);
      shift = std::max(shift, std::abs(a.q_per_nm[from_a.back()] - b.q_per_nm[from_b.back()]) / width);
    } else {
      low < 0 ? ++j : ++i;
    }
  }
  if (from_a.empty())
    throw InputError("the two curves have no bin in common.", "Average both onto the same bin edges.");
  // Beyond half a bin the curve's own bin is another one: nothing to be bridged by a slope.
  if (shift > 0.5)
    throw InputError(fmt::format("the mean q of a bin differs by {:.2g} of its width between the two curves.", shift),
                     "Use one mask for all measurements of a study.");
  std::pair<Curve, Curve> out{pick(a, from_a), pick(b, from_b)};
  Curve& moved = out.second;
  if (shift > same_mean) moved.intensity += local_slope(moved).cwiseProduct(out.first.q_per_nm - moved.q_per_nm);
  moved.q_per_nm = out.first.q_per_nm;
  moved.q_low_per_nm = out.first.q_low_per_nm;
  moved.q_high_per_nm = out.first.q_high_per_nm;
  if (notes && static_cast<Index>(from_a.size()) < a.size())
    notes->push_back(fmt::format("{} of {} bins have no partner in the background and are left out",
                                 a.size() - static_cast<Index>(from_a.size()), a.size()));
  if (notes && shift > 0.1)
    notes->push_back(
        fmt::format("masks or places differ: points were moved along their curve by up to {:.2g} of a bin", shift));
  return out;
}

}  // namespace sievelight
