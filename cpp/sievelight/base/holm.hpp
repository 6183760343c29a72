// SPDX-License-Identifier: GPL-3.0-or-later
/// Several claims from one study at a joint error rate: Holm's step-down procedure.
/// The k p-values are taken in rising order; the r-th is compared with alpha / (k - r + 1), and the first that fails
/// stops the procedure: it and all after it are not claimed. The probability of any false claim is at most alpha,
/// whatever the dependence. Source: S. Holm, Scand. J. Statist. 6 (1979) 65-70 (from memory).
#pragma once

#include <vector>

namespace sievelight {

struct HolmResult {
  std::vector<double> adjusted;  // (k) p-value to compare with alpha itself
  std::vector<double> level;     // (k) level that the claim was compared with, alpha / (k - r + 1)
  std::vector<bool> claimed;     // (k)
};

HolmResult holm(const std::vector<double>& p, double alpha);

}  // namespace sievelight
