// SPDX-License-Identifier: GPL-3.0-or-later
#include "sievelight/geometry/center_guess.hpp"

#include "sievelight/base/parallel.hpp"
#include "sievelight/base/units.hpp"

#include <algorithm>
#include <array>
#include <cmath>

namespace sievelight {
namespace {

using Eigen::Index;

constexpr double least_significance = 5.0;
constexpr std::size_t most_votes = 2500;
constexpr Index flat_half_box = 12;  // blocks

/// A slope in the frame, in blocks of equal sides (rows stretched by the aspect).
struct Vote {
  double x, y;    // place
  double ux, uy;  // unit vector along the slope
  double angle2;  // its squared standard uncertainty, rad^2
};

Image convolve(const Image& image, const Eigen::ArrayXd& kernel, bool along_rows) {
  const Index half = (kernel.size() - 1) / 2, rows = image.rows(), columns = image.cols();
  Image out = Image::Zero(rows, columns);
  parallel_for(static_cast<std::size_t>(rows), [&](std::size_t row) {
    const auto y = static_cast<Index>(row);
    if (along_rows) {
      for (Index k = -half; k <= half; ++k) {
        const Index first = std::max<Index>(0, -k), last = std::min(columns, columns - k);
        if (last > first)
          out.row(y).segment(first, last - first) += kernel[k + half] * image.row(y).segment(first + k, last - first);
      }
    } else {
      for (Index k = std::max(-half, -y); k <= std::min(half, rows - 1 - y); ++k)
        out.row(y) += kernel[k + half] * image.row(y + k);
    }
  });
  return out;
}

/// Slopes of planes fitted in Gaussian windows of one size.
void add_slopes(const Blocks& blocks, double aspect, double size, Image& best, std::vector<Vote>& votes) {
  const auto half = static_cast<Index>(std::ceil(3.0 * size));
  const Eigen::ArrayXd x =
      Eigen::ArrayXd::LinSpaced(2 * half + 1, -static_cast<double>(half), static_cast<double>(half));
  Eigen::ArrayXd k0 = (-0.5 * (x / size).square()).exp();
  k0 /= k0.sum();
  const Eigen::ArrayXd k1 = k0 * x, k2 = k1 * x;
  const Image there = blocks.value.isNaN().select(0.0, Image::Ones(blocks.value.rows(), blocks.value.cols()));
  const Image value = blocks.value.isNaN().select(0.0, blocks.value);
  const Image m0 = convolve(there, k0, true), m1 = convolve(there, k1, true), v0 = convolve(value, k0, true);
  const Image w = convolve(m0, k0, false), wx = convolve(m1, k0, false), wy = convolve(m0, k1, false),
              wxx = convolve(convolve(there, k2, true), k0, false), wxy = convolve(m1, k1, false),
              wyy = convolve(m0, k2, false), wv = convolve(v0, k0, false),
              wxv = convolve(convolve(value, k1, true), k0, false), wyv = convolve(v0, k1, false);
  // Of the slope in a full window: noise^2 sum(w^2 x^2) / (sum w x^2)^2.
  const double noise_factor = (k0 * k0).sum() * (k1 * k1).sum() / std::pow((k0 * x * x).sum(), 2);
  for (Index row = 0; row < w.rows(); ++row)
    for (Index column = 0; column < w.cols(); ++column) {
      if (w(row, column) < 0.6 || std::isnan(blocks.value(row, column))) continue;
      const double n = w(row, column), cx = wx(row, column) / n, cy = wy(row, column) / n, cv = wv(row, column) / n;
      const double xx = wxx(row, column) / n - cx * cx, xy = wxy(row, column) / n - cx * cy,
                   yy = wyy(row, column) / n - cy * cy, xv = wxv(row, column) / n - cx * cv,
                   yv = wyv(row, column) / n - cy * cv;
      const double determinant = xx * yy - xy * xy;
      if (!(determinant > 0.05 * size * size * size * size)) continue;
      const double gx = (yy * xv - xy * yv) / determinant, gy = (xx * yv - xy * xv) / determinant / aspect;
      const double length = std::hypot(gx, gy),
                   noise2 = noise_factor * blocks.variance(row, column) * std::pow(size, 4) / (determinant * n);
      // A cut window is shorter and knows its slope less well: the last factor.
      const double significance = length / std::sqrt(noise2);
      if (!(significance > least_significance) || significance <= best(row, column)) continue;
      best(row, column) = significance;
      // No slope is better than 3 degrees: rings have grain, shadows and neighbours.
      votes.push_back({static_cast<double>(column), static_cast<double>(row) * aspect, gx / length, gy / length,
                       1.0 / (significance * significance) + 0.05 * 0.05});
    }
}

std::vector<Vote> collect_votes(const Blocks& blocks, double aspect) {
  Image best = Image::Zero(blocks.value.rows(), blocks.value.cols());
  std::vector<Vote> votes;
  for (const double size : {1.2, 2.5, 5.0}) {
    std::vector<Vote> more;
    add_slopes(blocks, aspect, size, best, more);
    votes.insert(votes.end(), more.begin(), more.end());
  }
  if (votes.size() <= most_votes) return votes;
  // Evenly over the frame, not the strongest: those sit at the beam and at shadows.
  std::vector<Vote> some;
  const double step = static_cast<double>(votes.size()) / static_cast<double>(most_votes);
  for (std::size_t i = 0; i < most_votes; ++i)
    some.push_back(votes[static_cast<std::size_t>(step * (static_cast<double>(i) + 0.5))]);
  return some;
}

/// Votes for a centre beyond what chance gives, in standard deviations of chance. `grain`: step of the grid of centres.
double score_center(const std::vector<Vote>& votes, double x, double y, double grain) {
  double sum = 0.0, chance = 0.0;
  for (const Vote& v : votes) {
    const double dx = v.x - x, dy = v.y - y, d2 = dx * dx + dy * dy + 1e-9;
    const double width2 = 9.0 * (v.angle2 + 0.35 * grain * grain / d2);  // (three standard deviations)^2
    const double across = dx * v.uy - dy * v.ux, t = 1.0 - across * across / (d2 * width2);
    if (t > 0.0) sum += t * t;
    // Mean of (1 - (angle / width)^2)^2 over all directions.
    chance += std::min(1.0, 16.0 / (15.0 * pi) * std::sqrt(width2));
  }
  return (sum - chance) / std::sqrt(chance + 1.0);
}

struct Scored {
  double x, y, score;
};

/// The best maxima of the votes, in blocks.
std::vector<Scored> best_voted(const std::vector<Vote>& votes, double width, double height, double beyond,
                               std::size_t most) {
  const double grain = std::max(width, height) / 20.0;
  const auto columns = static_cast<Index>((width * (1.0 + 2.0 * beyond)) / grain) + 1,
             rows = static_cast<Index>((height + 2.0 * beyond * std::max(width, height)) / grain) + 1;
  const double x0 = -beyond * width, y0 = -beyond * std::max(width, height);
  Image score(rows, columns);
  parallel_for(static_cast<std::size_t>(rows), [&](std::size_t row) {
    const auto r = static_cast<Index>(row);
    for (Index c = 0; c < columns; ++c)
      score(r, c) =
          score_center(votes, x0 + static_cast<double>(c) * grain, y0 + static_cast<double>(r) * grain, grain);
  });
  std::vector<Scored> maxima;
  for (Index r = 0; r < rows; ++r)
    for (Index c = 0; c < columns; ++c) {
      const Index r0 = std::max<Index>(0, r - 1), c0 = std::max<Index>(0, c - 1);
      if (score(r, c) >= score.block(r0, c0, std::min(rows, r + 2) - r0, std::min(columns, c + 2) - c0).maxCoeff())
        maxima.push_back({x0 + static_cast<double>(c) * grain, y0 + static_cast<double>(r) * grain, score(r, c)});
    }
  std::ranges::sort(maxima, std::ranges::greater{}, &Scored::score);
  if (maxima.size() > most) maxima.resize(most);
  parallel_for(maxima.size(), [&](std::size_t i) {
    Scored& m = maxima[i];
    for (double step = 0.5 * grain; step > 0.5; step *= 0.5) {
      m.score = score_center(votes, m.x, m.y, step);
      for (int round = 0; round < 6; ++round) {
        Scored next = m;
        for (int k = 0; k < 9; ++k) {
          const double x = m.x + (k % 3 - 1) * step, y = m.y + (k / 3 - 1) * step;
          if (const double s = score_center(votes, x, y, step); s > next.score) next = {x, y, s};
        }
        if (next.score <= m.score) break;
        m = next;
      }
    }
  });
  return maxima;
}

/// The radial profile's squared means over their variance, less one a bin, which is what noise gives.
class Sharpness {
 public:
  Sharpness(const Places& places, int side, double aspect)
      : places_(places), per_block_(1.0F / static_cast<float>(side)), aspect_(static_cast<float>(aspect)) {
    double sum2 = 0.0;
    for (const float v : places.value) sum2 += static_cast<double>(v) * static_cast<double>(v);
    variance_ = std::max(sum2 / static_cast<double>(places.value.size()), 1e-12);
  }

