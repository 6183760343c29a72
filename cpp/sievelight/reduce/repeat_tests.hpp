// SPDX-License-Identifier: GPL-3.0-or-later
/// The statistics behind repeats.hpp: counts of several exposures in several bins, given their sums over the exposures.
/// Given its sum T_i, a bin's counts are multinomial with the exposures' shares p_ki, whatever the truth; so every
/// probability here is conditional on the sums, and holds at any count. Source: conditional distribution of Poisson
/// counts given their sum (textbook).
#pragma once

#include <Eigen/Core>

namespace sievelight {

/// (exposures, bins) counts, whole numbers, and shares (columns sum to one).
struct RepeatCounts {
  Eigen::MatrixXd counts;
  Eigen::MatrixXd share;
  double scale_relative_u = 0.0;  // scatter of the exposures' normalisation, beyond counts
};

struct ScaleTest {
  double scale = 1.0;  // of one exposure over the others
  double u = 0.0;      // relative
  double z = 0.0;
  double probability = 1.0;  // two-sided
};
/// One exposure's sum of counts against its share: binomial with the mean share, which is exact for equal shares in all
/// bins and errs on the safe side otherwise; normal where the normalisation scatters or the counts exceed 1e6.
ScaleTest test_scale(const RepeatCounts& data, Eigen::Index exposure);

struct ShapeTest {
  double chi2 = 0.0;
  double degrees_of_freedom = 0.0;  // zero: too few counts to test
  double probability = 1.0;
};
/// One exposure against the others beyond a factor: chi-square of a 2 x groups table; neighbouring bins are joined
/// until both sides expect `least` counts, and the variance of chi-square at those counts is allowed for.
ShapeTest test_shape(const RepeatCounts& data, Eigen::Index exposure, double least = 10.0);

struct TrendTest {
  double change = 0.0;  // relative, from the first to the last exposure
  double u = 0.0;
  double z = 0.0;
  double probability = 1.0;  // two-sided; exact at few counts, normal at many
};
/// Change of the total with the number of the exposure: score test of a factor exp(b k).
TrendTest test_scale_trend(const RepeatCounts& data);
/// Change of the first `low_bins` bins relative to the rest; a factor per exposure has no effect on its mean.
TrendTest test_low_trend(const RepeatCounts& data, Eigen::Index low_bins);

}  // namespace sievelight
