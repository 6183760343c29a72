// SPDX-License-Identifier: GPL-3.0-or-later
#include "sievelight/frames/mask_shapes.hpp"

#include "sievelight/base/error.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>

namespace sievelight {
namespace {

using Eigen::Index;
using Point = std::pair<double, double>;

constexpr const char* coordinates = "Pixels are counted from 0, x along the columns and y along the rows.";

void require_detector(DetectorShape shape) {
  if (shape.rows < 1 || shape.columns < 1)
    throw InputError(fmt::format("the detector has {} x {} pixels (rows x columns).", shape.rows, shape.columns),
                     "Give the shape of a frame, (rows, columns).");
}

template <typename Inside>
Mask cover(DetectorShape shape, const std::string& what, bool outside, const Inside& inside) {
  require_detector(shape);
  Mask out(shape.rows, shape.columns);
  for (Index y = 0; y < shape.rows; ++y)
    for (Index x = 0; x < shape.columns; ++x) out(y, x) = inside(static_cast<double>(x), static_cast<double>(y));
  if (!out.any())
    throw InputError(
        fmt::format("{} covers no pixel of a detector of {} columns and {} rows.", what, shape.columns, shape.rows),
        coordinates);
  return finish_mask(std::move(out), outside, what.c_str());
}

bool on_edge(const Point& a, const Point& b, double x, double y) {
  const double dx = b.first - a.first, dy = b.second - a.second;
  const double length = dx * dx + dy * dy;
  const double along = length > 0 ? std::clamp(((x - a.first) * dx + (y - a.second) * dy) / length, 0.0, 1.0) : 0.0;
  return std::hypot(x - a.first - along * dx, y - a.second - along * dy) < 1e-9;
}

}  // namespace

Mask finish_mask(Mask covered, bool outside, const char* what) {
  if (outside) covered = !covered;
  if (covered.all())
    throw InputError(fmt::format("{} would mask every pixel{}.", what, outside ? " outside of it" : ""),
                     outside ? "Leave `outside` away, or enlarge what is kept." : "Make it smaller.");
  return covered;
}

Mask mask_rectangle(DetectorShape shape, Point x_px, Point y_px, bool outside) {
  if (!(x_px.first <= x_px.second && y_px.first <= y_px.second))
    throw InputError(fmt::format("the rectangle runs from x {} to {} and from y {} to {}.", x_px.first, x_px.second,
                                 y_px.first, y_px.second),
                     "Give each range as (low, high).");
  const std::string what = fmt::format("the rectangle with x {:g} to {:g} and y {:g} to {:g}", x_px.first, x_px.second,
                                       y_px.first, y_px.second);
  return cover(shape, what, outside, [&](double x, double y) {
    return x >= x_px.first && x <= x_px.second && y >= y_px.first && y <= y_px.second;
  });
}

Mask mask_circle(DetectorShape shape, Point center_px, double radius_px, bool outside) {
  if (!(radius_px > 0 && std::isfinite(radius_px) && std::isfinite(center_px.first) && std::isfinite(center_px.second)))
    throw InputError(fmt::format("the circle has its centre at ({}, {}) and a radius of {}.", center_px.first,
                                 center_px.second, radius_px),
                     "Give a centre (x, y) and a positive radius, in pixels.");
  const std::string what =
      fmt::format("the circle of radius {:g} about ({:g}, {:g})", radius_px, center_px.first, center_px.second);
  return cover(shape, what, outside,
               [&](double x, double y) { return std::hypot(x - center_px.first, y - center_px.second) <= radius_px; });
}

Mask mask_polygon(DetectorShape shape, const std::vector<Point>& corners, bool outside) {
  if (corners.size() < 3)
    throw InputError(fmt::format("the polygon has {} corner{}.", corners.size(), corners.size() == 1 ? "" : "s"),
                     "Give at least three corners (x, y).");
  double area = 0;
  for (std::size_t i = 0; i < corners.size(); ++i) {
    const auto& [x, y] = corners[i];
    const auto& [x2, y2] = corners[(i + 1) % corners.size()];
    if (!std::isfinite(x) || !std::isfinite(y))
      throw InputError(fmt::format("corner {} of the polygon is ({}, {}).", i, x, y), "Give finite numbers of pixels.");
    area +=
        std::abs((x - corners[0].first) * (y2 - corners[0].second) - (x2 - corners[0].first) * (y - corners[0].second));
  }
  if (!(area > 0))
    throw InputError("the polygon encloses no area: its corners lie on one line.", "Give corners around an area.");
  return cover(shape, fmt::format("the polygon of {} corners", corners.size()), outside, [&](double x, double y) {
    bool inside = false;
    for (std::size_t i = 0, j = corners.size() - 1; i < corners.size(); j = i++) {
      const Point &a = corners[i], &b = corners[j];
      if (on_edge(a, b, x, y)) return true;
      if ((a.second > y) != (b.second > y) &&
          x < (b.first - a.first) * (y - a.second) / (b.second - a.second) + a.first)
        inside = !inside;
    }
    return inside;
  });
}

Mask mask_values(const Image& counts, double low, double high, bool outside) {
  require_detector({counts.rows(), counts.cols()});
  if (!(low <= high))
    throw InputError(fmt::format("the range of counts runs from {} to {}.", low, high),
                     "Give low <= high; leave one away for an open end.");
  return finish_mask(counts >= low && counts <= high, outside,
                     fmt::format("the range of counts from {:g} to {:g}", low, high).c_str());
}

}  // namespace sievelight
