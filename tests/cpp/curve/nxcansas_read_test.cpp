// SPDX-License-Identifier: GPL-3.0-or-later
// Reading NXcanSAS files that others wrote; files of the canSAS working group are in tests/reference.
#include "curve/some_curves.hpp"
#include "sievelight/base/error.hpp"
#include "sievelight/base/hdf5.hpp"
#include "sievelight/curve/nxcansas_io.hpp"
#include "support/refusal.hpp"
#include "support/scratch.hpp"

#include <gtest/gtest.h>

namespace sievelight {
namespace {

using Eigen::VectorXd;

class NxcansasRead : public testing::Test {
 protected:
  // A file with one entry and one SASdata group, without the numbers.
  NxcansasRead() {
    for (const auto& [name, cansas] : {std::pair{"a", "SASentry"}, {"a/d", "SASdata"}}) {
      const H5Handle group = h5_make_group(file.get(), name, cansas == std::string("SASdata") ? "NXdata" : "NXentry");
      h5_write_attribute(group.get(), "canSAS_class", std::string(cansas));
    }
  }
  void write(const std::string& name, const VectorXd& values, const std::string& unit) {
    h5_write(file.get(), "/a/d/" + name, values, unit);
  }
  void mark(const std::string& name, const std::string& attribute, const std::string& value) {
    const H5Handle set = h5_dataset(file.get(), "/a/d/" + name);
    h5_write_attribute(set.get(), attribute, value);
  }
  std::vector<NamedCurve> read() {
    H5Fflush(file.get(), H5F_SCOPE_LOCAL);
    file = H5Handle();
    return read_nxcansas(scratch / "f.h5");
  }

  std::unique_lock<std::recursive_mutex> lock = hdf5_lock();
  Scratch scratch;
  H5Handle file = h5_create(scratch / "f.h5");
  VectorXd q = VectorXd::LinSpaced(5, 0.01, 0.05);
};

TEST_F(NxcansasRead, ConvertsUnitsAndTakesTheNamedUncertainties) {
  write("Q", q, "1/angstrom");
  write("I", 1000 * q, "1/m");
  write("errors", 10 * q, "1/m");
  mark("I", "uncertainties", "errors");
  write("Qdev", 0.1 * q, "1/angstrom");
  const auto curves = read();
  ASSERT_EQ(curves.size(), 1u);
  EXPECT_EQ(curves[0].name, "a/d");
  EXPECT_TRUE(curves[0].curve.q_per_nm.isApprox(10 * q));
  EXPECT_TRUE(curves[0].curve.intensity.isApprox(10 * q));
  EXPECT_TRUE(curves[0].curve.private_u.isApprox(0.1 * q));
  EXPECT_TRUE(curves[0].curve.q_resolution_per_nm.isApprox(q));
}

TEST_F(NxcansasRead, AppliesTheScalingFactorAndItsUncertainty) {
  write("Q", q, "1/nm");
  write("I", q, "1/cm");
  write("Idev", 0.1 * q, "1/cm");
  mark("I", "scaling_factor", "k");
  h5_write(file.get(), "/a/d/k", 2.0);
  h5_write(file.get(), "/a/d/uk", 0.1);
  mark("k", "uncertainties", "uk");
  const Curve curve = read()[0].curve;
  EXPECT_TRUE(curve.intensity.isApprox(2 * q));
  EXPECT_TRUE(curve.private_u.isApprox(0.2 * q));
  ASSERT_TRUE(curve.causes.contains(absolute_scale_id));
  EXPECT_TRUE(curve.causes.at(absolute_scale_id).u.isApprox(0.1 * q));  // u(k) I
}

// Source: NXcanSAS 1.1, fields dQw and dQl: the slit's width along the scan and its length across it.
TEST_F(NxcansasRead, TakesASlit) {
  write("Q", q, "1/angstrom");
  write("I", q, "1/cm");
  write("dQl", VectorXd::Constant(5, 0.1), "1/angstrom");
  write("dQw", VectorXd::Constant(5, 1e-3), "1/angstrom");
  {
    const H5Handle set = h5_dataset(file.get(), "/a/d/Q");
    h5_write_attribute(set.get(), "resolutions", std::vector<std::string>{"dQw", "dQl"});
    h5_write_attribute(set.get(), "resolutions_description", std::string("Square"));
  }
  const auto curves = read();
  EXPECT_TRUE(curves[0].curve.slit_length_per_nm.isApproxToConstant(1.0));
  EXPECT_TRUE(curves[0].curve.slit_width_per_nm.isApproxToConstant(0.01));
  EXPECT_EQ(curves[0].curve.q_resolution_per_nm.size(), 0);
  std::string notes;
  for (const std::string& note : curves[0].info.notes) notes += note + "; ";
  EXPECT_NE(notes.find("described as 'Square'"), std::string::npos) << notes;
  EXPECT_NE(notes.find("smeared by a slit"), std::string::npos) << notes;
}

TEST_F(NxcansasRead, TakesAWidthWithoutALengthAsResolution) {
  write("Q", q, "1/nm");
  write("I", q, "1/cm");
  write("dQw", 0.1 * q, "1/nm");
  const auto curves = read();
  EXPECT_FALSE(curves[0].curve.has_slit());
  EXPECT_EQ(curves[0].curve.q_resolution_per_nm, 0.1 * q);
}

TEST_F(NxcansasRead, SaysWhatIsMissing) {
  write("Q", q, "1/nm");
  const std::string words = refusal<DataError>([&] { read(); });
  EXPECT_NE(words.find("'a/d' in '"), std::string::npos) << words;
  EXPECT_NE(words.find("has no I or no Q"), std::string::npos) << words;
}

TEST_F(NxcansasRead, CallsABrokenOwnFieldAFaultOfTheFile) {
  write("Q", q, "1/nm");
  write("I", q, "1/cm");
  write("Idev", q, "1/cm");
  write("Idev_private", -q, "1/cm");
  EXPECT_NE(refusal<DataError>([&] { read(); }).find("is broken: the uncertainty is -0.01"), std::string::npos);
}

TEST_F(NxcansasRead, RefusesTwoDimensionsByName) {
  h5_write(file.get(), "/a/d/Q", Eigen::MatrixXd(Eigen::MatrixXd::Ones(2, 3)), "1/nm");
  h5_write(file.get(), "/a/d/I", Eigen::MatrixXd(Eigen::MatrixXd::Ones(2, 3)), "1/cm");
  EXPECT_NE(refusal<DataError>([&] { read(); }).find("is not one-dimensional"), std::string::npos);
}

TEST_F(NxcansasRead, RefusesAFileWithoutCurves) {
  {
    const H5Handle other = h5_create(scratch / "other.h5");
    h5_make_group(other.get(), "entry", "NXentry");
  }
  EXPECT_NE(refusal<DataError>([&] { read_nxcansas(scratch / "other.h5"); }).find("no SASentry has a SASdata group"),
            std::string::npos);
}

}  // namespace
}  // namespace sievelight
