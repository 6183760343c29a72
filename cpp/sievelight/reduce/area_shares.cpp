// SPDX-License-Identifier: GPL-3.0-or-later
#include "sievelight/reduce/area_shares.hpp"

#include "sievelight/base/large_pages.hpp"
#include "sievelight/base/parallel.hpp"

#include <cmath>

namespace sievelight {
namespace {

using Eigen::Index;
using Eigen::VectorXd;

// A circle of radius R pixels departs from a straight line by 1/(8 R) over a pixel: 1/160 of a pixel at 20. Nearer to
// the beam a pixel is split into so many parts a side, over which the departure is 256 times less.
constexpr double near_beam_px = 20.0;
constexpr int parts_near = 16;

// A bin within a pixel that holds less of it keeps its share unrounded, or rounding would be a per cent of it.
constexpr int thin_share = share_unit / 500;

struct Rectangle {
  double q, half_x, half_y;
};

Rectangle rectangle(const DetectorGeometry& g, double x, double y, double side) {
  return {q_per_nm(g, x, y), 0.5 * std::abs(q_per_nm(g, x + side / 2, y) - q_per_nm(g, x - side / 2, y)),
          0.5 * std::abs(q_per_nm(g, x, y + side / 2) - q_per_nm(g, x, y - side / 2))};
}

}  // namespace

double share_below(double edge, double q, double half_x, double half_y) {
  const double t = edge - q, a = std::max(half_x, half_y), b = std::min(half_x, half_y);
  if (t >= a + b) return 1.0;
  if (t <= -a - b) return 0.0;
  // A side along which q hardly changes: one uniform number; the closed form would divide zero by zero.
  if (b < 1e-6 * a) return std::clamp(0.5 * (t / a + 1.0), 0.0, 1.0);
  const auto square = [](double x) { return x > 0 ? x * x : 0.0; };
  return (square(t + a + b) - square(t + a - b) - square(t - a + b) + square(t - a - b)) / (8 * a * b);
}

// Shares of the pixels of one row of the detector.
struct AreaShares::Builder {
  const DetectorGeometry& geometry;
  const Image& q_map;
  const VectorXd& edges;
  Index listed;
  Index near = -1;            // bin where the last search ended: neighbours are near
  std::vector<Part> parts{};  // of one pixel; bins -1 and n stand for what lies below and above all
  // Exceptions of the row.
  std::vector<Index> pixels{};
  std::vector<std::size_t> ends{};
  std::vector<Part> lists{};
  Index span = 1;

  // The bin in which q lies; -1 below the first edge, n at the last and above.
  Index bin_of(double q) {
    const Index n = edges.size() - 1;
    while (near < n && q >= edges[near + 1]) ++near;
    while (near >= 0 && q < edges[near]) --near;
    return near;
  }

  // Adds what a part of the pixel gives to the bins it touches; `scale` is how much of the pixel it is.
  void share_out(const Rectangle& r, double scale) {
    const Index n = edges.size() - 1;
    const double reach = r.half_x + r.half_y;
    Index bin = bin_of(r.q - reach);
    double below = 0.0;
    // There is no q below zero: at the beam the plane stands for the tip of a cone.
    if (bin < 0 && !(edges[0] > 0)) bin = 0;
    for (;; ++bin) {
      const bool last = bin == n || edges[bin + 1] >= r.q + reach;
      const double next = last ? 1.0 : share_below(edges[bin + 1], r.q, r.half_x, r.half_y);
      const double share = (next - below) * scale;
      if (share > 0) parts.push_back({bin, share});
      if (last) return;
      below = next;
    }
  }

  // Fills parts, rising; returns the mean q.
  double share_pixel(Index row, Index column) {
    parts.clear();
    const double x0 = static_cast<double>(column), y0 = static_cast<double>(row);
    if (std::hypot(x0 - geometry.beam_center_x_px, y0 - geometry.beam_center_y_px) >= near_beam_px) {
      const bool inside = row > 0 && column > 0 && row + 1 < q_map.rows() && column + 1 < q_map.cols();
      const Rectangle r =
          inside ? Rectangle{q_map(row, column), 0.25 * std::abs(q_map(row, column + 1) - q_map(row, column - 1)),
                             0.25 * std::abs(q_map(row + 1, column) - q_map(row - 1, column))}
                 : rectangle(geometry, x0, y0, 1.0);
      share_out(r, 1.0);
      return r.q;
    }
    const double side = 1.0 / parts_near;
    double mean = 0.0;
    for (int i = 0; i < parts_near; ++i)
      for (int j = 0; j < parts_near; ++j) {
        const Rectangle r = rectangle(geometry, x0 - 0.5 + (i + 0.5) * side, y0 - 0.5 + (j + 0.5) * side, side);
        share_out(r, side * side);
        mean += r.q * side * side;
      }
    std::stable_sort(parts.begin(), parts.end(), [](const Part& a, const Part& b) { return a.bin < b.bin; });
    std::size_t kept = 0;
    for (std::size_t p = 1; p < parts.size(); ++p)
      if (parts[p].bin == parts[kept].bin)
        parts[kept].share += parts[p].share;
      else
        parts[++kept] = parts[p];
    parts.resize(std::min(parts.size(), kept + 1));
    return mean;
  }

