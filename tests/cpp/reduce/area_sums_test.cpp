// SPDX-License-Identifier: GPL-3.0-or-later
#include "sievelight/reduce/area_sums.hpp"

#include "reduce/synthetic.hpp"
#include "sievelight/reduce/bins.hpp"

#include <cmath>
#include <cstdlib>

namespace sievelight {
namespace {

using namespace synthetic;
using Eigen::Index;
using Eigen::VectorXd;

// Large enough (500 x 420) for the blocks that run on several threads; the beam is on the detector, so that some pixels
// touch many bins; a tenth of the pixels are never used.
constexpr Index rows = 500, columns = 420;
struct Scene {
  DetectorGeometry g = small_detector();
  Mask skip = Mask::Constant(rows, columns, false);
  AreaShares shares;
  std::vector<Frame> frames;
  Frame dark;

  explicit Scene(int bins = 700) {
    g.beam_center_x_px = 205.3;
    g.beam_center_y_px = 251.8;
    const PixelMap map = pixel_map(g, rows, columns);
    std::mt19937_64 random(11);
    for (Index i = 0; i < skip.size(); ++i) skip.data()[i] = random() % 10 == 0;
    shares = AreaShares(g, map.q_per_nm, skip, linear_edges(0.02, 0.8 * map.q_per_nm.maxCoeff(), bins));
    for (int f = 0; f < 2; ++f) {
      frames.push_back(poisson_frame(expected_frame(map, Image::Ones(rows, columns), 1.0 + f,
                                                    [](double q) { return 6.0 + 3000.0 * std::exp(-3 * q); }),
                                     random));
      for (Index i = 0; i < skip.size(); ++i) frames.back().masked.data()[i] = random() % 50 == 0;
    }
    // What hides behind a mask is not looked at.
    for (Index i = 0; i < skip.size(); ++i)
      if (skip.data()[i] || frames[1].masked.data()[i]) frames[1].counts.data()[i] = std::nan("");
    dark = expected_frame(map, Image::Ones(rows, columns), 10.0, [](double q) { return 0.3 + 0.1 * q; });
    dark.counts(100, 100) = -1;  // hides the pixel
  }
};

// Pixel by pixel and share by share, as the header says.
AreaSums plain(const Scene& s, const AreaTerms& terms) {
  AreaSums out;
  out.net = out.recorded = VectorXd::Zero(s.shares.bins());
  out.band = Eigen::MatrixXd::Zero(s.shares.bins(), std::max<Index>(3, s.shares.span()));
  for (Index i = 0; i < rows * columns; ++i) {
    if (!s.shares.used(i)) continue;
    bool hidden = terms.dark && !(terms.dark->counts.data()[i] >= 0);
    double net = 0, variance = 0, recorded = 0;
    for (const Frame* f : terms.frames) {
      hidden = hidden || f->masked.data()[i];
      if (hidden) break;
      const double n = f->counts.data()[i];
      TrueCounts value{n, n};
      if (terms.dead_time && !f->metadata.countrate_correction_applied)
        value = correct_dead_time(n, f->exposure_s, *terms.dead_time);
      net += value.counts;
      variance += value.variance;
      recorded += n;
    }
    if (hidden) {
      out.lost.push_back(i);
      continue;
    }
    if (terms.dark) {
      net -= terms.dark_share * terms.dark->counts.data()[i];
      variance += terms.dark_share * terms.dark_share * terms.dark->counts.data()[i];
    }
    s.shares.each(i, [&](Index k, double w) {
      out.net[k] += w * net;
      out.recorded[k] += w * recorded;
      s.shares.each(i, [&](Index l, double v) {
        if (l >= k) out.band(k, l - k) += w * v * variance;
      });
    });
  }
  return out;
}

std::vector<AreaTerms> all_terms(const Scene& s) {
  std::vector<AreaTerms> out;
  for (const std::vector<const Frame*>& frames :
       {std::vector<const Frame*>{&s.frames[0]}, std::vector<const Frame*>{&s.frames[0], &s.frames[1]}})
    for (const bool dark : {false, true})
      for (const double dead_time_s : {0.0, 2e-5}) {
        AreaTerms terms{"run", frames, dark ? &s.dark : nullptr, dark ? 0.3 : 0.0, {}};
        if (dead_time_s > 0) terms.dead_time = DeadTime{dead_time_s};
        out.push_back(terms);
      }
  return out;
}

// Tolerance: rounding of some 1e4 terms a bin, 1e-16 each.
TEST(AreaSums, AreTheSumsPixelByPixel) {
  for (const int bins : {40, 700, 3000}) {
    Scene s(bins);
    s.frames[1].metadata.countrate_correction_applied = bins == 700;
    EXPECT_EQ(s.shares.exceptions().size() > 20, bins > 40);
    for (const AreaTerms& terms : all_terms(s)) {
      const AreaSums mine = sum_areas(s.shares, s.skip, terms), theirs = plain(s, terms);
      EXPECT_EQ(mine.lost, theirs.lost);
      EXPECT_GT(mine.lost.size(), 1000u);
      ASSERT_EQ(mine.band.cols(), theirs.band.cols());
      for (Index k = 0; k < bins; ++k) {
        EXPECT_NEAR(mine.net[k], theirs.net[k], 1e-12 * std::abs(theirs.net[k])) << k;
        EXPECT_NEAR(mine.recorded[k], theirs.recorded[k], 1e-12 * theirs.recorded[k]) << k;
        for (Index j = 0; j < mine.band.cols(); ++j)
          EXPECT_NEAR(mine.band(k, j), theirs.band(k, j), 1e-12 * theirs.band(k, 0)) << k << " " << j;
      }
    }
  }
}

TEST(AreaSums, AreTheSameOnAnyNumberOfThreads) {
  const Scene s;
  for (const AreaTerms& terms : all_terms(s)) {
    setenv("SIEVELIGHT_THREADS", "1", 1);
    const AreaSums one = sum_areas(s.shares, s.skip, terms);
    for (const char* threads : {"2", "3", "7"}) {
      setenv("SIEVELIGHT_THREADS", threads, 1);
      const AreaSums more = sum_areas(s.shares, s.skip, terms);
      EXPECT_EQ(more.net, one.net) << threads;  // bit for bit
      EXPECT_EQ(more.recorded, one.recorded) << threads;
      EXPECT_EQ(more.band, one.band) << threads;
      EXPECT_EQ(more.lost, one.lost) << threads;
    }
    unsetenv("SIEVELIGHT_THREADS");
  }
}

TEST(AreaSums, NameTheFirstPixelThatHoldsNoCount) {
  Scene s;
  s.skip.row(3).setConstant(false);
  AreaTerms terms{"Z", {&s.frames[0]}, nullptr, 0.0, {}};
  for (const auto& [row, column] : {std::pair<Index, Index>{490, 7}, {3, 5}, {3, 4}}) {
    s.skip(row, column) = s.frames[0].masked(row, column) = false;
    for (const double bad : {-2.0, std::nan(""), HUGE_VAL}) {
      s.frames[0].counts(row, column) = bad;
      for (const bool dead : {false, true}) {
        terms.dead_time.reset();
        if (dead) terms.dead_time = DeadTime{1e-6};
        EXPECT_HOLDS(message<DataError>([&] { sum_areas(s.shares, s.skip, terms); }),
                     "counts of 'Z' are " +
                         std::string(bad < 0   ? "-2"
                                     : bad > 0 ? "inf"
                                               : "nan") +
                         " at row " + std::to_string(row) + ", column " + std::to_string(column) + ", a pixel");
      }
    }
  }
  // Counts that the dead time does not allow, in a pixel of the bins and in one outside.
  s = Scene();
  terms.frames = {&s.frames[0]};
  terms.dead_time = DeadTime{1e-6};
  s.skip(0, 0) = s.frames[0].masked(0, 0) = false;
  s.frames[0].counts(0, 0) = 2e6;
  ASSERT_FALSE(s.shares.used(0));
  EXPECT_NO_THROW(sum_areas(s.shares, s.skip, terms));
  Index inside = rows / 2 * columns + 100;
  while (!s.shares.used(inside) || s.frames[0].masked.data()[inside]) ++inside;
  s.frames[0].counts.data()[inside] = 2e6;
  EXPECT_HOLDS(message<InputError>([&] { sum_areas(s.shares, s.skip, terms); }), "2e+06 counts/s is not possible");
}

}  // namespace
}  // namespace sievelight
