// SPDX-License-Identifier: GPL-3.0-or-later
#include "sievelight/frames/npy_header.hpp"

#include "sievelight/base/error.hpp"
#include "support/refusal.hpp"
#include "support/scratch.hpp"

#include <gtest/gtest.h>

namespace sievelight {
namespace {

// The layout of NumPy Enhancement Proposal 1; files that NumPy itself wrote are read in
// tests/reference/test_image_files.py.
std::string npy(const std::string& header, std::size_t data_bytes, char version = 1) {
  std::string out = std::string("\x93NUMPY") + version + '\0';
  const auto n = static_cast<unsigned>(header.size());
  for (int i = 0; i < (version == 1 ? 2 : 4); ++i) out += static_cast<char>(n >> (8 * i));
  return out + header + std::string(data_bytes, '\1');
}

class NpyHeaders : public testing::Test {
 protected:
  NpyHeader read(const std::string& bytes) {
    write_bytes(scratch_ / "x.npy", bytes);
    return read_npy_header(scratch_ / "x.npy");
  }
  std::string words(const std::string& bytes) {
    return refusal<DataError>([&] { read(bytes); });
  }
  const Scratch scratch_;
};

TEST_F(NpyHeaders, AreReadInEveryVersion) {
  for (const char version : {'\1', '\2', '\3'}) {
    const NpyHeader header = read(npy("{'descr': '<i4', 'fortran_order': False, 'shape': (3, 4), }  \n", 48, version));
    EXPECT_EQ(header.type.name, "int32");
    EXPECT_FALSE(header.type.swapped);
    EXPECT_FALSE(header.fortran);
    EXPECT_EQ(header.shape, (std::vector<std::uint64_t>{3, 4}));
  }
  const NpyHeader other = read(npy("{\"shape\": (5,), \"fortran_order\": True, \"descr\": \">f8\"}", 40));
  EXPECT_TRUE(other.type.swapped);
  EXPECT_TRUE(other.fortran);
  EXPECT_EQ(other.type.name, "float64");
  EXPECT_TRUE(read(npy("{'descr': '|b1', 'fortran_order': False, 'shape': (), }", 1)).truth);
}

TEST_F(NpyHeaders, OfOtherThanPlainNumbersAreRefusedUnread) {
  EXPECT_NE(words(npy("{'descr': '|O', 'fortran_order': False, 'shape': (1,), }", 8)).find("never loaded"),
            std::string::npos);
  EXPECT_NE(words(npy("{'descr': [('a', '<i4')], 'fortran_order': False, 'shape': (1,), }", 4)).find("records"),
            std::string::npos);
  for (const std::string type : {"<c16", "<U4", "<f2", "<M8[s]", "i4", "<i3", "<i44"})
    EXPECT_NE(
        words(npy("{'descr': '" + type + "', 'fortran_order': False, 'shape': (1,), }", 8)).find("the type '" + type),
        std::string::npos)
        << type;
}

TEST_F(NpyHeaders, ThatAreBrokenAreRefused) {
  for (const std::string header :
       {"", "{}", "{'descr': '<i4', 'fortran_order': False}", "{'descr': '<i4', 'fortran_order': 0, 'shape': (1,)}",
        "{'descr': '<i4', 'fortran_order': False, 'shape': (-1,)}",
        "{'descr': '<i4', 'fortran_order': False, 'shape': (1,",
        "{'descr': '<i4', 'fortran_order': False, 'shape': (1,)} import os", "{'descr': '<i4, 'shape': (1,)}",
        "{'descr': '<i4', 'descr': '<i4', 'fortran_order': False, 'shape': (1,)}",
        "{'descr': '<i4', 'fortran_order': False, 'shape': (99999999999999999999,)}"})
    EXPECT_NE(words(npy(header, 4)).find("no valid NPY header"), std::string::npos) << header;
  EXPECT_NE(words("\x93NUMPY").find("no valid NPY header"), std::string::npos);
  EXPECT_NE(words(npy("{'descr': '<i4', 'fortran_order': False, 'shape': (1,)}", 4, 4)).find("no valid NPY header"),
            std::string::npos);
}

TEST_F(NpyHeaders, ThatDoNotFitTheFilesLengthAreRefused) {
  EXPECT_NE(
      words(npy("{'descr': '<i4', 'fortran_order': False, 'shape': (3, 4), }", 47)).find("is truncated: 3 x 4 int32"),
      std::string::npos);
  EXPECT_NE(words(npy("{'descr': '<i4', 'fortran_order': False, 'shape': (3, 4), }", 49)).find("no NPY file of one"),
            std::string::npos);
  // A product that overflows 64 bits must not come round to the file's length.
  EXPECT_NE(words(npy("{'descr': '<i8', 'fortran_order': False, 'shape': (4294967295, 4294967295, 4294967295), }", 8))
                .find("truncated"),
            std::string::npos);
}

}  // namespace
}  // namespace sievelight
