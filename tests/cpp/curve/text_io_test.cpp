// SPDX-License-Identifier: GPL-3.0-or-later
#include "sievelight/curve/text_io.hpp"

#include "sievelight/base/error.hpp"
#include "support/refusal.hpp"
#include "support/scratch.hpp"

#include <gtest/gtest.h>

namespace sievelight {
namespace {

NamedCurve read(const std::string& content, const TextOptions& options = {"1/nm", "1/cm"}) {
  const Scratch scratch;
  write_bytes(scratch / "sample.dat", content);
  return read_text_curve(scratch / "sample.dat", options);
}

std::string words(const std::string& content) {
  return refusal<DataError>([&] { read(content); });
}

TEST(TextIo, ReadsTwoThreeAndFourColumns) {
  EXPECT_FALSE(read("0.1 5\n0.2 4\n").has_uncertainty);
  const NamedCurve three = read("# comment\nq,I,u\n\n0.1, 5, 0.5\r\n0.2, 4, 0.4\r\n", {"1/A", "relative"});
  EXPECT_EQ(three.name, "sample");
  EXPECT_DOUBLE_EQ(three.curve.q_per_nm[1], 2.0);
  EXPECT_DOUBLE_EQ(three.curve.private_u[0], 0.5);
  EXPECT_EQ(three.curve.unit, IntensityUnit::relative);
  const NamedCurve four = read("0.1\t5\t0.5\t0.01\n0.2\t4\t0.4\t0.02", {"1/A", "1/m"});
  EXPECT_DOUBLE_EQ(four.curve.q_resolution_per_nm[1], 0.2);
  EXPECT_DOUBLE_EQ(four.curve.intensity[0], 0.05);
}

TEST(TextIo, TakesUnitsFromAHeaderThatNamesThem) {
  const std::string named = "q_per_nm,intensity_cm2_per_g\n0.1,5\n0.2,4\n";
  const NamedCurve found = read(named, {});
  EXPECT_EQ(found.name, "sample");
  EXPECT_EQ(found.curve.unit, IntensityUnit::cm2_per_g);
  EXPECT_EQ(read(named, {"1/nm", "cm2/g"}).curve.intensity, found.curve.intensity);
  EXPECT_NE(refusal<InputError>([&] {
              read(named, {"1/A", "cm2/g"});
            }).find("Leave the units to the file's header"),
            std::string::npos);
  EXPECT_NE(refusal<InputError>([&] {
              read(named, {"1/nm", "1/cm"});
            }).find("the intensity in cm2/g, the call says 1/nm and 1/cm"),
            std::string::npos);
  EXPECT_NE(refusal<InputError>([&] { read("0.1 5\n", {}); }).find("Give q_unit and intensity_unit"),
            std::string::npos);
}

TEST(TextIo, RefusesByLine) {
  EXPECT_NE(words("0.1 5\nend of file\n").find("Line 2 of"), std::string::npos);
  EXPECT_NE(words("0.1 5\n0.2 5 1\n").find("has 3 columns after lines of 2"), std::string::npos);
  EXPECT_NE(words("1 2 3 4 5\n").find("Line 1 of"), std::string::npos);
  EXPECT_NE(words("nothing here\n").find("holds no row of numbers"), std::string::npos);
  EXPECT_NE(words("").find("holds no row of numbers"), std::string::npos);
  EXPECT_NE(refusal<InputError>([] {
              read("0.1 5\n", {"degrees", "1/cm"});
            }).find("'degrees' is not a unit"),
            std::string::npos);
  EXPECT_NE(refusal<InputError>([] {
              read("0.1 5\n", {"1/nm", "counts"});
            }).find("'counts' is not a unit of intensity"),
            std::string::npos);
}

}  // namespace
}  // namespace sievelight
