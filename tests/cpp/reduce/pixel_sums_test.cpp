// SPDX-License-Identifier: GPL-3.0-or-later
#include "sievelight/reduce/pixel_sums.hpp"

#include "reduce/synthetic.hpp"
#include "sievelight/frames/frame_source.hpp"

#include <cstring>

namespace sievelight {
namespace {

using namespace synthetic;
using Eigen::Index;
constexpr double never = std::numeric_limits<double>::infinity();
constexpr Index rows = 450, columns = 451, pixels = rows * columns;  // enough for several blocks, at odd places

struct Scene {
  PixelMap map = pixel_map(small_detector(), rows, columns);
  BinTable table = bin_table(map, {}, make_bins(map, {}, {.bins = 60}));
  Slots slots = Slots(table);
  Eigen::ArrayXf inverse =
      Eigen::Map<const Eigen::ArrayXd>(map.solid_angle_sr().data(), pixels).inverse().cast<float>();
  std::vector<double> counts, dark;
  std::unique_ptr<bool[]> skip = std::make_unique<bool[]>(pixels);
  std::vector<Index> blocks = pixel_blocks(rows, columns);

  Scene() {
    std::mt19937_64 random(9);
    for (Index i = 0; i < pixels; ++i) {
      const double q = map.q_per_nm.data()[i];
      counts.push_back(static_cast<double>(std::poisson_distribution<int>(2 + 400 / (1 + 900 * q * q * q))(random)));
      dark.push_back(static_cast<double>(std::poisson_distribution<int>(0.3)(random)));
      skip[static_cast<std::size_t>(i)] = i / columns == 77 || i % 997 == 5;
    }
  }
  template <typename T>
  std::vector<T> as() const {
    return {counts.begin(), counts.end()};
  }
};

struct Sums {
  PixelSums sums;
  WholeSums whole;
  Sums(const SumTerms& terms, const std::vector<Index>& blocks) {
    begin_whole(terms, whole);
    sums.begin(terms, blocks, whole);
  }
  PixelSums& end() {
    whole.end();
    sums.end(whole);
    return sums;
  }
};

void expect_same(const PixelSums& a, const PixelSums& b, const std::string& what) {
  for (Index k = 0; k < a.bins(); ++k) {
    EXPECT_EQ(a.recorded(k), b.recorded(k)) << what << ", bin " << k;
    EXPECT_EQ(a.counts(k), b.counts(k)) << what << ", bin " << k;
    EXPECT_EQ(a.variance(k), b.variance(k)) << what << ", bin " << k;
    EXPECT_EQ(a.per_dead_time(k), b.per_dead_time(k)) << what << ", bin " << k;
    EXPECT_EQ(a.square(k), b.square(k)) << what << ", bin " << k;
    EXPECT_EQ(a.expected(k), b.expected(k)) << what << ", bin " << k;
  }
  EXPECT_EQ(a.lost(), b.lost()) << what;
  EXPECT_EQ(a.largest(), b.largest()) << what;
}

std::string name(NumberKind kind, bool swapped) {
  return plain_type(kind, swapped).name + (swapped ? ", swapped" : "");
}

// Every number type in both byte orders, in one run and in many uneven ones, gives the sums of the doubles bit for bit:
// without and with a dead time (by moments and by numbers), with and without the scatter and the dark.
TEST(PixelSums, DoNotDependOnTypeOrPieces) {
  const Scene s;
  const DeadTimeTable long_exposure({1e-7, DeadTimeModel::non_paralyzable}, 20.0),
      short_exposure({1e-5, DeadTimeModel::paralyzable}, 0.5);
  ASSERT_GE(long_exposure.quadratic_below(), 64u);
  ASSERT_LT(short_exposure.quadratic_below(), 64u);
  for (const DeadTimeTable* dead : {static_cast<const DeadTimeTable*>(nullptr), &long_exposure, &short_exposure})
    for (const int scatter : {0, 1, 2}) {
      SumTerms terms{&s.slots, dead, scatter ? s.inverse.data() : nullptr, scatter > 1 ? s.dark.data() : nullptr, 0.5};
      Sums expected(terms, s.blocks);
      expected.sums.add(s.counts.data(), 0, pixels, s.skip.get());
      expected.end();
      for (const NumberKind kind :
           {NumberKind::u16, NumberKind::i16, NumberKind::i32, NumberKind::u32, NumberKind::i64, NumberKind::f32})
        for (const bool swapped : {false, true}) {
          const StoredType type = plain_type(kind, swapped);
          std::vector<unsigned char> stored(static_cast<std::size_t>(pixels) * type.size);
          with_number(kind, [&](auto zero) {
            const auto numbers = s.as<decltype(zero)>();
            std::memcpy(stored.data(), numbers.data(), stored.size());
          });
          for (std::size_t i = 0; swapped && i < stored.size(); i += type.size)
            std::reverse(stored.begin() + static_cast<std::ptrdiff_t>(i),
                         stored.begin() + static_cast<std::ptrdiff_t>(i + type.size));
          Sums got(terms, s.blocks);
          Index step = 1;
          for (Index at = 0; at < pixels; at += step, step = step * 5 % 3001 + 1) {
            const Index n = std::min(step, pixels - at);
            got.sums.add(type, {stored.data() + static_cast<std::size_t>(at) * type.size, type.size, at, n}, never,
                         s.skip.get() + at);
          }
          expect_same(got.end(), expected.sums, name(kind, swapped));
        }
    }
}

// Blocks summed apart and joined are the same as one pass: this is how threads share a frame.
TEST(PixelSums, OfBlocksJoinToThoseOfOnePass) {
  const Scene s;
  ASSERT_GT(s.blocks.size(), 3u);
  const DeadTimeTable dead({1e-5, DeadTimeModel::non_paralyzable}, 0.5);
  const SumTerms terms{&s.slots, &dead, s.inverse.data(), s.dark.data(), 0.5};
  Sums expected(terms, s.blocks);
  expected.sums.add(s.counts.data(), 0, pixels, nullptr);
  expected.end();
  std::vector<std::unique_ptr<Sums>> parts;
  for (std::size_t b = 0; b + 1 < s.blocks.size(); ++b) {
    const Index first = s.blocks[b], n = s.blocks[b + 1] - first;
    parts.push_back(std::make_unique<Sums>(terms, std::vector<Index>{first, first + n}));
    parts.back()->sums.add(s.counts.data() + first, first, n, nullptr);
    parts.back()->whole.end();
  }
  for (std::size_t b = 1; b < parts.size(); ++b) {
    parts[0]->sums.join(parts[b]->sums);
    parts[0]->whole.join(parts[b]->whole);
  }
  parts[0]->sums.end(parts[0]->whole);
  expect_same(parts[0]->sums, expected.sums, "joined");
}

// Against a plain loop in extended precision: rounding of some thousand terms, and 2e-12 where the dead time's third
// power is left out.
TEST(PixelSums, AreThoseOfAPlainLoop) {
  const Scene s;
  for (const double exposure_s : {20.0, 0.5}) {
    const DeadTime d{1e-7, DeadTimeModel::non_paralyzable};
    const DeadTimeTable dead(d, exposure_s);
    Sums got({&s.slots, &dead, nullptr, nullptr, 0.0}, s.blocks);
    got.sums.add(s.counts.data(), 0, pixels, s.skip.get());
    got.end();
    std::vector<long double> counts(60, 0.0L), variance(60, 0.0L), recorded(60, 0.0L);
    for (Index i = 0; i < pixels; ++i) {
      const int k = s.table.index.data()[i];
      if (k < 0 || s.skip[static_cast<std::size_t>(i)]) continue;
      const TrueCounts value = correct_dead_time(s.counts[static_cast<std::size_t>(i)], exposure_s, d);
      counts[static_cast<std::size_t>(k)] += value.counts;
      variance[static_cast<std::size_t>(k)] += value.variance;
      recorded[static_cast<std::size_t>(k)] += s.counts[static_cast<std::size_t>(i)];
    }
    for (Index k = 0; k < 60; ++k) {
      const auto j = static_cast<std::size_t>(k);
      EXPECT_EQ(got.sums.recorded(k), static_cast<double>(recorded[j]));
      const auto all = static_cast<double>(counts[j]), spread = static_cast<double>(variance[j]);
      EXPECT_NEAR(got.sums.counts(k), all, 3e-12 * all);
      EXPECT_NEAR(got.sums.variance(k), spread, 4e-12 * spread);
    }
  }
}

TEST(PixelSums, LoseWhatIsNoCountAndTallyIt) {
  const Scene s;
  std::vector<std::int32_t> numbers = s.as<std::int32_t>();
  const Index used = 200 * columns + 200;
  ASSERT_LT(s.slots[used], 60);
  numbers[used] = -1;
  numbers[used + 1] = std::numeric_limits<std::int32_t>::max();
  numbers[used + 3] = 5000;
  Sums got({&s.slots, nullptr, nullptr, nullptr, 0.0}, s.blocks);
  got.sums.add(plain_type(NumberKind::i32, false), {reinterpret_cast<unsigned char*>(numbers.data()), 4, 0, pixels},
               5000.0, nullptr);
  got.end();
  EXPECT_EQ(got.sums.lost(), (std::vector<Index>{used, used + 1, used + 3}));
  EXPECT_EQ(got.sums.tally().markers, 2u);
  EXPECT_EQ(got.sums.tally().saturated, 1u);
}

TEST(PixelSums, OfFractionsAreKeptAsDoubles) {
  const Scene s;
  std::vector<double> halves = s.counts;
  for (double& n : halves) n += 0.5;
  Sums got({&s.slots, nullptr, nullptr, nullptr, 0.0}, s.blocks),
      whole({&s.slots, nullptr, nullptr, nullptr, 0.0}, s.blocks);
  got.sums.add(halves.data(), 0, pixels, nullptr);
  whole.sums.add(s.counts.data(), 0, pixels, nullptr);
  got.end();
  whole.end();
  for (Index k = 0; k < 60; ++k)  // halves add without rounding
    EXPECT_EQ(got.sums.recorded(k), whole.sums.recorded(k) + 0.5 * s.table.pixels[k]);
}

TEST(PixelSums, RememberTheFirstPixelWithoutCounts) {
  const Scene s;
  std::vector<double> bad = s.counts;
  const Index first = 200 * columns + 200;
  bad[first] = std::numeric_limits<double>::quiet_NaN();
  bad[first + 9] = -2;
  Sums got({&s.slots, nullptr, nullptr, nullptr, 0.0}, s.blocks);
  got.sums.add(bad.data(), 0, pixels, nullptr);
  EXPECT_EQ(got.end().refused(), first);
}

}  // namespace
}  // namespace sievelight
