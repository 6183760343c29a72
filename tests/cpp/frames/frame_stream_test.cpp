// SPDX-License-Identifier: GPL-3.0-or-later
#include "sievelight/frames/frame_stream.hpp"

#include "frames/some_frames.hpp"
#include "sievelight/base/error.hpp"
#include "sievelight/frames/count_rules.hpp"
#include "support/scratch.hpp"

#include <gtest/gtest.h>

#include <cstring>
#include <limits>
#include <thread>

namespace sievelight {
namespace {

constexpr double never = std::numeric_limits<double>::infinity();
constexpr hsize_t count = 5, rows = 19, columns = 23;

// The numbers of an exposure as doubles, from the pieces in which they come; every pixel exactly once and in order.
std::vector<double> through_stream(const StoredStream& stream, Eigen::Index exposure, StoredStream::Buffers& buffers) {
  std::vector<double> out;
  stream.read(exposure, buffers, [&](const StoredRun& run) {
    EXPECT_EQ(run.first, static_cast<Eigen::Index>(out.size()));
    // Fewer bytes are the lower ones of a whole number.
    std::vector<unsigned char> wide(static_cast<std::size_t>(run.n) * stream.type().size, 0);
    for (std::size_t i = 0; i < static_cast<std::size_t>(run.n); ++i)
      std::memcpy(wide.data() + i * stream.type().size, run.numbers + i * run.width, run.width);
    const auto n = static_cast<std::size_t>(run.n);
    std::vector<double> counts(n, 0.0);
    const auto masked = std::make_unique<bool[]>(n);
    CountTally tally;
    add_counts(stream.type(), wide.data(), n, never, counts.data(), masked.get(), tally);
    out.insert(out.end(), counts.begin(), counts.end());
  });
  return out;
}

struct Stack {
  Scratch scratch;
  std::string path = scratch / "stack.h5";
  std::vector<double> values = ramp(count * rows * columns);
  std::vector<std::string> names;

  Stack() {
    const auto lock = hdf5_lock();
    const H5Handle file = h5_create(path);
    for (const Storage& layout : std::vector<Storage>{{H5T_STD_I32LE, {}, false, 0},
                                                      {H5T_STD_U16BE, {}, false, 0},
                                                      {H5T_STD_U32LE, {1, 19, 23}, false, 0},
                                                      {H5T_STD_I32BE, {1, 19, 23}, true, 4},
                                                      {H5T_STD_U16LE, {1, 4, 23}, false, 4},
                                                      {H5T_STD_U8LE, {2, 8, 8}, true, 1},
                                                      {H5T_IEEE_F32LE, {5, 19, 23}, false, 4},
                                                      {H5T_STD_I64BE, {3, 7, 23}, false, 0}}) {
      names.push_back("/x" + std::to_string(names.size()));
      write_numbers(file.get(), names.back(), {count, rows, columns}, values, layout);
    }
  }
  std::vector<double> expected(std::size_t exposure) const {
    const auto from = values.begin() + static_cast<std::ptrdiff_t>(exposure * rows * columns);
    return {from, from + static_cast<std::ptrdiff_t>(rows * columns)};
  }
};

TEST(FrameStream, HandsOutTheNumbersOfEveryLayout) {
  const Stack stack;
  for (const std::string& name : stack.names) {
    const auto stream = stream_hdf5(stack.path, name);
    StoredStream::Buffers buffers;
    for (const std::size_t exposure : {0u, 3u, 4u, 1u})
      EXPECT_EQ(through_stream(*stream, static_cast<Eigen::Index>(exposure), buffers), stack.expected(exposure))
          << name << ", exposure " << exposure;
  }
}

TEST(FrameStream, FillsAWholeExposure) {
  const Stack stack;
  for (const std::string& name : stack.names) {
    const auto stream = stream_hdf5(stack.path, name);
    StoredStream::Buffers buffers;
    std::vector<unsigned char> bytes(rows * columns * stream->type().size);
    stream->fill(2, buffers, bytes.data());
    std::vector<double> counts(rows * columns, 0.0);
    const auto masked = std::make_unique<bool[]>(rows * columns);
    CountTally tally;
    add_counts(stream->type(), bytes.data(), rows * columns, never, counts.data(), masked.get(), tally);
    EXPECT_EQ(counts, stack.expected(2)) << name;
  }
}

TEST(FrameStream, ServesSeveralThreadsAtOnce) {
  const Stack stack;
  for (const std::string& name : stack.names) {
    const auto stream = stream_hdf5(stack.path, name);
    std::vector<std::vector<double>> got(count);
    {
      std::vector<std::jthread> threads;
      for (std::size_t i = 0; i < count; ++i)
        threads.emplace_back([&, i] {
          StoredStream::Buffers buffers;
          got[i] = through_stream(*stream, static_cast<Eigen::Index>(i), buffers);
        });
    }
    for (std::size_t i = 0; i < count; ++i) EXPECT_EQ(got[i], stack.expected(i)) << name;
  }
}

// A user block shifts every place in the file: such files are read through HDF5.
TEST(FrameStream, ReadsBehindAUserBlock) {
  const Scratch scratch;
  const std::string path = scratch / "block.h5";
  const std::vector<double> values = ramp(count * rows * columns);
  {
    const auto lock = hdf5_lock();
    const H5Handle creation(H5Pcreate(H5P_FILE_CREATE), H5Pclose);
    H5Pset_userblock(creation.get(), 512);
    const H5Handle file(H5Fcreate(path.c_str(), H5F_ACC_TRUNC, creation.get(), H5P_DEFAULT), H5Fclose);
    write_numbers(file.get(), "/plain", {count, rows, columns}, values, {H5T_STD_I32LE, {}, false, 0});
    write_numbers(file.get(), "/chunked", {count, rows, columns}, values, {H5T_STD_I32LE, {1, 19, 23}, false, 2});
  }
  for (const char* name : {"/plain", "/chunked"}) {
    const auto stream = stream_hdf5(path, name);
    StoredStream::Buffers buffers;
    const std::vector<double> expected(values.begin() + rows * columns, values.begin() + 2 * rows * columns);
    EXPECT_EQ(through_stream(*stream, 1, buffers), expected) << name;
  }
}

TEST(FrameStream, NamesTheFrameThatCannotBeRead) {
  const Scratch scratch;
  const std::string path = scratch / "holes.h5";
  {
    const auto lock = hdf5_lock();
    const H5Handle file = h5_create(path);
    const H5Handle set = make_numbers(file.get(), "x", {2, 4, 4}, {H5T_STD_I32LE, {1, 4, 4}, false, 1});
    const hsize_t at[3] = {0, 0, 0};
    const std::vector<unsigned char> nonsense(32, 7);
    H5Dwrite_chunk(set.get(), H5P_DEFAULT, 0, at, nonsense.size(), nonsense.data());
  }
  const auto stream = stream_hdf5(path, "x");
  StoredStream::Buffers buffers;
  const auto read = [&](Eigen::Index i) { stream->read(i, buffers, [](const StoredRun&) {}); };
  const auto words = [&](Eigen::Index i) { return refusal<DataError>([&] { read(i); }); };
  EXPECT_NE(words(0).find("cannot be decoded (gzip)"), std::string::npos) << words(0);
  EXPECT_NE(words(1).find("was never written"), std::string::npos) << words(1);
}

}  // namespace
}  // namespace sievelight
