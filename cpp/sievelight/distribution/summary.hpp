// SPDX-License-Identifier: GPL-3.0-or-later
/// Numbers that describe one distribution inside the size window: percentiles, mean, width, volume, surface, modes.
/// Input is the volume per ln D at the grid's nodes, piecewise linear between them; all integrals are exact for that.
/// Notation of ISO 9276-2 (x_{1,r}: arithmetic mean of the diameter, weighted by D^r times number): x50 median of the
/// volume-weighted cumulative Q3; mean = x_{1,3} = integral of D q3(D) dD.
#pragma once

#include "sievelight/distribution/grid.hpp"

#include <utility>
#include <vector>

namespace sievelight {

struct Summary {
  double x10_nm, x50_nm, x90_nm;  // diameters below which 10, 50, 90 % of the window's volume lie
  double mean_nm;                 // x_{1,3}
  double relative_width;          // standard deviation / mean, volume-weighted
  double volume;                  // integral of h over the window, in the unit of x
  double surface_per_nm;          // integral of h S/V (6/D for spheres), in 1/nm times the unit of x
  double surface_mean_nm;         // x_{1,2}: mean weighted by surface; the pores' mean chord 4 V/S is 2/3 of it
  double number_mean_nm;          // x_{1,0}: mean weighted by number
  double rg_nm;           // that Guinier's law sees: Rg^2 = 3/20 * integral of h D^5 / integral of h D^3 (spheres)
  double number_per_nm3;  // 6/pi * integral of h / D^3: spheres per volume, times the unit of x
  double below_2_nm, below_50_nm;  // share of the window's volume (limits of the pore classes of IUPAC)
  double edge_share;               // share of all volume that lies outside the window or in its outermost cells
};

/// The integrals of summarise_distribution(), prepared once per grid.
class Summariser {
 public:
  /// Surface over volume of a particle = surface_per_size / D + surface_per_nm.
  explicit Summariser(const SizeGrid& grid, double surface_per_size = 6.0, double surface_per_nm = 0.0);
  Summary operator()(const Eigen::VectorXd& x) const;
  /// Volume of the window below a diameter; 0 and all of it beyond the ends.
  double below(const Eigen::VectorXd& cumulative, const Eigen::VectorXd& x, double diameter_nm) const;
  /// Cumulative volume from the window's lower end at each of its nodes, ending at the window's volume.
  Eigen::VectorXd cumulative(const Eigen::VectorXd& x) const;

 private:
  SizeGrid grid_;
  double surface_per_size_, surface_per_nm_;
  Eigen::VectorXd whole_, volume_, first_, second_, inverse_, inverse2_, inverse3_, third_, fifth_;
};

/// (window, m) smooths a distribution, hats and all, by a Gaussian of the given standard deviation in ln D and reads it
/// at the window's nodes. Taking the nodes for the hats would lose step^2/6 of the variance: 1 % of a sharp peak. Rows
/// sum to 1; what lies beyond the grid's ends is taken as the end value.
Eigen::MatrixXd smoothing_matrix(const SizeGrid& grid, double sd_ln_d);

/// (window, window) response of the smoothed density at size i to volume present at size j: the covariance of x times
/// the information M^T M that the data carry, seen through smoothing_matrix(). `information` may have more columns than
/// the grid has sizes; the rest is left out. (The resolution kernel of G. Backus, F. Gilbert 1970, Phil. Trans. R. Soc.
/// A 266, 123, citation from memory, for a Bayesian estimate.)
Eigen::MatrixXd resolution_kernel(const SizeGrid& grid, const Eigen::MatrixXd& covariance,
                                  const Eigen::MatrixXd& information, double sd_ln_d);

/// (columns) full width at half maximum of each column of a resolution kernel whose rows are `step` apart; NaN where a
/// column has no peak with both flanks inside.
Eigen::VectorXd resolution_widths(const Eigen::MatrixXd& kernel, double step);

/// Positions (index, height) of the modes of a curve: inner maxima whose prominence (height above the higher of the two
/// saddles that part it from higher ground) is at least `share` of the highest value and `of_itself` of its own height.
/// The two ends are never modes.
std::vector<std::pair<Eigen::Index, double>> modes(const Eigen::VectorXd& curve, double share, double of_itself = 0.0);

}  // namespace sievelight
