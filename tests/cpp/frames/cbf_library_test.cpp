// SPDX-License-Identifier: GPL-3.0-or-later
#include "sievelight/frames/cbf_library.hpp"

#include "frames/cbf_writer.hpp"
#include "sievelight/base/error.hpp"
#include "sievelight/frames/frame_source.hpp"
#include "support/refusal.hpp"
#include "support/scratch.hpp"

#include <gtest/gtest.h>

#include <cstdlib>

namespace sievelight {
namespace {

// Source: RFC 1321, A.5: MD5("") = d41d8cd9 8f00b204 e9800998 ecf8427e, MD5("abc") = 90015098 3cd24fb0 d6963f7d
// 28e17f72.
TEST(CbfLibrary, KnowsThePublishedChecksums) {
  EXPECT_EQ(md5_base64({}), "1B2M2Y8AsgTpgAmY7PhCfg==");
  const unsigned char abc[] = {'a', 'b', 'c'};
  EXPECT_EQ(md5_base64(abc), "kAFQmDzST7DWlj99KOF/cg==");
}

TEST(CbfLibrary, IsUsedOnlyWhereItIsAllowed) {
  EXPECT_FALSE(may_use_cbf_library());
  ::setenv("SIEVELIGHT_CBF_LIBRARY", "yes", 1);
  EXPECT_FALSE(may_use_cbf_library());
  ::setenv("SIEVELIGHT_CBF_LIBRARY", "allow", 1);
  EXPECT_TRUE(may_use_cbf_library());
  ::unsetenv("SIEVELIGHT_CBF_LIBRARY");
}

TEST(CbfLibrary, DecodesAndTellsWhatItCannot) {
  const Scratch scratch;
  CbfWriter().image(std::vector<int>{1, 2, 3, 4, 5, 6}, 3, 2, CBF_PACKED).write(scratch / "x.cbf");
  std::vector<double> out(6);
  const StoredType type = plain_type(NumberKind::i32, false);
  to_doubles(type, decode_by_cbf_library(scratch / "x.cbf", 0, 6, type).data(), 6, out.data());
  EXPECT_EQ(out, (std::vector<double>{1, 2, 3, 4, 5, 6}));
  EXPECT_NE(refusal<DataError>([&] { decode_by_cbf_library(scratch / "x.cbf", 1, 6, type); }).find("0 of 6 numbers"),
            std::string::npos);
  EXPECT_NE(refusal<DataError>([&] { decode_by_cbf_library(scratch / "none", 0, 6, type); }).find("cannot be read"),
            std::string::npos);
}

}  // namespace
}  // namespace sievelight
