// SPDX-License-Identifier: GPL-3.0-or-later
#include "sievelight/curve/columns.hpp"

#include "sievelight/base/error.hpp"
#include "support/refusal.hpp"

#include <gtest/gtest.h>

#include <cmath>

namespace sievelight {
namespace {

using Eigen::VectorXd;

VectorXd vector(std::initializer_list<double> values) {
  return Eigen::Map<const VectorXd>(values.begin(), static_cast<Eigen::Index>(values.size()));
}

Columns some_columns() {
  Columns columns;
  columns.q = vector({0.01, 0.02, 0.03});
  columns.intensity = vector({300, 200, 100});
  columns.intensity_u = vector({3, 2, 1});
  columns.q_unit = "1/A";
  columns.intensity_unit = "1/m";
  return columns;
}

NamedCurve filled(const Columns& columns) {
  NamedCurve out;
  fill_curve(columns, "the table", out);
  return out;
}

bool noted(const NamedCurve& curve, const std::string& words) {
  for (const std::string& note : curve.info.notes)
    if (note.find(words) != std::string::npos) return true;
  return false;
}

TEST(Columns, ConvertUnits) {
  const NamedCurve out = filled(some_columns());
  EXPECT_TRUE(out.curve.q_per_nm.isApprox(vector({0.1, 0.2, 0.3})));
  EXPECT_TRUE(out.curve.intensity.isApprox(vector({3, 2, 1})));
  EXPECT_TRUE(out.curve.private_u.isApprox(vector({0.03, 0.02, 0.01})));
  EXPECT_EQ(out.curve.unit, IntensityUnit::per_cm);
  EXPECT_TRUE(out.info.notes.empty());
}

TEST(Columns, UnderstandIntensityPerMassAndNoteWhatTheyDoNot) {
  std::vector<std::string> notes;
  EXPECT_EQ(understand_intensity_unit("cm^2/g", notes).unit, IntensityUnit::cm2_per_g);
  EXPECT_DOUBLE_EQ(understand_intensity_unit("m2/g", notes).factor, 1e4);
  EXPECT_EQ(understand_intensity_unit("arbitrary", notes).unit, IntensityUnit::relative);
  EXPECT_TRUE(notes.empty());
  EXPECT_EQ(understand_intensity_unit("electrons/nm3", notes).unit, IntensityUnit::relative);
  EXPECT_EQ(understand_intensity_unit("", notes).unit, IntensityUnit::relative);
  ASSERT_EQ(notes.size(), 2u);
  EXPECT_NE(notes[0].find("'electrons/nm3' is neither 1/length nor area per mass"), std::string::npos);
}

TEST(Columns, WithoutUncertaintyZeroIsKeptAndSaid) {
  Columns columns = some_columns();
  for (const bool absent : {true, false}) {
    columns.intensity_u = absent ? std::nullopt : std::optional(VectorXd(VectorXd::Constant(3, std::nan(""))));
    const NamedCurve out = filled(columns);
    EXPECT_FALSE(out.has_uncertainty);
    EXPECT_TRUE(out.curve.private_u.isZero(0));
    EXPECT_TRUE(noted(out, "no uncertainty of the intensity"));
  }
}

TEST(Columns, LeaveOutWhatIsNoPointAndSortTheRest) {
  Columns columns = some_columns();
  columns.q = vector({0.03, -0.01, 0.02, 0.01, 0.04, 0.05});
  columns.intensity = vector({1, 2, 3, 4, std::nan(""), 6});
  columns.intensity_u = vector({1, 1, 1, 1, 1, -1});
  const NamedCurve out = filled(columns);
  EXPECT_TRUE(out.curve.intensity.isApprox(vector({0.04, 0.03, 0.01})));
  EXPECT_TRUE(noted(out, "3 of 6 points left out"));
  EXPECT_TRUE(noted(out, "not in the order of q"));
}

// Weighted mean of 1 +- 1 and 4 +- 2: (1 + 4/4) / (1 + 1/4) = 1.6, u = 1 / sqrt(1.25).
TEST(Columns, MergePointsOfEqualQ) {
  Columns columns = some_columns();
  columns.q = vector({0.01, 0.01, 0.02});
  columns.intensity = vector({100, 400, 700});
  columns.intensity_u = vector({100, 200, 100});
  const NamedCurve out = filled(columns);
  ASSERT_EQ(out.curve.size(), 2);
  EXPECT_NEAR(out.curve.intensity[0], 1.6, 1e-14);
  EXPECT_NEAR(out.curve.private_u[0], 1 / std::sqrt(1.25), 1e-14);
  EXPECT_TRUE(noted(out, "1 points share their q"));
}

TEST(Columns, RefuseWhatCannotBeACurve) {
  Columns columns = some_columns();
  columns.q_unit = "degrees";
  EXPECT_NE(refusal<DataError>([&] { filled(columns); }).find("q of the table has the unit 'degrees'"),
            std::string::npos);
  columns.q_unit = "";
  EXPECT_NE(refusal<DataError>([&] { filled(columns); }).find("q of the table has no unit"), std::string::npos);
  columns = some_columns();
  columns.intensity.conservativeResize(2);
  EXPECT_NE(refusal<DataError>([&] { filled(columns); }).find("the intensity of the table has 2 values where q has 3"),
            std::string::npos);
  columns = some_columns();
  columns.q.setZero();
  EXPECT_NE(refusal<DataError>([&] { filled(columns); }).find("no usable point among 3"), std::string::npos);
}

TEST(Columns, ASlitOfNoSizeIsAPinhole) {
  Columns columns = some_columns();
  columns.slit_length = vector({0, 0, 0});
  columns.slit_width = vector({0, 0, 0});
  NamedCurve out = filled(columns);
  EXPECT_FALSE(out.curve.has_slit());
  EXPECT_TRUE(out.info.notes.empty());
  columns.slit_width = vector({0.001, 0.001, 0.002});
  out = filled(columns);
  EXPECT_FALSE(out.curve.has_slit());
  EXPECT_TRUE(out.curve.q_resolution_per_nm.isApprox(vector({0.01, 0.01, 0.02})));
  columns.slit_length = vector({0.1, 0.1, 0.2});
  columns.slit_width.reset();
  out = filled(columns);
  EXPECT_TRUE(out.curve.slit_length_per_nm.isApprox(vector({1, 1, 2})));
  EXPECT_TRUE(out.curve.slit_width_per_nm.isZero(0));
  EXPECT_TRUE(noted(out, "no width (dQw)"));
  columns.slit_length = vector({0.1, 0.1});
  EXPECT_NE(refusal<DataError>([&] { filled(columns); }).find("the slit length (dQl) of the table has 2 values"),
            std::string::npos);
}

TEST(Columns, PointsOfEqualQKeepTheirSlit) {
  Columns columns = some_columns();
  columns.q = vector({0.01, 0.01, 0.03});
  columns.slit_length = vector({0.1, 0.1, 0.2});
  columns.slit_width = vector({0.01, 0.01, 0.02});
  const NamedCurve out = filled(columns);
  EXPECT_TRUE(out.curve.slit_length_per_nm.isApprox(vector({1, 2})));
  EXPECT_TRUE(out.curve.slit_width_per_nm.isApprox(vector({0.1, 0.2})));
}

}  // namespace
}  // namespace sievelight
