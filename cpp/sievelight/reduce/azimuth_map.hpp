// SPDX-License-Identifier: GPL-3.0-or-later
/// A frame as a table of intensity over azimuth and q: rings become straight lines, texture shows along them.
/// Every cell is the ratio of sums of average.hpp. Start at q_azimuth_map().
#pragma once

#include "sievelight/reduce/cells.hpp"

namespace sievelight {

/// Rows are azimuths, columns are q. Cells without a usable pixel have pixels = 0 and intensity = u = 0.
struct QAzimuthMap {
  std::string name;
  Eigen::VectorXd q_edges_per_nm;     // (q bins + 1)
  Eigen::VectorXd azimuth_edges_deg;  // (azimuth bins + 1)
  Image intensity;                    // (azimuth bins, q bins) S, relative unit
  Image u;                            // standard uncertainty from all causes that differ from cell to cell
  Image counts;                       // recorded
  Eigen::Array<int, Eigen::Dynamic, Eigen::Dynamic, Eigen::RowMajor> pixels;
  std::vector<StepEffect> steps;
  std::vector<std::string> notes;
};

/// `masked` may be empty. InputError: impossible edges, no unmasked pixel in the table, and as average(). DataError as
/// average().
QAzimuthMap q_azimuth_map(const std::vector<const Frame*>& frames, const PixelMap& map, const Mask& masked,
                          const Eigen::VectorXd& q_edges_per_nm, const Eigen::VectorXd& azimuth_edges_deg,
                          const AverageOptions& options = {}, const ExposureOptions& exposure = {});

}  // namespace sievelight
