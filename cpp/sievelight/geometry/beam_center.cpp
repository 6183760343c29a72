// SPDX-License-Identifier: GPL-3.0-or-later
#include "sievelight/geometry/beam_center.hpp"

#include "sievelight/base/error.hpp"
#include "sievelight/geometry/unusable_pixels.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>

namespace sievelight {
namespace {

using Eigen::Index;

struct Disc {
  Index y0, y1, x0, x1;  // rows [y0, y1), columns [x0, x1)
};

Disc box(const Image& counts, double x, double y, double radius) {
  const auto clip = [](double v, Index n) { return std::clamp(static_cast<Index>(v), Index{0}, n); };
  return {clip(std::floor(y - radius), counts.rows()), clip(std::ceil(y + radius) + 1.0, counts.rows()),
          clip(std::floor(x - radius), counts.cols()), clip(std::ceil(x + radius) + 1.0, counts.cols())};
}

template <class Visit>
void for_disc(const Image& counts, double x, double y, double low, double high, const Visit& visit) {
  const Disc d = box(counts, x, y, high);
  for (Index row = d.y0; row < d.y1; ++row)
    for (Index column = d.x0; column < d.x1; ++column)
      if (const double r = std::hypot(static_cast<double>(column) - x, static_cast<double>(row) - y);
          r >= low && r < high)
        visit(row, column);
}

/// Centre of the brightest square of 3 by 3 pixels (mean over the usable ones, at least five).
std::pair<double, double> brightest(const Image& counts, const Mask& unusable, const BeamCenterOptions& options) {
  double best = -1.0;
  std::pair<double, double> place{-1.0, -1.0};
  for (Index y = 0; y < counts.rows(); ++y)
    for (Index x = 0; x < counts.cols(); ++x) {
      if (options.near_px && std::hypot(static_cast<double>(x) - options.near_px->first,
                                        static_cast<double>(y) - options.near_px->second) > options.search_px)
        continue;
      double sum = 0.0, n = 0.0;
      for (Index yy = std::max<Index>(0, y - 1); yy < std::min(counts.rows(), y + 2); ++yy)
        for (Index xx = std::max<Index>(0, x - 1); xx < std::min(counts.cols(), x + 2); ++xx)
          if (!unusable(yy, xx)) {
            sum += counts(yy, xx);
            n += 1.0;
          }
      if (n >= 5.0 && sum / n > best) {
        best = sum / n;
        place = {static_cast<double>(x), static_cast<double>(y)};
      }
    }
  return place;
}

struct Moments {
  double counts = 0.0, variance = 0.0, x = 0.0, y = 0.0, xx = 0.0, yy = 0.0;
  double background = 0.0, ring_pixels = 0.0, missing = 0.0, pixels = 0.0;
};

Moments moments(const Image& counts, const Mask& unusable, double x, double y, double radius) {
  Moments m;
  std::vector<double> around;
  for_disc(counts, x, y, radius + 1.0, radius + 5.0, [&](Index row, Index column) {
    if (!unusable(row, column)) around.push_back(counts(row, column));
  });
  if (around.size() >= 8) {
    // The mean of the middle half: a median of small counts would jump by whole counts.
    std::ranges::sort(around);
    const std::size_t a = around.size() / 4, b = around.size() - a;
    for (std::size_t i = a; i < b; ++i) m.background += around[i];
    m.background /= static_cast<double>(b - a);
    m.ring_pixels = static_cast<double>(around.size());
  }
  for_disc(counts, x, y, 0.0, radius, [&](Index row, Index column) {
    m.pixels += 1.0;
    if (unusable(row, column)) {
      m.missing += 1.0;
      return;
    }
    const double n = counts(row, column) - m.background, dx = static_cast<double>(column) - x,
                 dy = static_cast<double>(row) - y;
    m.counts += n;
    m.variance += counts(row, column);
    m.x += n * dx;
    m.y += n * dy;
    m.xx += n * dx * dx;
    m.yy += n * dy * dy;
  });
  if (m.counts > 0.0) {
    m.x /= m.counts;
    m.y /= m.counts;
    m.xx = m.xx / m.counts - m.x * m.x;
    m.yy = m.yy / m.counts - m.y * m.y;
  }
  if (m.ring_pixels > 0.0) m.variance += m.pixels * m.pixels * m.background / m.ring_pixels;
  return m;
}

}  // namespace

BeamCenter find_beam_center(const Image& counts, const Mask& masked, const BeamCenterOptions& options) {
  if (options.near_px && !(options.near_px->first >= 0.0 && options.near_px->second >= 0.0 &&
                           options.near_px->first <= static_cast<double>(counts.cols() - 1) &&
                           options.near_px->second <= static_cast<double>(counts.rows() - 1)))
    throw InputError(fmt::format("beam centre: ({}, {}) lies outside a frame of {} columns and {} rows",
                                 options.near_px->first, options.near_px->second, counts.cols(), counts.rows()),
                     "Give column and row inside the frame, or leave the place out.");
  if (!(options.search_px > 0.0))
    throw InputError(fmt::format("beam centre: search_px is {}", options.search_px),
                     "Give a positive number of pixels.");
  // A narrow spot looks hot to a test for hot pixels: those found beyond the mask count as hot only where they stand
  // alone, with no neighbour of a twentieth of their counts.
  Mask unusable = unusable_pixels(counts, masked);
  for (Index y = 0; y < counts.rows(); ++y)
    for (Index x = 0; x < counts.cols(); ++x) {
      const double n = counts(y, x);
      if (!unusable(y, x) || (masked.size() != 0 && masked(y, x)) || !std::isfinite(n) || n <= 0.0) continue;
      const Disc d = box(counts, static_cast<double>(x), static_cast<double>(y), 1.0);
      int company = 0;
      for (Index yy = d.y0; yy < d.y1; ++yy)
        for (Index xx = d.x0; xx < d.x1; ++xx)
          if ((yy != y || xx != x) && counts(yy, xx) > 0.05 * n && !(masked.size() != 0 && masked(yy, xx))) ++company;
      if (company >= 2) unusable(y, x) = false;
    }

  auto [x, y] = brightest(counts, unusable, options);
  const auto refuse = [&](double total, double sd) {
    throw DataError(fmt::format("beam centre: no spot stands out{}: {:.1f} counts above the background with a standard "
                                "deviation of {:.1f}",
                                options.near_px ? fmt::format(" within {} px of ({}, {})", options.search_px,
                                                              options.near_px->first, options.near_px->second)
                                                : "",
                                total, sd),
                    "Check that this exposure shows the direct beam, and give the place to look at.");
  };
  if (x < 0.0) refuse(0.0, 0.0);
  double radius = 4.0;
  Moments m;
  bool settled = false;
  for (int iteration = 0; iteration < 60; ++iteration) {
    m = moments(counts, unusable, x, y, radius);
    const double sd = std::sqrt(std::max(m.variance, 1.0));
    if (!(m.counts > 5.0 * sd)) refuse(m.counts, sd);
    const double width = std::sqrt(std::max({m.xx, m.yy, 0.09}));
    // Steps of a quarter pixel, so that the window does not flicker between two sets of pixels.
    const double next = std::clamp(0.25 * std::round(4.0 * 3.0 * width), 2.5, 1.5 * radius);
    const double moved = std::hypot(m.x, m.y), resized = std::abs(next - radius);
    x += m.x;
    y += m.y;
    if (iteration < 30) radius = next;  // later only the centre moves: two sizes may alternate for ever
    if (moved < 1e-3 && (resized < 1e-9 || iteration >= 30)) {
      settled = true;
      break;
    }
    if (options.near_px &&
        std::hypot(x - options.near_px->first, y - options.near_px->second) > 1.5 * options.search_px)
      refuse(m.counts, sd);
  }
  if (!settled && std::hypot(m.x, m.y) > 0.05)
    throw NumericalError(fmt::format("beam centre: the centroid still moves by {:.2f} px around ({:.1f}, {:.1f})",
                                     std::hypot(m.x, m.y), x, y),
                         "Give the place to look at, or mask what stands beside the spot.");

  BeamCenter found;
  m = moments(counts, unusable, x, y, radius);
  found.x_px = x;
  found.y_px = y;
  found.sigma_x_px = std::sqrt(std::max(m.xx, 0.0));
  found.sigma_y_px = std::sqrt(std::max(m.yy, 0.0));
  found.counts = m.counts;
  found.u_counts = std::sqrt(m.variance);
  found.background = m.background;
  double vx = 0.0, vy = 0.0;
  for_disc(counts, x, y, 0.0, radius, [&](Index row, Index column) {
    if (unusable(row, column)) return;
    const double dx = static_cast<double>(column) - x, dy = static_cast<double>(row) - y;
    vx += dx * dx * std::max(counts(row, column), 0.0);
    vy += dy * dy * std::max(counts(row, column), 0.0);
  });
  found.u_x_px = std::sqrt(vx) / m.counts;
  found.u_y_px = std::sqrt(vy) / m.counts;
  if (m.missing > 0.0)
    found.warnings.push_back(
        fmt::format("{:.0f} of {:.0f} pixels of the spot are masked or hot: the centroid leans away "
                    "from them",
                    m.missing, m.pixels));
  const double edge =
      std::min({x, y, static_cast<double>(counts.cols() - 1) - x, static_cast<double>(counts.rows() - 1) - y});
  if (edge < radius) found.warnings.push_back("the spot touches the edge of the frame: its centroid is biased inwards");
  if (m.ring_pixels == 0.0) found.warnings.push_back("no background could be found around the spot");
  return found;
}

}  // namespace sievelight
