// SPDX-License-Identifier: GPL-3.0-or-later
#include "sievelight/reduce/slots.hpp"

#include "reduce/synthetic.hpp"

namespace sievelight {
namespace {

using namespace synthetic;

void expect_the_table(const BinTable& table) {
  const Slots slots(table);
  const Eigen::Index bins = table.pixels.size();
  ASSERT_EQ(slots.bins(), bins);
  ASSERT_EQ(slots.pixels(), table.index.size());
  EXPECT_EQ(slots.most_pixels(), table.pixels.maxCoeff());
  for (Eigen::Index i = 0; i < table.index.size(); ++i) {
    const std::int32_t bin = table.index.data()[i];
    ASSERT_EQ(slots[i], bin < 0 ? bins : bin) << "pixel " << i;
  }
  if (!slots.pairs()) return;
  for (Eigen::Index j = 0; j < table.index.size() / 2; ++j) {
    const auto [first, second] = slots.pair_slots()[slots.pairs()[j]];
    ASSERT_EQ(first, slots[2 * j]);
    ASSERT_EQ(second, slots[2 * j + 1]);
  }
}

TEST(Slots, AreTheBinsOfTheTableAndOneMore) {
  const PixelMap map = pixel_map(small_detector(), 61, 47);  // an odd number of pixels: the last has no neighbour
  Mask masked = Mask::Constant(61, 47, false);
  masked.block(20, 10, 5, 30).setConstant(true);
  masked(3, 3) = true;
  expect_the_table(bin_table(map, masked, make_bins(map, masked, {.bins = 40})));
  EXPECT_NE(Slots(bin_table(map, masked, make_bins(map, masked, {.bins = 40}))).pairs(), nullptr);
}

// Beyond 65535 bins a slot needs 32 bits, and pairs are given up.
TEST(Slots, TakeMoreBinsThanSixteenBitsCount) {
  const PixelMap map = pixel_map(small_detector(), 40, 40);
  const BinTable table = bin_table(map, {}, make_bins(map, {}, {.bins = 70000}));
  expect_the_table(table);
  EXPECT_EQ(Slots(table).pairs(), nullptr);
}

}  // namespace
}  // namespace sievelight
