// SPDX-License-Identifier: GPL-3.0-or-later
#include "sievelight/frames/stored_type.hpp"

#include "frames/some_frames.hpp"
#include "sievelight/base/error.hpp"

#include <gtest/gtest.h>

#include <type_traits>

namespace sievelight {
namespace {

TEST(StoredType, KnowsIntegersAndFloatsInBothByteOrders) {
  const auto lock = hdf5_lock();
  const auto name = [](hid_t type) { return describe_type(type, "it").name; };
  EXPECT_EQ(name(H5T_STD_I8LE), "int8");
  EXPECT_EQ(name(H5T_STD_U16BE), "uint16");
  EXPECT_EQ(name(H5T_STD_I32LE), "int32");
  EXPECT_EQ(name(H5T_STD_U64BE), "uint64");
  EXPECT_EQ(name(H5T_IEEE_F32BE), "float32");
  EXPECT_EQ(name(H5T_IEEE_F64LE), "float64");
  EXPECT_NE(describe_type(H5T_STD_I32LE, "it").swapped, describe_type(H5T_STD_I32BE, "it").swapped);
  EXPECT_FALSE(describe_type(H5T_STD_U8BE, "it").swapped);  // one byte has no order
}

TEST(StoredType, LetsHdf5ConvertAnUnusualLayout) {
  const auto lock = hdf5_lock();
  const H5Handle type(H5Tcopy(H5T_STD_I32LE), H5Tclose);
  H5Tset_precision(type.get(), 24);
  const StoredType found = describe_type(type.get(), "it");
  EXPECT_EQ(found.name, "int32");
  EXPECT_FALSE(found.plain);
}

TEST(StoredType, RefusesWhatIsNoNumber) {
  const auto lock = hdf5_lock();
  EXPECT_NE(refusal<DataError>([] { describe_type(H5T_C_S1, "The data set '/x'"); }).find("The data set '/x' does not"),
            std::string::npos);
}

TEST(StoredType, HandsOutTheTypeBehindAKind) {
  EXPECT_EQ(with_number(NumberKind::u16, [](auto zero) { return sizeof(zero); }), 2u);
  EXPECT_TRUE(with_number(NumberKind::i8, [](auto zero) { return std::is_signed_v<decltype(zero)>; }));
  EXPECT_TRUE(with_number(NumberKind::f32, [](auto zero) { return std::is_same_v<decltype(zero), float>; }));
}

}  // namespace
}  // namespace sievelight