  double at(double x_px, double y_px) const {
    constexpr float most = 20000.0F;
    constexpr std::size_t together = 1024;
    std::array<float, together> radius{};
    // Two sets of sums, for even places and for odd: neighbours fall into one bin and would wait for each other.
    struct Sums {
      double sum = 0.0, count = 0.0;
    };
    std::vector<Sums> sums(128);
    const auto x_c = static_cast<float>(x_px), y_c = static_cast<float>(y_px);
    for (std::size_t start = 0; start < places_.x_px.size(); start += together) {
      const std::size_t n = std::min(together, places_.x_px.size() - start);
      float largest = 0.0F;
      for (std::size_t i = 0; i < n; ++i) {
        const float dx = (places_.x_px[start + i] - x_c) * per_block_,
                    dy = (places_.y_px[start + i] - y_c) * per_block_ * aspect_;
        radius[i] = std::min(std::sqrt(dx * dx + dy * dy), most);
        largest = std::max(largest, radius[i]);
      }
      if (const auto bin = static_cast<std::size_t>(largest); 2 * bin + 1 >= sums.size()) sums.resize(2 * bin + 128);
      for (std::size_t i = 0; i < n; ++i) {
        Sums& to = sums[2 * static_cast<std::size_t>(radius[i]) + i % 2];
        to.sum += static_cast<double>(places_.value[start + i]);
        to.count += 1.0;
      }
    }
    double total = 0.0;
    for (std::size_t b = 0; b + 1 < sums.size(); b += 2) {
      const double sum = sums[b].sum + sums[b + 1].sum, count = sums[b].count + sums[b + 1].count;
      if (count >= 4.0) total += sum * sum / (count * variance_) - 1.0;
    }
    return total;
  }

