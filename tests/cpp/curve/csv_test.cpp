// SPDX-License-Identifier: GPL-3.0-or-later
#include "sievelight/curve/csv.hpp"

#include "curve/some_curves.hpp"
#include "sievelight/base/error.hpp"
#include "support/refusal.hpp"
#include "support/scratch.hpp"

#include <gtest/gtest.h>

namespace sievelight {
namespace {

std::string written(const Curve& curve, bool causes) {
  const Scratch scratch;
  write_csv(scratch / "c.csv", curve, causes);
  return read_bytes(scratch / "c.csv");
}

Curve odd_curve() {
  Curve curve = some_curve();
  curve.slit_length_per_nm = Eigen::VectorXd::Constant(7, 0.1 + 0.2);
  curve.slit_width_per_nm = Eigen::VectorXd::Zero(7);
  curve.causes["thickness: \"A\", ground"] = {CauseKind::coherent, 0.01 * curve.intensity};
  return curve;
}

TEST(Csv, HasOneHeaderRowWithUnitsAndNothingElse) {
  Curve curve;
  curve.unit = IntensityUnit::cm2_per_g;
  curve.q_per_nm = Eigen::Vector2d(0.1, 0.25);
  curve.intensity = Eigen::Vector2d(1e-30, -2);
  curve.private_u = Eigen::Vector2d(3, 0.5);
  curve.causes["k"] = {CauseKind::coherent, Eigen::Vector2d(4, 0)};
  EXPECT_EQ(
      written(curve, false),
      "q_per_nm,intensity_cm2_per_g,u_total_cm2_per_g,u_pointwise_cm2_per_g\r\n0.1,1e-30,5,3\r\n0.25,-2,0.5,0.5\r\n");
  curve.causes.clear();
  curve.private_u.setZero();
  EXPECT_EQ(written(curve, true), "q_per_nm,intensity_cm2_per_g\r\n0.1,1e-30\r\n0.25,-2\r\n");
}

TEST(Csv, ComesBackToTheLastBitWithItsCauses) {
  for (const IntensityUnit unit : {IntensityUnit::per_cm, IntensityUnit::cm2_per_g, IntensityUnit::relative}) {
    Curve curve = odd_curve();
    curve.unit = unit;
    const auto found = parse_csv_curve(written(curve, true), "c.csv");
    ASSERT_TRUE(found);
    const Curve& back = found->curve;
    EXPECT_EQ(back.unit, unit);
    for (const auto member :
         {&Curve::q_per_nm, &Curve::intensity, &Curve::private_u, &Curve::q_low_per_nm, &Curve::q_high_per_nm,
          &Curve::q_resolution_per_nm, &Curve::slit_length_per_nm, &Curve::slit_width_per_nm})
      EXPECT_EQ(back.*member, curve.*member);
    ASSERT_EQ(back.causes.size(), curve.causes.size());
    for (const auto& [id, cause] : curve.causes) {
      ASSERT_TRUE(back.causes.contains(id)) << id;
      EXPECT_EQ(back.causes.at(id).kind, cause.kind);
      EXPECT_EQ(back.causes.at(id).u, cause.u);
    }
  }
}

TEST(Csv, WithoutCausesKeepsWhatScattersAndSaysThatMoreIsCommon) {
  const auto found = parse_csv_curve(written(some_curve(), false), "c.csv");
  EXPECT_EQ(found->curve.private_u, pointwise_u(some_curve()));
  EXPECT_TRUE(found->curve.causes.empty());
  ASSERT_FALSE(found->info.notes.empty());
  EXPECT_NE(found->info.notes.back().find("total uncertainty has common parts"), std::string::npos);
}

TEST(Csv, NamesColumnsItDoesNotKnowAndPassesOtherTextsOn) {
  const auto found = parse_csv_curve("q_per_nm,\"note, odd\",intensity_per_cm\n0.1,7,5\n\n0.2,8,4\n", "x");
  ASSERT_TRUE(found);
  EXPECT_EQ(found->curve.intensity, Eigen::Vector2d(5, 4));
  EXPECT_FALSE(found->has_uncertainty);
  EXPECT_NE(found->info.notes.back().find("'note, odd'"), std::string::npos);
  EXPECT_FALSE(parse_csv_curve("q,I\n0.1,5\n", "x"));
  EXPECT_FALSE(parse_csv_curve("", "x"));
}

TEST(Csv, RefusesByLine) {
  const auto words = [](const std::string& rows) {
    return refusal<DataError>([&] { parse_csv_curve("q_per_nm,intensity_per_cm\n" + rows, "'x'"); });
  };
  EXPECT_NE(words("0.1,5\n0.2\n").find("Line 3 of 'x' has 1 fields where the header has 2"), std::string::npos);
  EXPECT_NE(words("0.1,five\n").find("Line 2 of 'x': 'five' in the column intensity_per_cm"), std::string::npos);
  EXPECT_NE(words("").find("no usable point"), std::string::npos);
  EXPECT_NE(refusal<DataError>([] { write_csv("/no such folder/c.csv", some_curve()); }).find("cannot be written"),
            std::string::npos);
}

}  // namespace
}  // namespace sievelight
