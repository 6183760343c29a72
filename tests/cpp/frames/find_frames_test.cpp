// SPDX-License-Identifier: GPL-3.0-or-later
#include "sievelight/frames/find_frames.hpp"

#include "frames/some_frames.hpp"
#include "sievelight/base/error.hpp"
#include "support/scratch.hpp"

#include <gtest/gtest.h>

namespace sievelight {
namespace {

class FindFrames : public testing::Test {
 protected:
  std::unique_lock<std::recursive_mutex> lock = hdf5_lock();
  Scratch scratch;
  H5Handle file = h5_create(scratch / "f.h5");
  std::string found(const std::string& asked = "") { return find_frames(file.get(), "f.h5", asked); }
  std::string refused() {
    return refusal<DataError>([&] { found(); });
  }
  void add(const std::string& path, std::vector<hsize_t> shape) {
    std::size_t n = 1;
    for (const hsize_t extent : shape) n *= extent;
    write_numbers(file.get(), path, shape, ramp(n), {H5T_STD_I32LE, {}, false, 0});
  }
};

TEST_F(FindFrames, TakesTheDataOfTheDetector) {
  h5_make_group(file.get(), "entry", "NXentry");
  h5_make_group(file.get(), "entry/instrument", "NXinstrument");
  h5_make_group(file.get(), "entry/instrument/detector", "NXdetector");
  add("/entry/instrument/detector/data", {2, 3, 4});
  add("/entry/instrument/detector/blank", {3, 4});
  add("/entry/other", {5, 6});
  EXPECT_EQ(found(), "/entry/instrument/detector/data");
  EXPECT_EQ(found("entry/other"), "/entry/other");
}

TEST_F(FindFrames, TakesTheSignalNewAndOld) {
  h5_make_group(file.get(), "entry", "NXentry");
  const H5Handle data = h5_make_group(file.get(), "entry/data", "NXdata");
  add("/entry/data/frames", {3, 4});
  add("/entry/data/sum", {3, 4});
  EXPECT_NE(
      refused().find("several data sets that could be the detector's: /entry/data/frames (3 x 4), /entry/data/sum"),
      std::string::npos)
      << refused();
  {
    const H5Handle set = h5_dataset(data.get(), "sum");
    h5_write_attribute(set.get(), "signal", 1);
  }
  EXPECT_EQ(found(), "/entry/data/sum");
}

TEST_F(FindFrames, TakesTheNamedSignal) {
  h5_make_group(file.get(), "entry", "NXentry");
  const H5Handle data = h5_make_group(file.get(), "entry/data", "NXdata");
  h5_write_attribute(data.get(), "signal", std::string("frames"));
  add("/entry/data/frames", {3, 4});
  add("/entry/data/sum", {3, 4});
  EXPECT_EQ(found(), "/entry/data/frames");
}

TEST_F(FindFrames, TakesTheOnlyArrayAndCountsLinksOnce) {
  add("/x", {3, 4});
  add("/q", {7});
  H5Lcreate_hard(file.get(), "/x", file.get(), "/y", H5P_DEFAULT, H5P_DEFAULT);
  EXPECT_EQ(found(), "/x");
}

TEST_F(FindFrames, PrefersTheDefaultEntryAmongSeveral) {
  for (const std::string entry : {"first", "second"}) {
    h5_make_group(file.get(), entry, "NXentry");
    h5_make_group(file.get(), entry + "/detector", "NXdetector");
    add("/" + entry + "/detector/data", {3, 4});
  }
  EXPECT_NE(refused().find("/first/detector/data (3 x 4), /second/detector/data (3 x 4)"), std::string::npos);
  const H5Handle root(H5Gopen2(file.get(), "/", H5P_DEFAULT), H5Gclose);
  h5_write_attribute(root.get(), "default", std::string("second"));
  EXPECT_EQ(found(), "/second/detector/data");
}

TEST_F(FindFrames, SaysWhatItLookedForAndWhatThereIs) {
  add("/q", {7});
  const std::string words = refused();
  EXPECT_NE(words.find("'f.h5' holds no detector frame"), std::string::npos);
  EXPECT_NE(words.find("Its arrays: /q (7)."), std::string::npos);
}

TEST_F(FindFrames, RecognisesAFileOfCurves) {
  const H5Handle data = h5_make_group(file.get(), "sasdata", "NXdata");
  h5_write_attribute(data.get(), "canSAS_class", std::string("SASdata"));
  add("/sasdata/I", {7});
  EXPECT_NE(refused().find("holds reduced curves (NXcanSAS), not detector frames"), std::string::npos);
}

}  // namespace
}  // namespace sievelight
