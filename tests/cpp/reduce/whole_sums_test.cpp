// SPDX-License-Identifier: GPL-3.0-or-later
#include "sievelight/reduce/whole_sums.hpp"

#include "reduce/synthetic.hpp"

namespace sievelight {
namespace {

using namespace synthetic;
using Way = WholeSums::Way;

struct Scene {
  PixelMap map = pixel_map(small_detector(), 61, 47);
  BinTable table = bin_table(map, {}, make_bins(map, {}, {.bins = 40}));
  Slots slots = Slots(table);
  std::vector<std::uint32_t> numbers;

  explicit Scene(std::uint32_t top) {
    std::mt19937 random(4);
    for (Eigen::Index i = 0; i < map.q_per_nm.size(); ++i)
      numbers.push_back(std::uniform_int_distribution<std::uint32_t>(0, top)(random));
  }

  // Calls use(first pixel, how many, largest) for strips of uneven lengths, some from an odd pixel on.
  template <typename Use>
  void strips(const Use& use) const {
    const auto pixels = static_cast<Eigen::Index>(numbers.size());
    const Eigen::Index lengths[] = {256, 1, 255, 7, 2, 100};
    int k = 0;
    for (Eigen::Index at = 0; at < pixels;) {
      const Eigen::Index n = std::min(lengths[k++ % 6], pixels - at);
      use(at, n, *std::max_element(numbers.begin() + at, numbers.begin() + at + n));
      at += n;
    }
  }
  template <typename Function>
  std::vector<std::uint64_t> plain(const Function& f) const {
    std::vector<std::uint64_t> out(40, 0);
    for (std::size_t i = 0; i < numbers.size(); ++i)
      if (const int k = table.index.data()[i]; k >= 0) out[static_cast<std::size_t>(k)] += f(std::uint64_t{numbers[i]});
    return out;
  }
};

// Tops that make the halves of a sum overflow soon, late, never, and at once.
TEST(WholeSums, OfNumbersAreExact) {
  for (const std::uint32_t top : {3u, 60000u, 30000000u, 4294967295u}) {
    const Scene s(top);
    WholeSums sums;
    sums.begin(s.slots, Way::sums);
    s.strips(
        [&](Eigen::Index at, Eigen::Index n, std::uint32_t most) { sums.add(s.numbers.data() + at, at, n, most); });
    sums.end();
    const auto expected = s.plain([](std::uint64_t n) { return n; });
    for (Eigen::Index k = 0; k < 40; ++k) EXPECT_EQ(sums.sum(k), expected[static_cast<std::size_t>(k)]) << top;
  }
}

TEST(WholeSums, OfMomentsAreExact) {
  for (const std::uint32_t top : {3u, 63u, 1023u}) {
    const Scene s(top);
    WholeSums sums;
    sums.begin(s.slots, Way::moments, 1024);
    EXPECT_EQ(sums.levels(), 1024u);
    s.strips(
        [&](Eigen::Index at, Eigen::Index n, std::uint32_t most) { sums.add_few(s.numbers.data() + at, at, n, most); });
    sums.end();
    const auto first = s.plain([](std::uint64_t n) { return n; }),
               second = s.plain([](std::uint64_t n) { return n * n; });
    for (Eigen::Index k = 0; k < 40; ++k) {
      EXPECT_EQ(sums.sum(k), first[static_cast<std::size_t>(k)]) << top;
      EXPECT_EQ(sums.square(k), second[static_cast<std::size_t>(k)]) << top;
    }
  }
}

TEST(WholeSums, CountPixelsByTheirNumber) {
  const Scene s(15);
  WholeSums sums;
  sums.begin(s.slots, Way::numbers);
  ASSERT_GE(sums.levels(), 16u);
  s.strips(
      [&](Eigen::Index at, Eigen::Index n, std::uint32_t most) { sums.add_few(s.numbers.data() + at, at, n, most); });
  sums.end();
  for (std::uint64_t number = 0; number < 16; ++number) {
    const auto expected = s.plain([number](std::uint64_t n) { return std::uint64_t{n == number}; });
    for (std::size_t k = 0; k < 40; ++k) EXPECT_EQ(sums.pixels(number)[k], expected[k]);
  }
}

TEST(WholeSums, OfTwoThreadsAreThoseOfOne) {
  const Scene s(200);
  for (const Way way : {Way::sums, Way::moments}) {
    WholeSums one, other, all;
    for (WholeSums* sums : {&one, &other, &all}) sums->begin(s.slots, way, 256);
    int k = 0;
    s.strips([&](Eigen::Index at, Eigen::Index n, std::uint32_t most) {
      for (WholeSums* sums : {k++ % 2 == 0 ? &one : &other, &all}) {
        if (way == Way::sums)
          sums->add(s.numbers.data() + at, at, n, most);
        else
          sums->add_few(s.numbers.data() + at, at, n, most);
      }
    });
    for (WholeSums* sums : {&one, &other, &all}) sums->end();
    one.join(other);
    for (Eigen::Index bin = 0; bin < 40; ++bin) EXPECT_EQ(one.sum(bin), all.sum(bin));
  }
}

}  // namespace
}  // namespace sievelight
