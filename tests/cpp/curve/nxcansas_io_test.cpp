// SPDX-License-Identifier: GPL-3.0-or-later
#include "sievelight/curve/nxcansas_io.hpp"

#include "curve/some_curves.hpp"
#include "sievelight/base/error.hpp"
#include "sievelight/base/hdf5.hpp"
#include "sievelight/curve/arithmetic.hpp"
#include "support/refusal.hpp"
#include "support/scratch.hpp"

#include <gtest/gtest.h>

#include <chrono>
#include <thread>

namespace sievelight {
namespace {

CurveInfo some_info() {
  CurveInfo info;
  info.title = "Mesoporous silica, größer";
  info.run = "run 7";
  info.sample_name = "Z41-b";
  info.thickness_mm = 0.1 + 0.2;
  info.transmission = 0.417;
  info.instrument.wavelength_nm = 0.154187;
  info.instrument.distance_mm = 612.3;
  info.steps = {{"dark", "dark current taken off", {{"dark file", "dark.h5"}, {"exposure", "30 s"}}},
                {"scale", "", {}}};
  info.notes = {"the blank was scaled by 1.01"};
  return info;
}

Curve absolute_curve() { return scale(some_curve(), {1.7, {{absolute_scale_id, 1.7 * 0.0258}}}); }

void expect_same(const Curve& a, const Curve& b) {
  EXPECT_EQ(a.q_per_nm, b.q_per_nm);
  EXPECT_EQ(a.intensity, b.intensity);
  EXPECT_EQ(a.private_u, b.private_u);
  EXPECT_EQ(a.q_low_per_nm, b.q_low_per_nm);
  EXPECT_EQ(a.q_high_per_nm, b.q_high_per_nm);
  EXPECT_EQ(a.q_resolution_per_nm, b.q_resolution_per_nm);
  EXPECT_EQ(a.slit_length_per_nm, b.slit_length_per_nm);
  EXPECT_EQ(a.slit_width_per_nm, b.slit_width_per_nm);
  EXPECT_EQ(a.unit, b.unit);
  ASSERT_EQ(a.causes.size(), b.causes.size());
  for (const auto& [id, cause] : a.causes) {
    ASSERT_TRUE(b.causes.contains(id)) << id;
    EXPECT_EQ(b.causes.at(id).kind, cause.kind) << id;
    EXPECT_EQ(b.causes.at(id).u, cause.u) << id;
  }
}

// Bit for bit: a study that reads its own curves again must come out the same.
TEST(NxcansasWrite, ComesBackToTheLastBit) {
  const Scratch scratch;
  for (const IntensityUnit unit : {IntensityUnit::per_cm, IntensityUnit::cm2_per_g, IntensityUnit::relative}) {
    Curve curve = absolute_curve();
    curve.unit = unit;
    write_nxcansas(scratch / "curve.h5", curve, some_info());
    const auto found = read_nxcansas(scratch / "curve.h5");
    ASSERT_EQ(found.size(), 1u);
    expect_same(found[0].curve, curve);
    EXPECT_TRUE(found[0].has_uncertainty);
    const CurveInfo &info = found[0].info, wanted = some_info();
    EXPECT_EQ(info.title, wanted.title);
    EXPECT_EQ(info.run, wanted.run);
    EXPECT_EQ(info.sample_name, wanted.sample_name);
    EXPECT_EQ(info.thickness_mm, wanted.thickness_mm);
    EXPECT_EQ(info.transmission, wanted.transmission);
    EXPECT_EQ(info.instrument.wavelength_nm, wanted.instrument.wavelength_nm);
    EXPECT_EQ(info.instrument.distance_mm, wanted.instrument.distance_mm);
    EXPECT_EQ(info.notes, wanted.notes);
    ASSERT_EQ(info.steps.size(), 2u);
    EXPECT_EQ(info.steps[0].name, "dark");
    EXPECT_EQ(info.steps[0].description, wanted.steps[0].description);
    EXPECT_EQ(info.steps[0].terms, wanted.steps[0].terms);
  }
}

TEST(NxcansasWrite, ComesBackWithoutTheOptionalParts) {
  const Scratch scratch;
  Curve curve;
  curve.q_per_nm = Eigen::VectorXd::LinSpaced(4, 0.1, 1);
  curve.intensity = Eigen::VectorXd::LinSpaced(4, 1, -0.1);  // a subtracted curve may be negative
  curve.private_u = Eigen::VectorXd::Constant(4, 0.01);
  write_nxcansas(scratch / "curve.h5", curve, {});
  expect_same(read_nxcansas(scratch / "curve.h5")[0].curve, curve);
}

// Source: NXcanSAS 1.1, Q/@resolutions: a string array for a slit, dQw before dQl.
TEST(NxcansasWrite, KeepsASlit) {
  const Scratch scratch;
  Curve curve = absolute_curve();
  curve.slit_length_per_nm = Eigen::VectorXd::LinSpaced(7, 0.3, 0.31);
  curve.slit_width_per_nm = Eigen::VectorXd::Constant(7, 0.004);
  for (const bool blur : {true, false}) {
    if (!blur) curve.q_resolution_per_nm.resize(0);
    write_nxcansas(scratch / "curve.h5", curve, {});
    const auto found = read_nxcansas(scratch / "curve.h5");
    expect_same(found[0].curve, curve);
    ASSERT_EQ(found[0].info.notes.size(), 1u);
    EXPECT_NE(found[0].info.notes[0].find("smeared by a slit"), std::string::npos);
    const auto lock = hdf5_lock();
    const H5Handle file = h5_open(scratch / "curve.h5");
    auto named = h5_attribute_list(h5_dataset(file.get(), "/entry/data/Q").get(), "resolutions");
    EXPECT_EQ(named, (blur ? std::vector<std::string>{"dQw", "dQl", "Qdev"} : std::vector<std::string>{"dQw", "dQl"}));
  }
}

TEST(NxcansasWrite, KeepsSeveralCurvesInSeveralEntries) {
  const Scratch scratch;
  CurveInfo second;
  second.title = "other";
  std::vector<NamedCurve> curves{{"a/long", absolute_curve(), some_info()},
                                 {"a/short", some_curve(), some_info()},
                                 {"b 1/data", another_curve(), second}};
  write_nxcansas(scratch / "curves.h5", curves);
  const auto found = read_nxcansas(scratch / "curves.h5");
  ASSERT_EQ(found.size(), 3u);
  EXPECT_EQ(found[0].name, "a/long");
  EXPECT_EQ(found[1].name, "a/short");
  EXPECT_EQ(found[2].name, "b_1/data");  // NeXus names hold no blanks
  for (std::size_t i = 0; i < 3; ++i) expect_same(found[i].curve, curves[i].curve);
  EXPECT_EQ(found[1].info.title, some_info().title);
  EXPECT_EQ(found[2].info.title, "other");
  const auto words = [&] { return refusal<InputError>([&] { write_nxcansas(scratch / "curves.h5", curves); }); };
  curves[1].name = "a/long";
  EXPECT_NE(words().find("two curves would be written to 'a/long'"), std::string::npos);
  curves[1].name = "c";
  curves[2].name = "a/other";
  EXPECT_NE(words().find("entry 'a' do not stand next to each other"), std::string::npos);
  EXPECT_THROW(write_nxcansas(scratch / "curves.h5", std::vector<NamedCurve>{}), InputError);
}

TEST(NxcansasWrite, GivesTheSameBytesAgain) {
  const Scratch scratch;
  write_nxcansas(scratch / "a.h5", absolute_curve(), some_info());
  std::this_thread::sleep_for(std::chrono::milliseconds(1100));
  write_nxcansas(scratch / "b.h5", absolute_curve(), some_info());
  EXPECT_EQ(read_bytes(scratch / "a.h5"), read_bytes(scratch / "b.h5"));
}

// Idev must hold what is independent from point to point and nothing of the scale, or a later fit takes one common
// error for noise.
TEST(NxcansasWrite, KeepsTheScaleOutOfIdev) {
  const Scratch scratch;
  const Curve curve = absolute_curve();
  write_nxcansas(scratch / "curve.h5", curve, {});
  const auto lock = hdf5_lock();
  const H5Handle file = h5_open(scratch / "curve.h5");
  EXPECT_EQ(*h5_numbers(file.get(), "/entry/data/Idev"), pointwise_u(curve));
  EXPECT_EQ((*h5_numbers(file.get(), "/entry/data/scaling_factor"))[0], 1.0);
  EXPECT_NEAR((*h5_numbers(file.get(), "/entry/data/scaling_factor_uncertainty"))[0], 0.0258, 1e-12);
}

TEST(NxcansasWrite, NamesNoScaleUncertaintyThatIsNotOneFactor) {
  const Scratch scratch;
  Curve curve = absolute_curve();
  curve.causes[absolute_scale_id].u[2] *= 1.1;
  write_nxcansas(scratch / "curve.h5", curve, {});
  const auto lock = hdf5_lock();
  const H5Handle file = h5_open(scratch / "curve.h5");
  EXPECT_FALSE(h5_exists(file.get(), "/entry/data/scaling_factor"));
  expect_same(read_nxcansas(scratch / "curve.h5")[0].curve, curve);
}

TEST(NxcansasWrite, LeavesIdevAwayWhenNobodyKnowsIt) {
  const Scratch scratch;
  Curve curve = some_curve();
  curve.private_u.setZero();
  curve.causes.clear();
  write_nxcansas(scratch / "curve.h5", curve, {});
  EXPECT_FALSE(read_nxcansas(scratch / "curve.h5")[0].has_uncertainty);
}

TEST(NxcansasWrite, RefusesABadCurveAndABadPlace) {
  const Scratch scratch;
  Curve bad = some_curve();
  bad.intensity[0] = std::nan("");
  EXPECT_THROW(write_nxcansas(scratch / "curve.h5", bad, {}), InputError);
  CurveInfo info;
  info.instrument.probe = "light";
  EXPECT_NE(refusal<InputError>([&] {
              write_nxcansas(scratch / "curve.h5", some_curve(), info);
            }).find("'light' is not a probe that NeXus lists"),
            std::string::npos);
  EXPECT_NE(refusal<DataError>([&] {
              write_nxcansas(scratch / "no folder/curve.h5", some_curve(), {});
            }).find("cannot be written"),
            std::string::npos);
}

}  // namespace
}  // namespace sievelight
