// SPDX-License-Identifier: GPL-3.0-or-later
#include "sievelight/base/hdf5_driver.hpp"

#include "sievelight/base/error.hpp"
#include "sievelight/base/hdf5.hpp"
#include "support/refusal.hpp"
#include "support/scratch.hpp"

#include <gtest/gtest.h>

#include <string>
#include <vector>

namespace sievelight {
namespace {

// Where the first object of a heap ("GCOL", 16 bytes of head) says its size (File Format Specification, III.E).
constexpr std::size_t first_size = 16 + 8;

// The bytes of a sound file whose texts (attributes of variable length) stand in a heap.
std::string file_with_texts(const std::string& path, std::size_t letters) {
  {
    const auto lock = hdf5_lock();
    const H5Handle file = h5_create(path);
    const H5Handle group = h5_make_group(file.get(), "entry", "NXentry");
    h5_write_attribute(group.get(), "long", std::string(letters, 'x'));
    h5_write_attribute(group.get(), "short", std::string("mm"));
  }
  return read_bytes(path);
}

std::string text_in(const std::string& path, const std::string& name) {
  const auto lock = hdf5_lock();
  const H5Handle file = h5_open(path);
  const H5Handle group = h5_group(file.get(), "entry");
  return h5_attribute(group.get(), name).value_or("none");
}

std::string words(const std::string& path) {
  return refusal<DataError>([&] { text_in(path, "NX_class"); });
}

TEST(Hdf5Driver, GivesTextsOfAnyLength) {
  const Scratch scratch;
  for (const std::size_t letters : {1u, 4000u, 60000u}) {
    file_with_texts(scratch / "x.h5", letters);
    EXPECT_EQ(text_in(scratch / "x.h5", "long"), std::string(letters, 'x'));
    EXPECT_EQ(text_in(scratch / "x.h5", "short"), "mm");
  }
}

// Found by fuzzing: HDF5 1.10 copies as many bytes out of a heap as the object claims.
TEST(Hdf5Driver, RefusesAHeapThatClaimsMoreThanItHolds) {
  const Scratch scratch;
  std::string bytes = file_with_texts(scratch / "x.h5", 40);
  const auto heap = bytes.find("GCOL");
  ASSERT_NE(heap, std::string::npos);
  EXPECT_EQ(words(scratch / "x.h5"), "accepted");
  std::string bad = bytes;
  bad[heap + first_size + 3] = '\x7f';  // two gigabytes
  write_bytes(scratch / "bad.h5", bad);
  EXPECT_NE(words(scratch / "bad.h5").find("claims more than it holds"), std::string::npos)
      << words(scratch / "bad.h5");
  bad = bytes;
  bad[heap + 8 + 3] = '\x7f';  // the heap itself
  write_bytes(scratch / "bad.h5", bad);
  EXPECT_NE(words(scratch / "bad.h5").find("claims more than it holds"), std::string::npos)
      << words(scratch / "bad.h5");
  EXPECT_EQ(words(scratch / "x.h5"), "accepted");  // a refusal is told once, and no other file suffers
}

TEST(Hdf5Driver, LooksAtAllOfALongHeap) {
  const Scratch scratch;
  std::string bytes = file_with_texts(scratch / "x.h5", 60000);
  const auto text = bytes.find(std::string(60000, 'x'));
  ASSERT_NE(text, std::string::npos);
  bytes[text - 5] = '\x7f';  // the size of the long text, in 8 bytes before it
  write_bytes(scratch / "bad.h5", bytes);
  EXPECT_NE(refusal<DataError>([&] { text_in(scratch / "bad.h5", "long"); }).find("claims more"), std::string::npos);
}

TEST(Hdf5Driver, FilesThatAreLedToAreReadByItToo) {
  const Scratch scratch;
  std::string bytes = file_with_texts(scratch / "good.h5", 40);
  bytes[bytes.find("GCOL") + first_size + 3] = '\x7f';
  write_bytes(scratch / "bad.h5", bytes);
  for (const char* name : {"good", "bad"}) {
    const auto lock = hdf5_lock();
    const H5Handle file = h5_create(scratch / (std::string("to_") + name + ".h5"));
    H5Lcreate_external((std::string(name) + ".h5").c_str(), "/entry", file.get(), "entry", H5P_DEFAULT, H5P_DEFAULT);
  }
  EXPECT_EQ(words(scratch / "to_good.h5"), "accepted");
  EXPECT_NE(words(scratch / "to_bad.h5").find("claims more than it holds"), std::string::npos)
      << words(scratch / "to_bad.h5");
}

TEST(Hdf5Driver, AHeapOfTextsIsSoundOnlyWhereItsObjectsFit) {
  std::vector<std::uint8_t> heap(4096, 0);
  const auto put = [&](std::size_t at, std::uint64_t value) {
    for (int i = 0; i < 8; ++i) heap[at + static_cast<std::size_t>(i)] = static_cast<std::uint8_t>(value >> 8 * i);
  };
  heap[4] = 1;
  put(8, 4096);
  heap[16] = 1;  // an object of 20 bytes, which takes 24, then the room that is left
  put(24, 20);
  put(16 + 16 + 24 + 8, 4096 - 16 - 16 - 24);
  EXPECT_TRUE(is_sound_heap(heap));
  put(24, 4096 - 32);  // the object fills it to the end
  EXPECT_TRUE(is_sound_heap(heap));
  put(24, 4096 - 31);
  EXPECT_FALSE(is_sound_heap(heap));
  put(24, ~std::uint64_t{0});  // rounding up would overflow
  EXPECT_FALSE(is_sound_heap(heap));
  put(24, 20);
  put(16 + 16 + 24 + 8, 0);  // room without a size has no end: the library would walk in a circle
  EXPECT_FALSE(is_sound_heap(heap));
  put(16 + 16 + 24 + 8, 4096 - 16 - 16 - 24);
  heap[4] = 2;
  EXPECT_FALSE(is_sound_heap(heap));
  heap[4] = 1;
  EXPECT_FALSE(is_sound_heap(std::span(heap).first(100)));
}

TEST(Hdf5Driver, RefusesLengthsOfAnotherSize) {
  const Scratch scratch;
  {
    const auto lock = hdf5_lock();
    const H5Handle properties(H5Pcreate(H5P_FILE_CREATE), H5Pclose);
    H5Pset_sizes(properties.get(), 8, 4);
    const H5Handle file(H5Fcreate((scratch / "x.h5").c_str(), H5F_ACC_TRUNC, properties.get(), H5P_DEFAULT), H5Fclose);
    ASSERT_TRUE(file);
  }
  EXPECT_NE(words(scratch / "x.h5").find("lengths have 4 bytes"), std::string::npos) << words(scratch / "x.h5");
}

TEST(Hdf5Driver, ReadsAFileBehindABlockOfTheUser) {
  const Scratch scratch;
  {
    const auto lock = hdf5_lock();
    const H5Handle properties(H5Pcreate(H5P_FILE_CREATE), H5Pclose);
    H5Pset_userblock(properties.get(), 2048);
    const H5Handle file(H5Fcreate((scratch / "y.h5").c_str(), H5F_ACC_TRUNC, properties.get(), H5P_DEFAULT), H5Fclose);
    h5_make_group(file.get(), "entry", "NXentry");
  }
  EXPECT_EQ(text_in(scratch / "y.h5", "NX_class"), "NXentry");
}

}  // namespace
}  // namespace sievelight
