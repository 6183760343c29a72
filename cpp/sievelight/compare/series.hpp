// SPDX-License-Identifier: GPL-3.0-or-later
/// Curves of one sample along a variable (time, humidity, temperature): when does the scattering first differ from the
/// start, and is it another curve or the same one scaled?
/// The reference R is the mean of the first frames. Of frame k, d = I_k - R with the causes of error that both share
/// cancelled by id; chi^2 = d^T Sigma^-1 d over bands of neighbouring points gives p_change. Then I_k = c2 R + b is
/// fitted by least squares: where p_shape, of the chi^2 that remains, is not small either, the frame is the start's
/// curve times c2. For pores that fill evenly with a fluid c2 is the ratio of the contrasts squared,
/// (rho_s - rho_f)^2 / (rho_s - rho_0)^2; a change of shape says that sizes, or which pores are filled, have changed
/// (filling.hpp asks the latter). Both families of p-values go through Holm's procedure, so the chance that any frame
/// of an unchanged series is claimed is at most alpha (holm.hpp).
#pragma once

#include "sievelight/base/range.hpp"
#include "sievelight/curve/curve.hpp"

#include <optional>
#include <string>
#include <utility>
#include <vector>

namespace sievelight {

struct SeriesOptions {
  int start = 1;        // frames that make the reference
  double alpha = 0.05;  // chance that any frame of an unchanged series is claimed
  int bands = 20;       // of neighbouring points, see frame_difference.hpp; 0: every point by itself
};

struct SeriesFrame {
  double chi2 = 0.0, degrees_of_freedom = 0.0;
  double p_change = 1.0;       // that no change gives as much; 1 for frames of the start
  double p_shape = 1.0;        // that a scaled start with another level gives as much
  Estimate contrast_ratio;     // c2
  bool changed = false;        // claimed after Holm
  bool another_shape = false;  // claimed after Holm: not the start's curve scaled
};

struct SeriesChange {
  std::vector<SeriesFrame> frames;
  std::optional<int> first;  // first frame claimed, from 0
  std::string words;
};

/// Works on the bins that all curves have. InputError for fewer than two curves beyond the start, other units, fewer
/// than 10 common bins with an uncertainty, or options out of range.
SeriesChange find_change(const std::vector<Curve>& curves, const SeriesOptions& options = {});

/// Area between the two branches of a cycle: integral over the common range of (second - first) branch, the branches
/// parted at the largest value of the variable, each linear between its points. Neighbours in the order of measurement
/// with one value of the variable (repeats, a dwell) count as their mean. Linear in y, so u follows from the covariance
/// of y.
struct Hysteresis {
  Estimate area;             // unit of y times that of x
  Estimate mean_difference;  // area over the length of the common range
  double p_zero = 1.0;       // two-sided, normal
  Range common;
  int turning_point = 0;  // index of the largest x, the last of them
};
/// @param x (n) variable in the order of measurement, rising to a maximum and falling after it; @param y (n) summary;
/// @param covariance (n, n) of y; @param same_within neighbours this near are repeats. InputError when there is no
/// maximum inside, the branches are not monotonic, or they share no range.
Hysteresis hysteresis(const Eigen::VectorXd& x, const Eigen::VectorXd& y, const Eigen::MatrixXd& covariance,
                      double same_within = 0.0);

/// A series of several cycles, parted where the variable turns from falling to rising: first and last index of each,
/// the turning points belonging to both neighbours. Stretches that only rise or only fall are no cycle and left out.
std::vector<std::pair<int, int>> cycles(const Eigen::VectorXd& x, double same_within = 0.0);

/// Radius (nm) of the meniscus in equilibrium with water vapour, fully wetting: r = -2 gamma V_m / (R T ln(RH)).
/// gamma: IAPWS R1-76(2014), 235.8 tau^1.256 (1 - 0.625 tau) mN/m, tau = 1 - T / 647.096 K (from memory; 71.97 mN/m at
/// 25 C in its table); V_m from Kell's density. The pore is wider by the adsorbed film. Sir W. Thomson, Phil. Mag. 42
/// (1871) 448 (from memory). InputError outside 0 to 100 C, or unless 0 < RH < 100 %.
double kelvin_radius_nm(double relative_humidity_percent, double temperature_C);

}  // namespace sievelight
