// SPDX-License-Identifier: GPL-3.0-or-later
#include "sievelight/reduce/area_strips.hpp"

#include "reduce/synthetic.hpp"
#include "sievelight/reduce/bins.hpp"

#include <cmath>

namespace sievelight {
namespace {

using namespace synthetic;
using Eigen::Index;

// One row of 70 pixels through the beam; the bins leave out the ten nearest to it and what lies beyond 30.
struct Scene {
  DetectorGeometry g = small_detector();
  PixelMap map = pixel_map(g, 60, 70);
  Mask skip = Mask::Constant(60, 70, false);
  AreaShares shares{g, map.q_per_nm, skip, linear_edges(0.5, 1.5, 10)};
  Frame a, b, dark;
  Index first = 28 * 70, n = 70;
  Scene() {
    for (Frame* f : {&a, &b, &dark}) {
      f->counts = Image(60, 70);
      f->exposure_s = f == &b ? 2.0 : 1.0;
      for (Index i = 0; i < f->counts.size(); ++i)
        f->counts.data()[i] = static_cast<double>((i * (f == &a ? 7 : f == &b ? 11 : 3)) % 50);
    }
  }
};

TEST(AreaStrips, OneFrameIsTakenAsItStands) {
  const Scene s;
  const AreaTerms terms{"run", {&s.a}, &s.dark, 0.5, {}};
  const AreaStrips strips(s.shares, s.skip, terms);
  AreaStrip strip;
  EXPECT_EQ(strips.fill(s.first, s.n, strip), -1);
  EXPECT_TRUE(strips.direct(strip));
  EXPECT_FALSE(strips.dead());
  const double* own = s.a.counts.data() + s.first;
  EXPECT_EQ(strip.counts, own);
  EXPECT_EQ(strip.variance, own);
  EXPECT_EQ(strip.recorded, own);
  EXPECT_EQ(strip.dark, s.dark.counts.data() + s.first);
}

TEST(AreaStrips, FramesAreSummedAndMasksLeaveZeros) {
  Scene s;
  s.b.masked = s.dark.masked = s.skip;
  s.b.masked(28, 3) = s.dark.masked(28, 4) = true;
  s.b.counts(28, 3) = std::nan("");
  s.dark.counts(28, 5) = -1;
  const AreaTerms terms{"run", {&s.a, &s.b}, &s.dark, 0.5, {}};
  const AreaStrips strips(s.shares, s.skip, terms);
  AreaStrip strip;
  EXPECT_EQ(strips.fill(s.first, s.n, strip), -1);
  EXPECT_FALSE(strips.direct(strip));
  ASSERT_TRUE(strip.any_hidden);
  for (Index i = 0; i < s.n; ++i) {
    const bool hidden = i >= 3 && i <= 5;
    EXPECT_EQ(strip.hidden[i], hidden);
    EXPECT_EQ(strip.recorded[i], hidden ? 0.0 : s.a.counts(28, i) + s.b.counts(28, i));
    EXPECT_EQ(strip.counts[i], strip.recorded[i]);
    EXPECT_EQ(strip.dark[i], hidden ? 0.0 : s.dark.counts(28, i));
  }
}

// Whole numbers from the table, others by the function; a frame that is corrected already is left alone.
TEST(AreaStrips, DeadTimeIsCorrectedFrameByFrame) {
  for (const bool whole : {true, false})
    for (const bool corrected : {true, false}) {
      Scene s;
      s.b.metadata.countrate_correction_applied = corrected;
      s.a.masked = s.skip;
      s.a.masked(28, 3) = true;
      if (!whole) s.a.counts(28, 60) = 12.5;
      s.a.counts(28, 31) = whole ? 40.0 : 1e9;  // at the beam, in no bin: not possible, and not looked at
      const DeadTime d{1e-3};
      const AreaTerms terms{"run", {&s.a, &s.b}, nullptr, 0.0, d};
      const AreaStrips strips(s.shares, s.skip, terms);
      EXPECT_TRUE(strips.dead());
      AreaStrip strip;
      EXPECT_EQ(strips.fill(s.first, s.n, strip), -1);
      Index compared = 0;
      for (Index i = 0; i < s.n; ++i) {
        if (i == 3 || !s.shares.used(s.first + i)) continue;
        const double one = s.a.counts(28, i), two = s.b.counts(28, i);
        const TrueCounts x = correct_dead_time(one, 1.0, d);
        const TrueCounts y = corrected ? TrueCounts{two, two} : correct_dead_time(two, 2.0, d);
        EXPECT_EQ(strip.counts[i], x.counts + y.counts);
        EXPECT_EQ(strip.variance[i], x.variance + y.variance);
        EXPECT_EQ(strip.recorded[i], one + two);
        ++compared;
      }
      EXPECT_GT(compared, 20);
      EXPECT_EQ(strip.counts[3] + strip.variance[3] + strip.recorded[3], 0.0);
    }
}

TEST(AreaStrips, NameWhatHoldsNoCount) {
  Scene s;
  s.a.counts(28, 40) = -3;
  s.skip(28, 39) = true;
  s.a.counts(28, 39) = -4;
  for (const bool two : {false, true}) {
    AreaTerms terms{"Z", {&s.b, &s.a}, nullptr, 0.0, {}};
    if (!two) terms.frames = {&s.a};
    const AreaStrips strips(s.shares, s.skip, terms);
    AreaStrip strip;
    const Index filled = strips.fill(s.first, s.n, strip);
    EXPECT_EQ(filled, two ? s.first + 40 : -1);  // a single frame is looked at when it is summed
    EXPECT_EQ(strips.refused(s.first, s.n, strip), s.first + 40);
    EXPECT_HOLDS(message<DataError>([&] { strips.refuse(s.first + 40); }), "counts of 'Z' are -3 at row 28, column 40");
  }
}

}  // namespace
}  // namespace sievelight
