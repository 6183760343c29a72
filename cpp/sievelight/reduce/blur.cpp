// SPDX-License-Identifier: GPL-3.0-or-later
#include "sievelight/reduce/blur.hpp"

#include "sievelight/base/error.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <numbers>

namespace sievelight {

using Eigen::Index;
using Eigen::VectorXd;

VectorXd q_resolution(const Image& q, const Image& weight, const BinTable& table, const VectorXd& bin_q,
                      const Blur& blur) {
  for (const double value : {blur.beam_fwhm_mm, blur.wavelength_spread})
    if (!std::isfinite(value) || value < 0)
      throw InputError(fmt::format("the beam is {} mm wide and the wavelength spread {}.", blur.beam_fwhm_mm,
                                   blur.wavelength_spread),
                       "Give both, zero or more.");
  if (!(blur.pixel_size_x_mm > 0) || !(blur.pixel_size_y_mm > 0))
    throw InputError(fmt::format("the pixels are {} mm x {} mm.", blur.pixel_size_x_mm, blur.pixel_size_y_mm),
                     "Give the pixel size in mm; it is needed for the q resolution.");
  // A Gaussian's full width at half maximum is sqrt(8 ln 2) of its sd; a uniform pixel of width p has the variance
  // p^2/12.
  const double beam = blur.beam_fwhm_mm * blur.beam_fwhm_mm / (8 * std::numbers::ln2);
  const double along_x = beam + blur.pixel_size_x_mm * blur.pixel_size_x_mm / 12;
  const double along_y = beam + blur.pixel_size_y_mm * blur.pixel_size_y_mm / 12;
  VectorXd sum = VectorXd::Zero(bin_q.size()), weight_sum = sum;
  // A detector of one row (or column) has no slope across it: the height of a strip belongs to the slit.
  const auto slope = [](double low, double high, Index steps, double size) {
    return steps == 0 ? 0.0 : (high - low) / (static_cast<double>(steps) * size);
  };
  for (Index row = 0; row < q.rows(); ++row)
    for (Index column = 0; column < q.cols(); ++column) {
      const std::int32_t bin = table.index(row, column);
      if (bin < 0) continue;
      const Index left = std::max<Index>(column - 1, 0), right = std::min<Index>(column + 1, q.cols() - 1);
      const Index below = std::max<Index>(row - 1, 0), above = std::min<Index>(row + 1, q.rows() - 1);
      const double gx = slope(q(row, left), q(row, right), right - left, blur.pixel_size_x_mm);
      const double gy = slope(q(below, column), q(above, column), above - below, blur.pixel_size_y_mm);
      weight_sum[bin] += weight(row, column);
      sum[bin] += weight(row, column) * (gx * gx * along_x + gy * gy * along_y);
    }
  const Eigen::ArrayXd spread = (bin_q.array() * blur.wavelength_spread).square();
  return (weight_sum.array() > 0).select((spread + sum.array() / weight_sum.array()).sqrt(), 0.0);
}

}  // namespace sievelight
