// SPDX-License-Identifier: GPL-3.0-or-later
/// Two curves on the bins that both have: a bin without pixels is missing from a curve.
#pragma once

#include "sievelight/curve/curve.hpp"

#include <string>
#include <utility>
#include <vector>

namespace sievelight {

/// The points of `a` whose bins `b` has too (equal edges), and those of `b` moved along their smoothed slope to the
/// mean q of `a`: masks and places of a changer may differ a little. Curves that are not bins come back unchanged.
/// `notes`, where given, receives what was left out or moved. InputError when no bin is common, or when the mean q of
/// one differs by more than half its width.
std::pair<Curve, Curve> on_common_bins(const Curve& a, const Curve& b, std::vector<std::string>* notes = nullptr);

}  // namespace sievelight
