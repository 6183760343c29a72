// SPDX-License-Identifier: GPL-3.0-or-later
#include "sievelight/reduce/area_bins.hpp"

#include "sievelight/base/error.hpp"
#include "sievelight/base/parallel.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>

namespace sievelight {
namespace {

using Eigen::Index;
using Eigen::VectorXd;

// A circle of radius R pixels departs from a straight line by 1/(8 R) over a pixel: 1/160 of a pixel at 20. Nearer to
// the beam, and at the border where neighbours are missing, a pixel is split into so many parts a side, over which the
// departure is 256 times less.
constexpr double near_beam_px = 20.0;
constexpr int parts_near = 16;

struct Part {
  Index bin;
  double share;
};
// The parts of the pixels of one row, one pixel after the other; end[c] is where column c's parts end.
struct Row {
  std::vector<Part> parts;
  std::vector<std::size_t> end;
};

// Adds the shares of a rectangle of q about `q` to the bins it touches; `scale` is its part of the pixel.
void share_out(double q, double half_x, double half_y, double scale, const VectorXd& edges, std::vector<Part>& parts) {
  const double reach = half_x + half_y;
  const Index n = edges.size() - 1;
  const double* first = edges.data();
  Index bin = std::max<Index>(0, std::upper_bound(first, first + n + 1, q - reach) - first - 1);
  // There is no q below zero: at the beam the plane stands for the tip of a cone.
  double below = edges[bin] > 0 ? share_below(edges[bin], q, half_x, half_y) : 0.0;
  for (; bin < n && edges[bin] < q + reach; ++bin) {
    const double next = share_below(edges[bin + 1], q, half_x, half_y);
    const double share = (next - below) * scale;
    if (share > 0) {
      const auto same = std::find_if(parts.begin(), parts.end(), [&](const Part& p) { return p.bin == bin; });
      if (same == parts.end())
        parts.push_back({bin, share});
      else
        same->share += share;
    }
    below = next;
  }
}

// Shares out one pixel; returns the mean q over it.
double share_pixel(const DetectorGeometry& g, const Image& q_map, Index column, Index row, const VectorXd& edges,
                   std::vector<Part>& parts) {
  const double x0 = static_cast<double>(column), y0 = static_cast<double>(row);
  if (std::hypot(x0 - g.beam_center_x_px, y0 - g.beam_center_y_px) >= near_beam_px && row > 0 && column > 0 &&
      row + 1 < q_map.rows() && column + 1 < q_map.cols()) {
    const double q = q_map(row, column);
    share_out(q, 0.25 * std::abs(q_map(row, column + 1) - q_map(row, column - 1)),
              0.25 * std::abs(q_map(row + 1, column) - q_map(row - 1, column)), 1.0, edges, parts);
    return q;
  }
  const double side = 1.0 / parts_near;
  double mean = 0.0;
  for (int i = 0; i < parts_near; ++i)
    for (int j = 0; j < parts_near; ++j) {
      const double x = x0 - 0.5 + (i + 0.5) * side, y = y0 - 0.5 + (j + 0.5) * side;
      const double q = q_per_nm(g, x, y);
      const double half_x = 0.5 * std::abs(q_per_nm(g, x + side / 2, y) - q_per_nm(g, x - side / 2, y));
      const double half_y = 0.5 * std::abs(q_per_nm(g, x, y + side / 2) - q_per_nm(g, x, y - side / 2));
      share_out(q, half_x, half_y, side * side, edges, parts);
      mean += q * side * side;
    }
  std::sort(parts.begin(), parts.end(), [](const Part& a, const Part& b) { return a.bin < b.bin; });
  return mean;
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

AreaAverager::AreaAverager(const DetectorGeometry& geometry, const Mask& masked, Index rows, Index columns,
                           const VectorXd& edges, const AverageOptions& options)
    : options_(options), edges_(edges), rows_(rows), columns_(columns) {
  if (!options.sectors.empty() || options.blur)
    throw InputError("sectors or a blur were given to an area-weighted average.",
                     "Mask what lies outside the sectors; the q resolution belongs to average().");
  check_edges(edges);
  // What is switched off is not there for the pixels.
  Corrections& c = options_.corrections;
  if (switched_off(c.off, StepKind::dead_time)) c.dead_time.reset();
  if (switched_off(c.off, StepKind::flat_field)) c.flat_field.reset();
  const PixelMap map = pixel_map(geometry, rows, columns);
  skip_ = usable_mask(map, masked, c);
  usable_q(map, skip_);  // refuses a mask that hides all

  std::vector<Row> found(static_cast<std::size_t>(rows));
  q_ = Image::Zero(rows, columns);
  parallel_for(found.size(), [&](std::size_t r) {
    const auto row = static_cast<Index>(r);
    std::vector<Part> pixel;
    for (Index column = 0; column < columns; ++column) {
      pixel.clear();
      if (!skip_(row, column)) q_(row, column) = share_pixel(geometry, map.q_per_nm, column, row, edges, pixel);
      found[r].parts.insert(found[r].parts.end(), pixel.begin(), pixel.end());
      found[r].end.push_back(found[r].parts.size());
    }
  });
  BinTable touched{edges, BinIndex::Constant(rows, columns, -1), Eigen::VectorXi::Zero(1), VectorXd::Zero(1)};
  std::size_t parts = 0;
  for (const Row& row : found) parts += row.parts.size();
  share_.resize(edges.size() - 1, rows * columns);
  share_.reserve(static_cast<Index>(parts));
  for (Index i = 0; i < rows * columns; ++i) {
    const Row& row = found[static_cast<std::size_t>(i / columns)];
    const auto column = static_cast<std::size_t>(i % columns);
    share_.startVec(i);
    for (std::size_t p = column == 0 ? 0 : row.end[column - 1]; p < row.end[column]; ++p) {
      share_.insertBack(row.parts[p].bin, i) = row.parts[p].share;
      touched.index.data()[i] = 0;
    }
  }
  share_.finalize();
  touched.pixels[0] = static_cast<int>((touched.index >= 0).count());
  if (touched.pixels[0] == 0) {
    const Range seen = usable_q(map, skip_);
    throw InputError(
        fmt::format("no pixel lies in the bins from q = {:.4g} to {:.4g} 1/nm.", edges[0], edges[edges.size() - 1]),
        fmt::format("The unmasked pixels reach from {:.4g} to {:.4g} 1/nm.", seen.low, seen.high));
  }
  weight_ = normalisation(map, touched, c, {0, 0, 0}).per_pixel;
}

AreaAveraged AreaAverager::average(const std::vector<const Frame*>& frames, const ExposureOptions& options) const {
  ExposureOptions o = options;
  if (switched_off(options_.corrections.off, StepKind::dark)) o.dark = nullptr;
  if (frames.empty()) throw InputError(fmt::format("'{}' has no frame.", o.name), "Give one or more exposures.");
  if (o.normalise_by == NormaliseBy::monitor)
    throw InputError(fmt::format("'{}' is to be normalised by the monitor.", o.name),
                     "An area-weighted average is for pictures and takes the exposure.");
  const auto exposure_of = [&](const Frame& f) {
    if (f.counts.rows() != rows_ || f.counts.cols() != columns_)
      throw InputError(fmt::format("a frame of '{}' has {} x {} pixels (rows x columns), the geometry {} x {}.", o.name,
                                   f.counts.rows(), f.counts.cols(), rows_, columns_),
                       "Use frames of this detector only.");
    if (!(f.exposure_s > 0) || !std::isfinite(f.exposure_s))
      throw InputError(fmt::format("the exposure of '{}' is {} s.", o.name, f.exposure_s),
                       "Give the exposure in seconds, above zero.");
    return f.exposure_s;
  };
  Mask skip = skip_;
  double exposure_s = 0;
  for (const Frame* f : frames) {
    exposure_s += exposure_of(*f);
    if (f->masked.size() != 0) skip = skip || f->masked;
    if (f->metadata.flatfield_applied && options_.corrections.flat_field)
      throw InputError(fmt::format("a frame of '{}' is flat-field corrected already, as its file says.", o.name),
                       "Average it without the flat field.");
  }
  double dark_share = 0;
  if (o.dark) {
    dark_share = exposure_s / exposure_of(*o.dark);
    if (o.dark->masked.size() != 0) skip = skip || o.dark->masked;
    skip = skip || !(o.dark->counts.isFinite() && o.dark->counts >= 0.0);
  }

  // 1. Net counts and their variance per pixel.
  VectorXd net = VectorXd::Zero(rows_ * columns_), variance = net, recorded = net, h = net;
  for (Index i = 0; i < net.size(); ++i) {
    if (skip.data()[i]) continue;
    for (const Frame* f : frames) {
      const double n = f->counts.data()[i];
      if (!(n >= 0) || !std::isfinite(n))
        throw DataError(fmt::format("the counts of '{}' are {} at row {}, column {}, a pixel that is not masked.",
                                    o.name, n, i / columns_, i % columns_),
                        "Mask the pixel; readers of frames mask negative and not finite values.");
      TrueCounts value{n, n};
      if (options_.corrections.dead_time && !f->metadata.countrate_correction_applied)
        value = correct_dead_time(n, f->exposure_s, *options_.corrections.dead_time);
      net[i] += value.counts;
      variance[i] += value.variance;
      recorded[i] += n;
    }
    if (o.dark) {
      net[i] -= dark_share * o.dark->counts.data()[i];
      variance[i] += dark_share * dark_share * o.dark->counts.data()[i];
    }
    h[i] = weight_.data()[i] * exposure_s * o.flux_per_s.value_or(1.0);
  }

  // 2. Bins, and how each goes with the next.
  const Index bins = share_.rows();
  VectorXd top = VectorXd::Zero(bins), bottom = top, q = top, area = top, counts = top, square = top;
  Index span = 1;
  for (Index i = 0; i < share_.outerSize(); ++i) {
    if (skip.data()[i]) continue;
    Index lowest = -1;
    for (Eigen::SparseMatrix<double>::InnerIterator w(share_, i); w; ++w) {
      const Index k = w.row();
      if (lowest < 0) lowest = k;
      span = std::max(span, k - lowest + 1);
      top[k] += w.value() * net[i];
      bottom[k] += w.value() * h[i];
      q[k] += w.value() * h[i] * q_.data()[i];
      area[k] += w.value();
      counts[k] += w.value() * recorded[i];
      square[k] += w.value() * w.value() * h[i];
    }
  }
  Eigen::MatrixXd band = Eigen::MatrixXd::Zero(bins, span);
  for (Index i = 0; i < share_.outerSize(); ++i) {
    if (skip.data()[i] || variance[i] == 0.0) continue;
    for (Eigen::SparseMatrix<double>::InnerIterator a(share_, i); a; ++a)
      for (Eigen::SparseMatrix<double>::InnerIterator b(share_, i); b; ++b)
        if (b.row() >= a.row()) band(a.row(), b.row() - a.row()) += a.value() * b.value() * variance[i];
  }

  // 3. The points that hold something.
  std::vector<Index> used;
  for (Index k = 0; k < bins; ++k)
    if (bottom[k] > 0) used.push_back(k);
  if (used.empty())
    throw InputError(fmt::format("the masks of '{}' hide every pixel in the bins.", o.name),
                     "In a mask true (non-zero) means 'do not use'.");
  const auto n = static_cast<Index>(used.size());
  AreaAveraged out;
  out.name = o.name;
  out.q_per_nm = q(used).array() / bottom(used).array();
  out.q_low_per_nm = edges_.head(bins)(used);
  out.q_high_per_nm = edges_.tail(bins)(used);
  out.intensity = top(used).array() / bottom(used).array();
  out.pixel_area = area(used);
  out.covariance = Eigen::MatrixXd::Zero(n, std::min(span, n));
  out.bin.resize(n);
  for (Index a = 0; a < n; ++a) {
    const Index k = used[static_cast<std::size_t>(a)];
    out.bin[a] = static_cast<int>(k);
    // One more count of the bin's usual share where there are few, as in average().
    if (counts[k] < o.few_counts) band(k, 0) += square[k] / bottom[k];
    for (Index b = a; b < n && b - a < out.covariance.cols(); ++b) {
      const Index l = used[static_cast<std::size_t>(b)];
      if (l - k < span) out.covariance(a, b - a) = band(k, l - k) / (bottom[k] * bottom[l]);
    }
  }
  out.u = out.covariance.col(0).cwiseSqrt();
  out.notes.push_back(
      "for pictures: pixels are shared among bins, so neighbouring points are correlated (see covariance); fits and "
      "comparisons use average()");
  return out;
}

}  // namespace sievelight
