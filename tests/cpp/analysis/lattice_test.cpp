// SPDX-License-Identifier: GPL-3.0-or-later
#include "sievelight/analysis/lattice.hpp"

#include "sievelight/base/error.hpp"

#include <gtest/gtest.h>

#include <cmath>

namespace sievelight {
namespace {

std::vector<int> orders(Symmetry symmetry, std::size_t first) {
  std::vector<int> out;
  for (const Reflection& r : reflections(symmetry, 100)) {
    if (out.size() == first) break;
    out.push_back(r.m);
  }
  return out;
}

// The project's table of reference values, section 8 (International Tables Vol. A; derived and checked there).
TEST(Lattice, AllowsTheReflectionsOfTheTables) {
  EXPECT_EQ(orders(Symmetry::lamellar, 4), (std::vector{1, 4, 9, 16}));
  EXPECT_EQ(orders(Symmetry::p6mm, 6), (std::vector{1, 3, 4, 7, 9, 12}));
  EXPECT_EQ(orders(Symmetry::pm3m, 7), (std::vector{1, 2, 3, 4, 5, 6, 8}));
  EXPECT_EQ(orders(Symmetry::im3m, 7), (std::vector{2, 4, 6, 8, 10, 12, 14}));
  EXPECT_EQ(orders(Symmetry::fm3m, 5), (std::vector{3, 4, 8, 11, 12}));
  EXPECT_EQ(orders(Symmetry::ia3d, 7), (std::vector{6, 8, 14, 16, 20, 22, 24}));
  EXPECT_EQ(orders(Symmetry::pn3m, 6), (std::vector{2, 3, 4, 6, 8, 9}));
  EXPECT_EQ(orders(Symmetry::pm3n, 8), (std::vector{2, 4, 5, 6, 8, 10, 12, 13}));
}

// 1, sqrt3, 2, sqrt7, 3, 2 sqrt3 (same table); a = 4 pi / (sqrt3 q10), so q10 a / (2 pi) = 2 / sqrt3.
TEST(Lattice, KnowsTheRatiosAndIndicesOfTheHexagonalLattice) {
  const auto r = reflections(Symmetry::p6mm, 12);
  const double expected[] = {1.0, 1.732051, 2.0, 2.645751, 3.0, 3.464102};
  const char* indices[] = {"10", "11", "20", "21", "30", "22"};
  for (std::size_t k = 0; k < 6; ++k) {
    EXPECT_NEAR(r[k].ratio / r[0].ratio, expected[k], 1e-6);
    EXPECT_EQ(r[k].indices, indices[k]);
  }
  EXPECT_NEAR(r[0].ratio, 2.0 / std::sqrt(3.0), 1e-15);
}

TEST(Lattice, NamesReflectionsOfTheGyroid) {
  const auto r = reflections(Symmetry::ia3d, 24);
  const char* indices[] = {"211", "220", "321", "400", "420", "332", "422"};
  ASSERT_EQ(r.size(), 7u);
  for (std::size_t k = 0; k < 7; ++k) EXPECT_EQ(r[k].indices, indices[k]);
  EXPECT_TRUE(r[0].strong && r[1].strong && !r[2].strong);
}

TEST(Lattice, ReadsItsOwnNames) {
  for (const Symmetry s : known_symmetries()) EXPECT_EQ(symmetry_from(name(s)), s);
  try {
    symmetry_from("hexagonal");
    FAIL() << "accepted";
  } catch (const InputError& error) {
    EXPECT_NE(error.mend().find("'p6mm'"), std::string::npos);
  }
  EXPECT_THROW(reflections(Symmetry::p6mm, 0), InputError);
}

}  // namespace
}  // namespace sievelight
