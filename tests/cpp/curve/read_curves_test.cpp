// SPDX-License-Identifier: GPL-3.0-or-later
#include "sievelight/curve/read_curves.hpp"

#include "curve/some_curves.hpp"
#include "sievelight/base/error.hpp"
#include "support/refusal.hpp"
#include "support/scratch.hpp"

#include <gtest/gtest.h>

namespace sievelight {
namespace {

TEST(ReadCurves, GoesByTheContentAndNotByTheName) {
  const Scratch scratch;
  write_nxcansas(scratch / "curve.xml", some_curve(), {});
  EXPECT_EQ(read_curves(scratch / "curve.xml").at(0).curve.intensity, some_curve().intensity);
  write_bytes(scratch / "curve.h5",
              "\xef\xbb\xbf\n<SASroot><SASentry><SASdata><Idata><Q unit='1/nm'>1</Q><I unit='1/cm'>2</I></Idata>"
              "</SASdata></SASentry></SASroot>");
  EXPECT_EQ(read_curves(scratch / "curve.h5").at(0).curve.intensity[0], 2);
}

TEST(ReadCurves, RefusesOtherFiles) {
  const Scratch scratch;
  write_bytes(scratch / "curve.dat", "0.1 2 3\n");
  write_bytes(scratch / "empty.h5", "");
  for (const char* name : {"curve.dat", "empty.h5"})
    EXPECT_NE(refusal<DataError>([&] { read_curves(scratch / name); }).find("neither NXcanSAS (HDF5) nor canSAS XML"),
              std::string::npos);
  EXPECT_NE(refusal<DataError>([&] { read_curves(scratch / "none"); }).find("There is no file"), std::string::npos);
  write_nxcansas(scratch / "curve.h5", some_curve(), {});
  const std::string whole = read_bytes(scratch / "curve.h5");
  write_bytes(scratch / "half.h5", whole.substr(0, whole.size() / 2));
  EXPECT_NE(refusal<DataError>([&] { read_curves(scratch / "half.h5"); }).find("truncated or broken"),
            std::string::npos);
}

}  // namespace
}  // namespace sievelight
