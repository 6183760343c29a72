// SPDX-License-Identifier: GPL-3.0-or-later
/// Do the start's own pores, filled with a fluid from the smallest up, give the curve of a later frame?
/// Fluid that condenses takes pores in the order of their sizes (Kelvin): it changes the shape of the curve, not only
/// its scale, and looks as if sizes had changed. The test: of a sum of pores that do not see each other, filling those
/// below a diameter D lowers the curve by
///   G(q; D) = lost * a * integral up to D of q3 V P dD,   lost = 1 - (rho_s - rho_f)^2 / (rho_s - rho_0)^2,
/// with q3 the start's distribution and a its amplitude in the start's curve, and nothing else. d = I_k - R is fitted
/// by -G(q; D) + b in the bands of frame_difference.hpp. p_filling is that of the chi^2 that remains; the noise of d
/// holds the start's counts and what the draws of the start's distribution leave open. (The draws rest on the same
/// counts, so both are counted: p_filling is a little too large, never too small.) Where it is not small, a filling is
/// enough and the pores may be as they were; where it is, other pores fill first, or the pores have changed. On the way
/// down the threshold is that of emptying. Evenly filled pores are series.hpp's contrast ratio. Left out: the film on
/// the walls of pores not yet filled, which makes them look smaller by twice its thickness. Source: two-phase
/// scattering of independent pores (Guinier and Fournet 1955, from memory); Kelvin's radius in series.hpp.
#pragma once

#include "sievelight/base/range.hpp"
#include "sievelight/compare/series.hpp"
#include "sievelight/curve/curve.hpp"
#include "sievelight/distribution/kernel.hpp"

#include <Eigen/Core>
#include <string>
#include <vector>

namespace sievelight {

/// The start's pores.
struct StartPores {
  Eigen::VectorXd diameter_nm;       // (m) geometric
  Eigen::MatrixXd cumulative_draws;  // (m, k) Q3 by volume, 0 ... 1, as an inversion of the start gives them
  KernelOptions kernel;              // shape, interaction, slit
  bool power_law = false;            // K q^-p beside the pores, which does not fill
};

struct FillingOptions {
  int start = 1;               // frames that make the start
  double filled_ratio = 0.25;  // (rho_s - rho_f)^2 / (rho_s - rho_0)^2
  double alpha = 0.05;         // chance that any frame's filling is refused although it is one (Holm)
  int bands = 20;
};

struct FillingFrame {
  Estimate filled_share;     // of the pores' volume
  Estimate filled_up_to_nm;  // D, the diameter below which pores are filled; bands open where hardly any pore is
  double chi2 = 0.0, degrees_of_freedom = 0.0;
  double p_filling = 1.0;  // that filling gives as much; 1 for frames of the start
  bool refused = false;    // after Holm: filling from the smallest up is not enough
};

struct Filling {
  std::vector<FillingFrame> frames;
  Eigen::MatrixXd share_covariance;  // (frames, frames) of the filled shares: the start's errors are common to all
  std::string words;                 // what is found for the frames that changed
};

/// @param change what find_change() says of the same curves. InputError for sizes that do not rise, draws of another
/// number, a ratio outside 0 to 1 (1 excluded), or as find_change().
Filling find_filling(const std::vector<Curve>& curves, const StartPores& pores, const SeriesChange& change,
                     const FillingOptions& options = {});

}  // namespace sievelight
