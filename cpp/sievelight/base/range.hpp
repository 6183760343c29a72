// SPDX-License-Identifier: GPL-3.0-or-later
/// A closed interval, and an estimate with its standard uncertainty: two values that travel everywhere.
#pragma once

#include <limits>

namespace sievelight {

struct Range {
  double low = -std::numeric_limits<double>::infinity();
  double high = std::numeric_limits<double>::infinity();
  bool contains(double x) const { return x >= low && x <= high; }
};

/// A value with its standard uncertainty and its central 68 % and 95 % intervals (NaN where not estimated).
struct Estimate {
  double value = std::numeric_limits<double>::quiet_NaN();
  double u = std::numeric_limits<double>::quiet_NaN();
  Range band68{value, value};
  Range band95{value, value};

  /// An estimate with a normal error: bands are value +- u and value +- 1.959964 u.
  static Estimate normal(double value, double u) {
    return {value, u, {value - u, value + u}, {value - 1.959963984540054 * u, value + 1.959963984540054 * u}};
  }
};

}  // namespace sievelight
