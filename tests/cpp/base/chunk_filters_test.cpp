// SPDX-License-Identifier: GPL-3.0-or-later
#include "sievelight/base/chunk_filters.hpp"

#include "frames/some_frames.hpp"
#include "sievelight/base/error.hpp"
#include "support/scratch.hpp"

#include <gtest/gtest.h>

#include <cstring>

namespace sievelight {
namespace {

// HDF5 itself writes the chunk and tells the filters; decoding must give back what was written.
TEST(ChunkFilters, UndoWhatHdf5Did) {
  const Scratch scratch;
  const auto lock = hdf5_lock();
  const H5Handle file = h5_create(scratch / "chunks.h5");
  const std::vector<double> values = ramp(35 * 11, 83);
  for (const bool shuffle : {false, true})
    for (const int gzip : {0, 6}) {
      const std::string name = std::string(shuffle ? "s" : "-") + (gzip ? "z" : "-");
      write_numbers(file.get(), name, {35, 11}, values, {H5T_STD_I32LE, {35, 11}, shuffle, gzip});
      const H5Handle set = h5_dataset(file.get(), name);
      const H5Handle properties(H5Dget_create_plist(set.get()), H5Pclose);
      const auto filters = read_filters(properties.get());
      EXPECT_EQ(describe(filters), shuffle ? (gzip ? "shuffle+gzip" : "shuffle") : (gzip ? "gzip" : "none"));
      EXPECT_TRUE(can_decode(filters));
      H5Dflush(set.get());
      const hsize_t origin[2] = {0, 0};
      hsize_t size = 0;
      H5Dget_chunk_storage_size(set.get(), origin, &size);
      std::vector<unsigned char> raw(size), out(35 * 11 * 4);
      std::uint32_t skipped = 0;
      H5Dread_chunk(set.get(), H5P_DEFAULT, origin, &skipped, raw.data());
      std::vector<unsigned char> broken = raw;
      decode_chunk(filters, skipped, raw, 4, out);
      for (std::size_t i = 0; i < values.size(); ++i) {
        std::int32_t number;
        std::memcpy(&number, out.data() + 4 * i, 4);
        ASSERT_EQ(number, values[i]) << name << ' ' << i;
      }
      broken.resize(broken.size() - 1);
      EXPECT_THROW(decode_chunk(filters, 0, broken, 4, out), DataError) << name;
    }
}

TEST(ChunkFilters, AFilterThatWasSkippedIsNotUndone) {
  std::vector<unsigned char> raw{1, 2, 3, 4}, out(4);
  decode_chunk({{H5Z_FILTER_SHUFFLE, "", {}}, {H5Z_FILTER_DEFLATE, "", {}}}, 3, raw, 4, out);
  EXPECT_EQ(out, (std::vector<unsigned char>{1, 2, 3, 4}));
}

TEST(ChunkFilters, KnowWhichTheyCanUndo) {
  const ChunkFilter shuffle{H5Z_FILTER_SHUFFLE, "shuffle", {}}, gzip{H5Z_FILTER_DEFLATE, "deflate", {4}};
  const ChunkFilter bits{32008, "bitshuffle", {0, 4, 4, 0, 0}}, lz4{32008, "bitshuffle", {0, 4, 4, 0, 2}};
  const ChunkFilter zstd{32008, "bitshuffle", {0, 4, 4, 0, 3}}, other{32013, "zfp", {}};
  EXPECT_TRUE(can_decode({}));
  EXPECT_TRUE(can_decode({lz4}));
  EXPECT_TRUE(can_decode({bits, gzip}));
  EXPECT_FALSE(can_decode({gzip, shuffle}));  // the size in between would not be known
  EXPECT_FALSE(can_decode({zstd}));
  EXPECT_FALSE(can_decode({shuffle, other}));
  EXPECT_EQ(describe({lz4}), "bitshuffle-lz4");
  EXPECT_EQ(describe({bits}), "bitshuffle");
  EXPECT_EQ(describe({zstd}), "bitshuffle-zstd");
  EXPECT_EQ(describe({shuffle, other}), "shuffle+zfp");
}

}  // namespace
}  // namespace sievelight
