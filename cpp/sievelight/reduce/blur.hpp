// SPDX-License-Identifier: GPL-3.0-or-later
/// What blurs q: the beam's size at the detector, the pixel's area and the spread of wavelengths.
/// sigma_q^2 = (q dlambda/lambda)^2 + (dq/dx)^2 (sigma_beam^2 + p_x^2/12) + (dq/dy)^2 (sigma_beam^2 + p_y^2/12).
/// Never the width of the bin (a kernel averages over it) and never a calibration error.
/// Source: J. S. Pedersen, D. Posselt, K. Mortensen, J. Appl. Cryst. 23 (1990) 321 (quadrature of Gaussian parts; from
/// memory); the variance of a uniform pixel is p^2/12.
#pragma once

#include "sievelight/base/image.hpp"
#include "sievelight/reduce/bins.hpp"

#include <Eigen/Core>

namespace sievelight {

struct Blur {
  double beam_fwhm_mm = 0.0;  // of the direct beam at the detector
  double pixel_size_x_mm = 0.0, pixel_size_y_mm = 0.0;
  double wavelength_spread = 0.0;  // relative, one standard deviation
};

/// (bins) one standard deviation in 1/nm at the mean q of each bin, averaged over its pixels with `weight`; 0 in empty
/// bins. The slope of q comes from neighbouring pixels, so a tilted detector needs no formula of its own.
/// InputError for a negative width or spread, or missing pixel sizes.
Eigen::VectorXd q_resolution(const Image& q_per_nm, const Image& weight, const BinTable& table,
                             const Eigen::VectorXd& bin_q_per_nm, const Blur& blur);

}  // namespace sievelight
