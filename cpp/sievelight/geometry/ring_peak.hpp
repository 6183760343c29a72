// SPDX-License-Identifier: GPL-3.0-or-later
/// Where a ring crosses one narrow sector: a Gaussian on a sloping background, by Poisson quasi-likelihood.
#pragma once

#include <optional>
#include <span>

namespace sievelight {

/// Pixels of one sector around one ring.
struct SectorSample {
  double offset_px = 0.0;  // from the predicted ring, outwards
  double counts = 0.0;
  double x_px = 0.0, y_px = 0.0;
};

struct RingPeak {
  double offset_px = 0.0;  // of the peak from the predicted ring
  double u_px = 0.0;       // standard uncertainty: Poisson, or the sector's own scatter where that is larger
  double sigma_px = 0.0;   // width of the Gaussian
  double amplitude = 0.0;  // counts per pixel above the background
  double background = 0.0;
  double significance = 0.0;  // amplitude over its standard uncertainty
};

/// Model: b0 + b1 g(offset) + A exp(-(offset - c)^2 / (2 sigma^2)). With g = R/4 (1 - (R/(R + offset))^4) the
/// background spans a flat level and the q^-4 of surfaces and slits exactly, and is linear far from the beam; its sign
/// is free. The variance of a pixel is the model itself (quasi-likelihood: Poisson maximum likelihood, P. McCullagh, J.
/// A. Nelder, Generalized Linear Models, 1989), so bright pixels do not pull; pixels far off the model (6 robust
/// standard deviations) are left out. sigma_px = 0: the width is searched for and refined; otherwise it is refined
/// between half and twice that value where the peak is significant, and kept where it is not. nullopt when the sector
/// holds no peak that could be fitted inside it.
std::optional<RingPeak> fit_ring_peak(std::span<const SectorSample> sector, double radius_px, double half_width_px,
                                      double sigma_px = 0.0);

}  // namespace sievelight
