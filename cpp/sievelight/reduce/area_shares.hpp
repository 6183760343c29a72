// SPDX-License-Identifier: GPL-3.0-or-later
/// Shares of every pixel's area in bins of q, as a table that a frame can be added through at the pace of the memory.
/// q is linear over a pixel (over each of 16 x 16 parts of it within 20 pixels of the beam, where circles are tight),
/// so the share of the pixel below an edge is the distribution of the sum of two uniform numbers, a closed form: F(t) =
/// [(t + a + b)^2+ - (t + a - b)^2+ - (t - a + b)^2+ + (t - a - b)^2+]/(8 a b), a, b the half spans of q along the
/// pixel's sides. Source: derivation (distribution of the sum of two uniform variables: textbook).
/// Most pixels touch three neighbouring bins at most: 8 bytes each. What lies below the first edge counts as one bin,
/// and so does what lies above the last, so that shares always add up to one. They are whole multiples of 1/32768,
/// rounded at the edges: a pixel's edge moves by 1/65536 of it, a four-hundredth of what taking circles for straight
/// lines does, and counts and normalisations use the same shares, so nothing is lost or made. Pixels that touch more
/// bins, or hold a bin thinner than a five-hundredth of the pixel, stand in a list of their own with unrounded shares.
#pragma once

#include "sievelight/base/image.hpp"
#include "sievelight/geometry/detector.hpp"

#include <Eigen/SparseCore>
#include <algorithm>
#include <cstdint>
#include <vector>

namespace sievelight {

/// Share of a pixel whose q lies below `edge`: q in its middle and the half spans of q along its two sides.
double share_below(double edge, double q_middle, double half_x, double half_y);

/// A pixel's shares in the bins row - 1, row, row + 1, in units of 1/share_unit; bin -1 lies below the first edge.
struct alignas(8) AreaShare {
  std::uint16_t share[3];
  std::uint16_t row;
};
inline constexpr int share_unit = 32768;

class AreaShares {
 public:
  AreaShares() = default;
  /// `q_per_nm` (rows, columns) in the pixels' middles; `skip` of that shape; rising edges.
  AreaShares(const DetectorGeometry& geometry, const Image& q_per_nm, const Mask& skip, const Eigen::VectorXd& edges);

  Eigen::Index bins() const { return bins_; }
  Eigen::Index pixels() const { return static_cast<Eigen::Index>(table_.size()); }
  /// Rows a sum through data() needs: those of the bins, and one behind them for pixels that are not in the table.
  Eigen::Index rows() const { return listed() + 1; }
  /// (pixels) row by row.
  const AreaShare* data() const { return table_.data(); }
  /// Most neighbouring bins that a pixel reaches, from its first to its last.
  Eigen::Index span() const { return span_; }
  /// Whether any part of the pixel lies in a bin.
  bool used(Eigen::Index pixel) const { return at(pixel).row != listed() || at(pixel).share[0] != 0; }
  /// Pixels with a list of their own, rising; none of them is in the table.
  const std::vector<Eigen::Index>& exceptions() const { return exceptions_; }
  /// (pixels) mean q over the pixel, 1/nm; 0 where skipped.
  const Image& mean_q_per_nm() const { return mean_q_; }

  /// Calls use(bin, share) for the bins that a pixel lies in, rising.
  template <typename Use>
  void each(Eigen::Index pixel, const Use& use) const {
    const AreaShare& s = at(pixel);
    if (s.row != listed()) {
      for (Eigen::Index j = 0; j < 3; ++j) {
        const Eigen::Index bin = s.row - 1 + j;
        if (s.share[j] > 0 && bin >= 0 && bin < bins_) use(bin, static_cast<double>(s.share[j]) / share_unit);
      }
    } else if (s.share[0] != 0) {
      const auto e = static_cast<std::size_t>(std::lower_bound(exceptions_.begin(), exceptions_.end(), pixel) -
                                              exceptions_.begin());
      for (std::size_t p = ends_[e]; p < ends_[e + 1]; ++p) use(parts_[p].bin, parts_[p].share);
    }
  }
  /// (bins, pixels) the same as a matrix: large and slow, to look at.
  Eigen::SparseMatrix<double> matrix() const;

 private:
  struct Part {
    Eigen::Index bin;
    double share;
  };
  struct Builder;
  const AreaShare& at(Eigen::Index pixel) const { return table_[static_cast<std::size_t>(pixel)]; }
  /// Row of pixels without shares in the table: of no bin (share[0] is 0) or with a list of their own (1).
  Eigen::Index listed() const { return std::min<Eigen::Index>(bins_ + 1, most_rows); }

  static constexpr Eigen::Index most_rows = 65535;  // a row has 16 bits; higher bins are reached by exceptions
  Eigen::Index bins_ = 0, span_ = 1;
  std::vector<AreaShare> table_;
  std::vector<Eigen::Index> exceptions_;
  std::vector<std::size_t> ends_;  // exception e has the parts from ends_[e] to ends_[e + 1]
  std::vector<Part> parts_;
  Image mean_q_;
};

}  // namespace sievelight