 private:
  const Places& places_;
  float per_block_, aspect_;
  double variance_ = 1.0;
};

/// Climbs to the sharpest profile. Steps (px) along the line to the frame's middle are longer where only short arcs are
/// in view: moving the centre along it by d bends an arc of half-angle a by d (1 - cos a), across it by d sin a.
CenterGuess climb(const Sharpness& sharpness, const Blocks& blocks, double aspect, double x_px, double y_px,
                  double first_step_px) {
  const double middle_x = 0.5 * static_cast<double>(blocks.value.cols() * blocks.side),
               middle_y = 0.5 * static_cast<double>(blocks.value.rows() * blocks.side);
  const double frame = std::hypot(middle_x, middle_y * aspect);
  CenterGuess best{x_px, y_px, sharpness.at(x_px, y_px)};
  for (double step = first_step_px; step >= 0.4; step *= 0.5)
    for (int round = 0; round < 8; ++round) {
      const double away_x = best.x_px - middle_x, away_y = (best.y_px - middle_y) * aspect,
                   away = std::hypot(away_x, away_y);
      const double ratio = std::clamp(2.0 * away / frame, 1.0, 8.0);  // cot(a/2) for an arc as wide as the frame
      const double cx = away > 0.0 ? away_x / away : 1.0, cy = away > 0.0 ? away_y / away : 0.0;
      std::array<CenterGuess, 8> around;
      for (std::size_t i = 0; i < around.size(); ++i) {
        const int k = static_cast<int>(i < 4 ? i : i + 1);
        const double along = (k % 3 - 1) * step * ratio, across = (k / 3 - 1) * step;
        const double x = best.x_px + along * cx - across * cy, y = best.y_px + (along * cy + across * cx) / aspect;
        around[i] = {x, y, sharpness.at(x, y)};
      }
      const CenterGuess next = *std::ranges::max_element(around, {}, &CenterGuess::sharpness);
      if (next.sharpness <= best.sharpness) break;
      best = next;
    }
  return best;
}

}  // namespace

std::vector<CenterGuess> guess_centers(const Blocks& blocks, const CenterGuessOptions& options) {
  const Places places = flatten(blocks, flat_half_box);
  if (places.value.empty()) return {};
  const Sharpness sharpness(places, blocks.side, options.aspect);
  std::vector<CenterGuess> guesses;
  if (options.near_px) {
    guesses.push_back(climb(sharpness, blocks, options.aspect, options.near_px->first, options.near_px->second,
                            0.5 * options.near_reach_px));
    return guesses;
  }
  const std::vector<Vote> votes = collect_votes(blocks, options.aspect);
  if (votes.size() < 20) return {};
  const double side = blocks.side, width = static_cast<double>(blocks.value.cols()),
               height = static_cast<double>(blocks.value.rows()) * options.aspect;
  const std::vector<Scored> starts = best_voted(votes, width, height, options.beyond, 6);
  std::vector<CenterGuess> tops(starts.size());
  parallel_for(starts.size(), [&](std::size_t i) {
    tops[i] =
        climb(sharpness, blocks, options.aspect, starts[i].x * side, starts[i].y * side / options.aspect, 4.0 * side);
  });
  for (const CenterGuess& g : tops) {
    const bool known = std::ranges::any_of(guesses, [&](const CenterGuess& other) {
      return std::hypot(g.x_px - other.x_px, (g.y_px - other.y_px) * options.aspect) < 4.0 * side;
    });
    if (!known) guesses.push_back(g);
  }
  std::ranges::sort(guesses, std::ranges::greater{}, &CenterGuess::sharpness);
  if (guesses.size() > options.most) guesses.resize(options.most);
  return guesses;
}

}  // namespace sievelight
