// SPDX-License-Identifier: GPL-3.0-or-later
#include "sievelight/distribution/distribution_io.hpp"

#include "sievelight/base/error.hpp"
#include "sievelight/base/hdf5.hpp"
#include "sievelight/distribution/invert.hpp"

#include <gtest/gtest.h>

#include <filesystem>

#include "distribution/synthetic.hpp"

namespace sievelight {
namespace {

SizeDistribution sample() {
  InvertOptions options;
  options.draws = 400;
  options.contrast_per_cm2 = synthetic::contrast_per_cm2;
  return invert(synthetic::noisy(synthetic::ideal(synthetic::log_normal(14, 0.2), {.bins = 60}), 1), options);
}

// NeXus: a viewer follows `default` from the root to an NXdata and plots `signal` against `axes` (NXdata definition).
TEST(DistributionFile, OpensOnTheDensityWithItsBands) {
  const auto path = (std::filesystem::temp_directory_path() / "sievelight-distribution-test.h5").string();
  const SizeDistribution d = sample();
  write_distribution(path, d, {"a sample"});
  {
    const auto lock = hdf5_lock();
    const H5Handle file = h5_open(path);
    const std::string entry = *h5_attribute(file.get(), "default");
    const H5Handle group = h5_group(file.get(), entry);
    EXPECT_EQ(h5_attribute(group.get(), "NX_class"), "NXentry");
    EXPECT_EQ(h5_text(group.get(), "title"), "a sample");
    const H5Handle data = h5_group(group.get(), *h5_attribute(group.get(), "default"));
    EXPECT_EQ(h5_attribute(data.get(), "NX_class"), "NXdata");
    EXPECT_EQ(h5_attribute(data.get(), "signal"), "q3_per_nm");
    EXPECT_EQ(h5_attribute(data.get(), "axes"), "diameter_nm");
    for (const auto& name : h5_attribute_list(data.get(), "auxiliary_signals"))
      EXPECT_EQ(h5_numbers(data.get(), name)->size(), d.diameter_nm.size()) << name;
    EXPECT_EQ(*h5_numbers(data.get(), "q3_per_nm"), d.q3_per_nm);
    EXPECT_EQ(h5_attribute(h5_dataset(data.get(), "q3_per_nm").get(), "units"), "1/nm");
    EXPECT_EQ(*h5_numbers(group.get(), "fit/residual"), d.residual);
    EXPECT_DOUBLE_EQ((*h5_numbers(group.get(), "summary/x50_nm/low95"))[0], d.x50_nm.band95.low);
    EXPECT_EQ(h5_shape(h5_dataset(group.get(), "resolution/resolution_kernel").get()),
              (std::vector<hsize_t>(2, static_cast<hsize_t>(d.diameter_nm.size()))));
    EXPECT_DOUBLE_EQ((*h5_numbers(group.get(), "process/smoothing_ln_d"))[0], 0.1);
  }
  std::filesystem::remove(path);
}

TEST(DistributionFile, NamesAPathThatCannotBeWritten) {
  try {
    write_distribution("/nowhere/at/all.h5", SizeDistribution{}, {});
    FAIL() << "written";
  } catch (const DataError& e) {
    EXPECT_NE(std::string(e.what()).find("/nowhere/at/all.h5"), std::string::npos);
  }
}

}  // namespace
}  // namespace sievelight