  // The table's entry for `parts`; what does not fit there joins the lists.
  AreaShare entry(Index pixel) {
    if (parts.empty()) return none();  // q is not a number
    const Index n = edges.size() - 1, first = parts.front().bin, row = first + 1;
    if (parts.front().bin == n || parts.back().bin < 0) return none();
    if (parts.back().bin - first <= 2 && row < listed) {
      AreaShare out{{0, 0, 0}, static_cast<std::uint16_t>(row)};
      // Rounded at the edges between the bins, so that the three add up.
      double below = 0.0;
      long done = 0;
      bool thin = false, any = false;
      for (std::size_t p = 0; p < parts.size(); ++p) {
        below += parts[p].share;
        const long next =
            p + 1 == parts.size() ? share_unit : std::min(std::lround(below * share_unit), 1L * share_unit);
        out.share[parts[p].bin - first] = static_cast<std::uint16_t>(next - done);
        const bool real = parts[p].bin >= 0 && parts[p].bin < n;
        if (real && next > done) any = true;
        thin = thin || (p > 0 && p + 1 < parts.size() && next - done < thin_share);
        done = next;
      }
      if (!any) return none();
      if (!thin) {
        const Index low = std::max<Index>(first, 0), high = std::min(parts.back().bin, n - 1);
        span = std::max(span, high - low + 1);
        return out;
      }
    }
    std::size_t from = lists.size();
    for (const Part& p : parts)
      if (p.bin >= 0 && p.bin < n) lists.push_back(p);
    if (lists.size() == from) return none();
    pixels.push_back(pixel);
    ends.push_back(lists.size());
    span = std::max(span, lists.back().bin - lists[from].bin + 1);
    return {{1, 0, 0}, static_cast<std::uint16_t>(listed)};
  }
  AreaShare none() const { return {{0, 0, 0}, static_cast<std::uint16_t>(listed)}; }
};

AreaShares::AreaShares(const DetectorGeometry& geometry, const Image& q_map, const Mask& skip, const VectorXd& edges)
    : bins_(edges.size() - 1) {
  const Index rows = q_map.rows(), columns = q_map.cols();
  table_.reserve(static_cast<std::size_t>(rows * columns));
  prefer_large_pages(table_.data(), static_cast<std::size_t>(rows * columns) * sizeof(AreaShare));
  table_.resize(static_cast<std::size_t>(rows * columns));
  mean_q_.resize(rows, columns);
  prefer_large_pages(mean_q_);
  std::vector<Builder> made(static_cast<std::size_t>(rows), Builder{geometry, q_map, edges, listed()});
  parallel_for(made.size(), [&](std::size_t r) {
    const auto row = static_cast<Index>(r);
    Builder& builder = made[r];
    for (Index column = 0; column < columns; ++column) {
      const Index pixel = row * columns + column;
      AreaShare& out = table_[static_cast<std::size_t>(pixel)];
      mean_q_(row, column) = 0.0;
      out = builder.none();
      if (skip(row, column)) continue;
      mean_q_(row, column) = builder.share_pixel(row, column);
      out = builder.entry(pixel);
    }
  });
  ends_.push_back(0);
  for (const Builder& row : made) {
    span_ = std::max(span_, row.span);
    for (std::size_t end : row.ends) ends_.push_back(parts_.size() + end);
    exceptions_.insert(exceptions_.end(), row.pixels.begin(), row.pixels.end());
    parts_.insert(parts_.end(), row.lists.begin(), row.lists.end());
  }
}

Eigen::SparseMatrix<double> AreaShares::matrix() const {
  Eigen::SparseMatrix<double> out(bins_, pixels());
  for (Index i = 0; i < pixels(); ++i) {
    out.startVec(i);
    each(i, [&](Index bin, double share) { out.insertBack(bin, i) = share; });
  }
  out.finalize();
  return out;
}

}  // namespace sievelight
