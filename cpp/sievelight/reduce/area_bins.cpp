// SPDX-License-Identifier: GPL-3.0-or-later
#include "sievelight/reduce/area_bins.hpp"

#include "sievelight/base/error.hpp"
#include "sievelight/reduce/area_sums.hpp"
#include "sievelight/reduce/block_sums.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>

namespace sievelight {
namespace {

using Eigen::Index;
using Eigen::MatrixXd;
using Eigen::VectorXd;

// Per bin, over its pixels: sum of w h, w h q, w, w^2 h, and the number of pixels.
enum Term : Index { bottom, weighted_q, area, square, pixels, terms };

void add_pixel(const AreaShares& shares, const Image& weight, Index pixel, MatrixXd& sums) {
  const double h = weight.data()[pixel], q = shares.mean_q_per_nm().data()[pixel];
  shares.each(pixel, [&](Index bin, double share) {
    double* to = sums.data() + bin * terms;
    to[bottom] += share * h;
    to[weighted_q] += share * h * q;
    to[area] += share;
    to[square] += share * share * h;
    to[pixels] += 1.0;
  });
}

}  // namespace

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

  shares_ = AreaShares(geometry, map.q_per_nm, skip_, edges);
  BinTable touched{edges, BinIndex(rows, columns), Eigen::VectorXi::Zero(1), VectorXd::Zero(1)};
  for (Index i = 0; i < touched.index.size(); ++i) touched.index.data()[i] = shares_.used(i) ? 0 : -1;
  touched.pixels[0] = static_cast<int>((touched.index >= 0).count());
  if (touched.pixels[0] == 0) {
    const Range seen = usable_q(map, skip_);
    throw InputError(
        fmt::format("no pixel lies in the bins from q = {:.4g} to {:.4g} 1/nm.", edges[0], edges[edges.size() - 1]),
        fmt::format("The unmasked pixels reach from {:.4g} to {:.4g} 1/nm.", seen.low, seen.high));
  }
  weight_ = normalisation(map, touched, c, {0, 0, 0}).per_pixel;
  sums_ = sum_blocks(rows, columns, terms, shares_.bins(), [&](Index first, Index n, MatrixXd& part) {
    for (Index i = first; i < first + n; ++i) add_pixel(shares_, weight_, i, part);
  });
}

// The sums of pixels that a frame's mask hides are taken away; a bin that loses all its pixels is empty, whatever
// rounding leaves.
MatrixXd AreaAverager::sums_without(const std::vector<Index>& lost) const {
  if (lost.empty()) return sums_;
  MatrixXd out = sums_ - sum_blocks(static_cast<Index>(lost.size()), 1, terms, shares_.bins(),
                                    [&](Index first, Index n, MatrixXd& part) {
                                      for (Index i = first; i < first + n; ++i)
                                        add_pixel(shares_, weight_, lost[static_cast<std::size_t>(i)], part);
                                    });
  for (Index k = 0; k < out.cols(); ++k)
    if (out(pixels, k) == 0) out.col(k).setZero();
  return out;
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
  AreaTerms asked{o.name, frames, o.dark, 0.0, options_.corrections.dead_time};
  double exposure_s = 0;
  for (const Frame* f : frames) {
    exposure_s += exposure_of(*f);
    if (f->metadata.flatfield_applied && options_.corrections.flat_field)
      throw InputError(fmt::format("a frame of '{}' is flat-field corrected already, as its file says.", o.name),
                       "Average it without the flat field.");
  }
  if (o.dark) asked.dark_share = exposure_s / exposure_of(*o.dark);
  const AreaSums counted = sum_areas(shares_, skip_, asked);
  const MatrixXd all = sums_without(counted.lost);
  const double per_frame = exposure_s * o.flux_per_s.value_or(1.0);  // h = weight x this

  // The points that hold something.
  std::vector<Index> used;
  for (Index k = 0; k < shares_.bins(); ++k)
    if (all(bottom, k) > 0) used.push_back(k);
  if (used.empty())
    throw InputError(fmt::format("the masks of '{}' hide every pixel in the bins.", o.name),
                     "In a mask true (non-zero) means 'do not use'.");
  const auto n = static_cast<Index>(used.size());
  const Index bins = shares_.bins(), span = shares_.span();
  AreaAveraged out;
  out.name = o.name;
  const VectorXd h = all.row(bottom).transpose()(used) * per_frame;
  out.q_per_nm = all.row(weighted_q).transpose()(used).array() / all.row(bottom).transpose()(used).array();
  out.q_low_per_nm = edges_.head(bins)(used);
  out.q_high_per_nm = edges_.tail(bins)(used);
  out.intensity = counted.net(used).array() / h.array();
  out.pixel_area = all.row(area).transpose()(used);
  out.covariance = MatrixXd::Zero(n, std::min(span, n));
  out.bin.resize(n);
  for (Index a = 0; a < n; ++a) {
    const Index k = used[static_cast<std::size_t>(a)];
    out.bin[a] = static_cast<int>(k);
    for (Index b = a; b < n && b - a < out.covariance.cols(); ++b) {
      const Index l = used[static_cast<std::size_t>(b)];
      if (l - k < span) out.covariance(a, b - a) = counted.band(k, l - k) / (h[a] * h[b]);
    }
    // One more count of the bin's usual share where there are few, as in average().
    if (counted.recorded[k] < o.few_counts) out.covariance(a, 0) += all(square, k) / all(bottom, k) / (h[a] * h[a]);
  }
  out.u = out.covariance.col(0).cwiseSqrt();
  out.notes.push_back(
      "for pictures: pixels are shared among bins, so neighbouring points are correlated (see covariance); fits and "
      "comparisons use average()");
  return out;
}

}  // namespace sievelight
