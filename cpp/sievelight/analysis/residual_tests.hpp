// SPDX-License-Identifier: GPL-3.0-or-later
/// Do the residuals of a fit look like noise, or do they run in one direction over many points?
#pragma once

#include <Eigen/Core>

namespace sievelight {

/// Signs of residuals in the order of q: how many runs of one sign, how many are expected of noise, and the chance that
/// noise gives as few or fewer. Zeros take no part. 1 with fewer than 5 points of either sign.
/// A fit with p free numbers leaves a few runs more than noise does, so the chance errs on the safe side.
/// Source: A. Wald, J. Wolfowitz, Ann. Math. Stat. 11 (1940) 147; normal approximation with continuity correction.
struct Runs {
  Eigen::Index count = 0;
  double expected = 0.0;
  double probability = 1.0;
};
Runs runs_test(const Eigen::VectorXd& residual);

}  // namespace sievelight
