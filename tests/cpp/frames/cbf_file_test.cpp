// SPDX-License-Identifier: GPL-3.0-or-later
#include "sievelight/frames/cbf_file.hpp"

#include "frames/cbf_writer.hpp"
#include "sievelight/base/error.hpp"
#include "sievelight/frames/frame_source.hpp"
#include "support/refusal.hpp"
#include "support/scratch.hpp"

#include <gtest/gtest.h>

#include <cstdlib>
#include <random>

namespace sievelight {
namespace {

std::vector<int> counts(std::size_t n) {
  std::vector<int> out(n);
  for (std::size_t i = 0; i < n; ++i)
    out[i] = static_cast<int>(i * i % 211) - (i % 7 == 0 ? 2 : 0) + (i == 5 ? 700000 : 0);
  return out;
}

template <typename T>
std::vector<double> doubles(const CbfFile& file, Eigen::Index exposure, std::size_t n) {
  std::vector<double> out(n);
  to_doubles(file.type(), file.read(exposure).data(), n, out.data());
  return out;
}

// The writer is the library that the crystallographic union keeps: our reader has its sizes and types from it.
TEST(CbfFile, ReadsEveryCompressionOfTheLibrary) {
  const Scratch scratch;
  ::setenv("SIEVELIGHT_CBF_LIBRARY", "allow", 1);
  const std::vector<int> values = counts(40 * 30);
  for (const auto& [compression, name] : {std::pair<unsigned, const char*>{CBF_BYTE_OFFSET, "byte-offset"},
                                          {CBF_NONE, "none"},
                                          {CBF_PACKED, "packed"},
                                          {CBF_PACKED_V2, "packed-v2"},
                                          {CBF_CANONICAL, "canonical"},
                                          {CBF_NIBBLE_OFFSET, "nibble-offset"}}) {
    CbfWriter().image(values, 40, 30, compression).write(scratch / "x.cbf");
    const CbfFile file(scratch / "x.cbf");
    EXPECT_EQ(file.count(), 1);
    EXPECT_EQ(file.rows(), 30);
    EXPECT_EQ(file.columns(), 40);
    EXPECT_EQ(file.type().name, "int32") << name;
    EXPECT_EQ(file.compression(), name);
    EXPECT_EQ(doubles<int>(file, 0, values.size()), std::vector<double>(values.begin(), values.end())) << name;
  }
  ::unsetenv("SIEVELIGHT_CBF_LIBRARY");
  // Without leave the library, which a hostile file can crash, sees no file.
  CbfWriter().image(values, 40, 30, CBF_PACKED).write(scratch / "x.cbf");
  const CbfFile file(scratch / "x.cbf");
  const std::string words = refusal<DataError>([&] { file.read(0); });
  EXPECT_NE(words.find("SIEVELIGHT_CBF_LIBRARY"), std::string::npos) << words;
}

TEST(CbfFile, ReadsOtherTypesAndTextEncodings) {
  const Scratch scratch;
  const std::vector<unsigned short> small = {0, 1, 65535, 7, 300, 12};
  CbfWriter().image(small, 3, 2, CBF_NONE).write(scratch / "u16.cbf", ENC_BASE64);
  {
    const CbfFile file(scratch / "u16.cbf");
    EXPECT_EQ(file.type().name, "uint16");
    EXPECT_EQ(doubles<int>(file, 0, 6), std::vector<double>(small.begin(), small.end()));
  }
  const std::vector<float> real = {0.0f, 1.5f, -2.0f, 3e6f, 0.25f, 12.0f};
  CbfWriter().image(real, 3, 2, CBF_NONE).write(scratch / "f32.cbf");
  const CbfFile file(scratch / "f32.cbf");
  EXPECT_EQ(file.type().name, "float32");
  EXPECT_EQ(doubles<int>(file, 0, 6), std::vector<double>(real.begin(), real.end()));
}

TEST(CbfFile, SeveralImagesAndThickImagesAreStacks) {
  const Scratch scratch;
  const std::vector<int> a = counts(12), b(12, 9);
  CbfWriter().image(a, 4, 3, CBF_BYTE_OFFSET).image(b, 4, 3, CBF_BYTE_OFFSET).write(scratch / "two.cbf");
  {
    const CbfFile file(scratch / "two.cbf");
    EXPECT_EQ(file.count(), 2);
    EXPECT_EQ(doubles<int>(file, 1, 12), std::vector<double>(12, 9));
  }
  CbfWriter().image(counts(24), 4, 3, CBF_BYTE_OFFSET, 2).write(scratch / "thick.cbf");
  const CbfFile file(scratch / "thick.cbf");
  EXPECT_EQ(file.count(), 2);
  const std::vector<int> all = counts(24);
  EXPECT_EQ(doubles<int>(file, 1, 12), std::vector<double>(all.begin() + 12, all.end()));
}

TEST(CbfFile, GivesItemsAsText) {
  const Scratch scratch;
  CbfWriter()
      .items("diffrn_scan_frame", {"frame_id", "integration_time"}, {{"f1", "1.5"}, {"f2", "?"}})
      .image(counts(12), 4, 3, CBF_BYTE_OFFSET)
      .write(scratch / "x.cbf");
  const CbfFile file(scratch / "x.cbf");
  EXPECT_EQ(file.values("diffrn_scan_frame", "integration_time"), (std::vector<std::string>{"1.5", ""}));
  EXPECT_TRUE(file.values("diffrn_scan_frame", "none").empty());
  EXPECT_TRUE(file.values("none", "none").empty());
}

TEST(CbfFile, RefusesTruncatedAndDamagedFiles) {
  const Scratch scratch;
  CbfWriter().image(counts(4000), 80, 50, CBF_BYTE_OFFSET).write(scratch / "x.cbf");
  const std::string whole = read_bytes(scratch / "x.cbf");
  const auto words = [&] { return refusal<DataError>([&] { CbfFile(scratch / "bad.cbf").read(0); }); };
  for (const double share : {0.05, 0.2, 0.5, 0.9}) {
    write_bytes(scratch / "bad.cbf",
                whole.substr(0, static_cast<std::size_t>(share * static_cast<double>(whole.size()))));
    EXPECT_NE(words(), "accepted") << share;
  }
  EXPECT_NE(words().find("truncated or broken CBF file"), std::string::npos) << words();
  std::string damaged = whole;
  damaged[damaged.find("\x0c\x1a\x04\xd5") + 500] ^= 1;
  write_bytes(scratch / "bad.cbf", damaged);
  EXPECT_NE(words().find("checksum"), std::string::npos) << words();
  write_bytes(scratch / "bad.cbf", "###CBF: VERSION 1.5\ndata_x\n_cell.length_a 1\n");
  EXPECT_NE(words().find("holds no image"), std::string::npos) << words();
  EXPECT_NE(refusal<DataError>([&] { CbfFile(scratch / "none.cbf"); }).find("There is no file"), std::string::npos);
}

// Bytes changed at random: the file is refused or read, but never a crash. With a checksum, changed counts are noticed.
TEST(CbfFile, SurvivesDamage) {
  const Scratch scratch;
  std::mt19937 random(4);
  for (const unsigned compression : {CBF_BYTE_OFFSET, CBF_NONE, CBF_PACKED}) {
    const std::vector<int> values = counts(1200);
    CbfWriter().header("\n# Exposure_time 1 s\n").image(values, 40, 30, compression).write(scratch / "x.cbf");
    const std::string whole = read_bytes(scratch / "x.cbf");
    const auto data = whole.find("\x0c\x1a\x04\xd5");
    for (int trial = 0; trial < 150; ++trial) {
      std::string damaged = whole;
      for (int i = 0; i < 2; ++i)
        damaged[random() % (trial % 2 == 0 ? data : whole.size())] = static_cast<char>(random() % 256);
      write_bytes(scratch / "bad.cbf", damaged);
      try {
        const CbfFile file(scratch / "bad.cbf");
        EXPECT_EQ(file.read(0).size(), static_cast<std::size_t>(file.rows() * file.columns()) * file.type().size);
      } catch (const DataError&) {
      }
    }
  }
}

TEST(CbfFile, RefusesSizesThatTheFileCannotHold) {
  const Scratch scratch;
  CbfWriter().image(counts(4000), 80, 50, CBF_BYTE_OFFSET).write(scratch / "x.cbf");
  std::string claim = read_bytes(scratch / "x.cbf");
  for (const auto& [from, to] : {std::pair<std::string, std::string>{"Elements: 4000", "Elements: 256000000"},
                                 {"Fastest-Dimension: 80", "Fastest-Dimension: 16000"},
                                 {"Second-Dimension: 50", "Second-Dimension: 16000"}}) {
    const auto at = claim.find(from);
    ASSERT_NE(at, std::string::npos) << from;
    claim.replace(at, from.size(), to);
  }
  write_bytes(scratch / "claim.cbf", claim);
  const auto words = [&] { return refusal<DataError>([&] { CbfFile(scratch / "claim.cbf"); }); };
  EXPECT_NE(words().find("16000 pixels and 256000000 numbers in"), std::string::npos) << words();
  // No detector is as large as that, whatever the bytes.
  claim.replace(claim.find("Second-Dimension: 16000"), 23, "Second-Dimension: 99000");
  write_bytes(scratch / "claim.cbf", claim);
  EXPECT_NE(words().find("claims"), std::string::npos) << words();
}

}  // namespace
}  // namespace sievelight
