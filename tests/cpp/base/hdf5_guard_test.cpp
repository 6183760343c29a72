// SPDX-License-Identifier: GPL-3.0-or-later
#include "sievelight/base/hdf5_guard.hpp"

#include "frames/some_frames.hpp"
#include "sievelight/base/error.hpp"
#include "support/scratch.hpp"

#include <gtest/gtest.h>
#include <zlib.h>

#include <cstdlib>

namespace sievelight {
namespace {

class Guard : public testing::Test {
 protected:
  // A chunked data set of which one chunk is written as these bytes, whatever they are.
  std::string chunk_of(const std::vector<hsize_t>& shape, const std::vector<hsize_t>& chunk, const std::string& raw,
                       H5Z_filter_t filter = 0, unsigned skipped = 0, hid_t type = H5T_STD_I32LE) {
    const H5Handle properties(H5Pcreate(H5P_DATASET_CREATE), H5Pclose);
    H5Pset_chunk(properties.get(), static_cast<int>(chunk.size()), chunk.data());
    const unsigned level = 4;
    if (filter) H5Pset_filter(properties.get(), filter, H5Z_FLAG_OPTIONAL, 1, &level);
    const H5Handle space(H5Screate_simple(static_cast<int>(shape.size()), shape.data(), nullptr), H5Sclose);
    H5Handle set(H5Dcreate2(file.get(), "x", type, space.get(), H5P_DEFAULT, properties.get(), H5P_DEFAULT), H5Dclose);
    const std::vector<hsize_t> origin(shape.size(), 0);
    if (!raw.empty()) H5Dwrite_chunk(set.get(), H5P_DEFAULT, skipped, origin.data(), raw.size(), raw.data());
    set = H5Handle();
    H5Fflush(file.get(), H5F_SCOPE_GLOBAL);
    std::string words;
    try {
      const auto values = h5_numbers(file.get(), "x");
      words = values ? std::to_string(values->size()) + " numbers" : h5_text(file.get(), "x").value_or("nothing");
    } catch (const DataError& error) {
      words = error.what();
    }
    H5Ldelete(file.get(), "x", H5P_DEFAULT);
    return words;
  }
  static std::string gzip(const std::string& plain) {
    std::string out(compressBound(plain.size()), '\0');
    uLongf size = out.size();
    compress(reinterpret_cast<Bytef*>(out.data()), &size, reinterpret_cast<const Bytef*>(plain.data()), plain.size());
    out.resize(size);
    return out;
  }
  static bool says(const std::string& words, const char* part) { return words.find(part) != std::string::npos; }

  std::unique_lock<std::recursive_mutex> lock = hdf5_lock();
  Scratch scratch;
  H5Handle file = h5_create(scratch / "x.h5");
};

TEST_F(Guard, LetsSoundChunksThrough) {
  EXPECT_EQ(chunk_of({10}, {8}, std::string(32, '\0')), "10 numbers");
  EXPECT_EQ(chunk_of({10}, {8}, gzip(std::string(32, '\0')), H5Z_FILTER_DEFLATE), "10 numbers");
  EXPECT_EQ(chunk_of({10}, {8}, std::string(32, '\0'), H5Z_FILTER_DEFLATE, 1), "10 numbers");
  EXPECT_EQ(chunk_of({600}, {8}, std::string(32, '\0')), "600 numbers");  // the others were never written: zeros
}

// HDF5 1.10 copies as many bytes out of a chunk as its shape says, past the end of a shorter one.
TEST_F(Guard, RefusesChunksOfAnotherSize) {
  EXPECT_TRUE(says(chunk_of({10}, {8}, std::string(5, '\0')), "the chunk holds 5 bytes where 32 belong"));
  EXPECT_TRUE(says(chunk_of({10}, {8}, std::string(4000, '\0')), "the chunk holds 4000 bytes where 32 belong"));
  const H5Handle letters(H5Tcopy(H5T_C_S1), H5Tclose);
  H5Tset_size(letters.get(), 40);
  EXPECT_TRUE(says(chunk_of({6}, {4}, std::string(7, 'a'), 0, 0, letters.get()), "the chunk holds 7 bytes"));
  EXPECT_TRUE(says(chunk_of({10}, {8}, gzip("short"), H5Z_FILTER_DEFLATE), "gzip data of the chunk are broken"));
  EXPECT_TRUE(says(chunk_of({10}, {8}, gzip(std::string(33, '\0')), H5Z_FILTER_DEFLATE), "gzip data"));
  EXPECT_TRUE(says(chunk_of({10}, {8}, "no gzip at all", H5Z_FILTER_DEFLATE), "gzip data of the chunk are broken"));
  EXPECT_TRUE(says(chunk_of({10}, {8}, "short", H5Z_FILTER_DEFLATE, 1), "the chunk holds 5 bytes"));
}

// A kilobyte must not ask for a gigabyte.
TEST_F(Guard, RefusesShapesThatTheStoredBytesCannotHold) {
  EXPECT_TRUE(says(chunk_of({1 << 25}, {1 << 25}, gzip(std::string(100, '\0')), H5Z_FILTER_DEFLATE),
                   "claims 134217728 bytes of numbers"));
  EXPECT_TRUE(says(chunk_of({1 << 25}, {1 << 25}, ""), "and 0 are stored for them"));
  EXPECT_TRUE(says(chunk_of({1 << 20}, {1}, std::string(4, '\0')), "stored for them"));
  EXPECT_TRUE(says(chunk_of({1 << 17}, {1}, std::string(4, '\0'), 0, 0, H5T_STD_I8LE), "more than 65536 chunks"));
}

TEST_F(Guard, NeverLoadsAPluginUnlessThatIsAllowed) {
  const std::string words = chunk_of({10}, {8}, std::string(32, '\0'), 32001);
  EXPECT_TRUE(says(words, "compressed with blosc (HDF5 filter 32001), which is not known here")) << words;
  EXPECT_TRUE(says(words, "SIEVELIGHT_HDF5_PLUGINS"));
  EXPECT_FALSE(may_use_filter(32001));
  ::setenv("SIEVELIGHT_HDF5_PLUGINS", "allow", 1);
  EXPECT_TRUE(may_use_filter(32001));
  ::unsetenv("SIEVELIGHT_HDF5_PLUGINS");
  EXPECT_TRUE(may_use_filter(H5Z_FILTER_DEFLATE));
  // HDF5's own, whose chunks cannot be checked here: an n-bit chunk of 18 bytes was read past its end.
  for (const H5Z_filter_t id : {H5Z_FILTER_SZIP, H5Z_FILTER_NBIT, H5Z_FILTER_SCALEOFFSET})
    EXPECT_FALSE(may_use_filter(id));
  EXPECT_TRUE(says(chunk_of({21}, {6}, std::string(18, '\0'), H5Z_FILTER_NBIT), "which is not known here"));
}

TEST_F(Guard, BelievesTwoThousandToOne) {
  EXPECT_GT(most_decoded(0), 1u << 19);
  EXPECT_LT(most_decoded(1024), std::uint64_t{4} << 20);
  EXPECT_GT(most_decoded(1 << 20), std::uint64_t{1032} << 20);
  EXPECT_GT(most_decoded(~std::uint64_t{0}), std::uint64_t{1} << 40);  // no overflow
}

}  // namespace
}  // namespace sievelight
