// SPDX-License-Identifier: GPL-3.0-or-later
/// The sizes of the inversion: nodes equally spaced in u = ln D, and hat functions on them.
/// The volume per ln D is h(u) = sum_j x_j hat_j(u), piecewise linear, so percentiles do not step from cell to cell.
/// The *window* is what results speak about; the nodes reach further on both sides, so that scattering from sizes that
/// the data cannot resolve has a place to go that is not the window.
/// Default window 3 pi / q_max ... pi / q_min: smaller sizes cannot be told from a flat background, larger ones not
/// from their own lowest angles (measured by simulation; the upper limit is the sampling theorem, Moore 1980,
/// J. Appl. Cryst. 13, 168, from memory).
#pragma once

#include "sievelight/base/range.hpp"

#include <Eigen/Core>
#include <optional>

namespace sievelight {

struct SizeGrid {
  Eigen::VectorXd diameter_nm;   // (m) nodes, geometric
  double step = 0.0;             // spacing in ln D
  Eigen::Index window_low = 0;   // first node of the window
  Eigen::Index window_high = 0;  // last node of the window, included

  Eigen::Index size() const { return diameter_nm.size(); }
  Eigen::Index window_size() const { return window_high - window_low + 1; }
  Range window_nm() const { return {diameter_nm[window_low], diameter_nm[window_high]}; }
  /// (m) exact integrals of D^power times each hat over the window: dot with x gives the moment of h over the window.
  Eigen::VectorXd window_moment(double power) const;
};

/// Sizes that a curve between two q supports: 3 pi / q_max ... pi / q_min. InputError when that range is empty.
Range supported_diameters_nm(double q_min_per_nm, double q_max_per_nm);

struct GridOptions {
  int cells_per_decade = 60;
  int most_cells = 220;     // fewer a decade beyond this, because the cost grows with the square
  double reach_low = 2.0;   // nodes begin at the smallest supported (or asked) size divided by this
  double reach_high = 1.6;  // and end at the largest times this
};

/// Nodes for data between two q; the window is what the data support unless given. InputError for an impossible window.
SizeGrid make_grid(double q_min_per_nm, double q_max_per_nm, const std::optional<Range>& window_nm = std::nullopt,
                   const GridOptions& options = {});

}  // namespace sievelight
