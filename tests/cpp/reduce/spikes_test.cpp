// SPDX-License-Identifier: GPL-3.0-or-later
#include "sievelight/reduce/spikes.hpp"

#include "reduce/synthetic.hpp"
#include "sievelight/reduce/average.hpp"

#include <fmt/format.h>

namespace sievelight {
namespace {

using namespace synthetic;

std::vector<const Frame*> pointers(const std::vector<Frame>& frames) {
  std::vector<const Frame*> out;
  for (const Frame& f : frames) out.push_back(&f);
  return out;
}

struct Scene {
  PixelMap map = pixel_map(small_detector(), 60, 70);
  // From 0.3 counts a pixel and second outside to 30 inside.
  Frame expected(double exposure_s) const {
    return expected_frame(map, Image::Ones(60, 70), exposure_s,
                          [](double q) { return 0.3 + 30 * std::exp(-q * q * 9); });
  }
  std::vector<Frame> draw(int exposures, std::mt19937_64& random, double fade = 1.0) const {
    std::vector<Frame> out;
    for (int k = 0; k < exposures; ++k) {
      Frame f = expected(1.0 + 0.5 * k);  // unequal exposures
      f.counts *= std::pow(fade, k);      // of a beam that fades
      out.push_back(poisson_frame(f, random));
    }
    return out;
  }
};

// Counting. The target is a tenth of a false pixel an exposure: 200 sets of 2 and of 5 exposures would hold 140 false
// pixels; counts are whole numbers, so the level is not used up, but it must never be exceeded: 140 + 4 sqrt(140).
// A beam that fades by a tenth from exposure to exposure makes no more.
TEST(Spikes, FalseOnesAreAsRareAsAskedFor) {
  const Scene s;
  std::mt19937_64 random(31);
  for (const double fade : {1.0, 0.9}) {
    int found = 0;
    for (int r = 0; r < 200; ++r)
      for (const int exposures : {2, 5})
        found += static_cast<int>(
            find_spikes(pointers(s.draw(exposures, random, fade)), {.false_per_exposure = 0.1}).spikes.size());
    RecordProperty(fmt::format("false_of_140_fade_{}", fade), found);
    EXPECT_LE(found, 140 + 48) << fade;
    EXPECT_GE(found, 5) << fade;  // and the test is not blind: whole numbers cost a factor of a few, not of thirty
  }
}

// By hand: five exposures with about one count each, 4200 pixels, target 0.01: level 2.4e-6. Binomial with share 1/5
// and a sum of 24: P(N >= 20) = 3e-11. With two exposures and one count in the other P(N >= 21 of 22) = 23/2^22
// = 5.5e-6 is not enough, P(N >= 30 of 31) = 32/2^31 is.
TEST(Spikes, TwentyCountsOnAMeanOfOneAreFound) {
  Frame flat;
  flat.exposure_s = 1.0;
  flat.counts = Image::Ones(60, 70);
  std::vector<Frame> five(5, flat);
  five[3].counts(17, 44) += 19;
  const SpikeReport found = find_spikes(pointers(five));
  ASSERT_EQ(found.spikes.size(), 1u);
  const Spike& spike = found.spikes[0];
  EXPECT_EQ(spike.exposure, 3);
  EXPECT_EQ(spike.row, 17);
  EXPECT_EQ(spike.column, 44);
  EXPECT_EQ(spike.counts, 20);
  EXPECT_NEAR(spike.expected, 1.0, 1e-9);
  EXPECT_LT(spike.probability, 1e-9);
  EXPECT_EQ(found.masks[3].count(), 1);
  EXPECT_EQ(found.masks[2].count(), 0);
  std::vector<Frame> two(2, flat);
  two[1].counts(3, 3) = 21;
  EXPECT_TRUE(find_spikes(pointers(two)).spikes.empty());
  two[1].counts(3, 3) = 30;
  EXPECT_EQ(find_spikes(pointers(two)).spikes.size(), 1u);
}

TEST(Spikes, OneThatOutshinesItsFrameIsTheOnlyOne) {
  const Scene s;
  std::mt19937_64 random(32);
  std::vector<Frame> frames = s.draw(4, random);
  frames[1].counts(5, 5) = 3e6;
  const SpikeReport found = find_spikes(pointers(frames));
  ASSERT_EQ(found.spikes.size(), 1u);
  EXPECT_EQ(found.spikes[0].exposure, 1);
  EXPECT_NEAR(found.share.sum(), 1.0, 1e-12);
}

// The curve after removal is that without the pixel, in every exposure; the mean over many draws stays the truth.
TEST(Spikes, RemovalDropsThePixelWholeAndDoesNotBias) {
  const Scene s;
  AverageOptions bare;
  bare.corrections.off = {StepKind::solid_angle, StepKind::polarisation};
  const Averager averager(s.map, {}, make_bins(s.map, {}, {.bins = 8}), bare);
  std::mt19937_64 random(33);
  const Frame truth = s.expected(1.0);
  const Averaged flat = averager.average({&truth});
  double mean = 0;
  const int repeats = 300;
  for (int r = 0; r < repeats; ++r) {
    std::vector<Frame> frames = s.draw(3, random);
    frames[2].counts(40, 20) += 500;
    const std::vector<Frame> clean = remove_spikes(pointers(frames));
    EXPECT_TRUE(clean[2].masked(40, 20));
    EXPECT_FALSE(clean[0].masked(40, 20));
    EXPECT_EQ(clean[2].counts(40, 20), frames[2].counts(40, 20));
    const Averaged a = averager.average(pointers(clean));
    EXPECT_LE(a.pixels.sum(), flat.pixels.sum() - 1);
    mean += (a.curve.intensity.array() / flat.curve.intensity.array()).tail(1).value() / repeats;
  }
  // The last bin expects 0.3 x 4.5 counts in each of some 2000 pixels.
  const double counts = 4.5 * flat.counts[flat.counts.size() - 1];
  EXPECT_NEAR(mean, 1.0, 4 / std::sqrt(counts * repeats));
}

TEST(Spikes, AChangedSampleIsNotCalledSpikes) {
  const Scene s;
  std::mt19937_64 random(34);
  std::vector<Frame> frames = s.draw(3, random);
  frames[1].counts.topRows(20) += 40;
  const SpikeReport found = find_spikes(pointers(frames));
  ASSERT_FALSE(found.notes.empty());
  EXPECT_HOLDS(found.notes[0], "more than spikes explain");
}

TEST(Spikes, RefusesWhatCannotBeCompared) {
  const Scene s;
  const Frame one = s.expected(1.0);
  EXPECT_HOLDS(message<InputError>([&] { find_spikes({&one}); }), "Give two or more exposures of one measurement");
  Frame other = one;
  other.counts = Image::Zero(5, 6);
  EXPECT_HOLDS(message<InputError>([&] { find_spikes({&one, &other}); }), "exposure 1 has 5 x 6 pixels");
  other = one;
  other.exposures = 4;
  EXPECT_HOLDS(message<InputError>([&] { find_spikes({&one, &other}); }), "exposure 1 is a sum of 4 exposures");
  other = one;
  other.counts(2, 3) = -1;
  EXPECT_HOLDS(message<DataError>([&] { find_spikes({&one, &other}); }), "exposure 1 are -1 at row 2, column 3");
  EXPECT_HOLDS(message<InputError>([&] { find_spikes({&one, &one}, {.false_per_exposure = 0}); }), "0 false spikes");
}

}  // namespace
}  // namespace sievelight
