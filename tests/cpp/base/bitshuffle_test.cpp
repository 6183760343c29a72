// SPDX-License-Identifier: GPL-3.0-or-later
#include "sievelight/base/bitshuffle.hpp"

#include "base/bitshuffle_encoder.hpp"
#include "frames/some_frames.hpp"
#include "sievelight/base/error.hpp"

#include <gtest/gtest.h>

#include <random>

namespace sievelight {
namespace {

using bits::Bytes, bits::encode;

Bytes some_counts(std::size_t elements, std::size_t size) {
  std::mt19937 random(7);
  Bytes out(elements * size, 0);
  for (std::size_t i = 0; i < out.size(); ++i)
    if (i % size == 0 || random() % 50 == 0) out[i] = static_cast<unsigned char>(random());
  return out;
}

TEST(Bitshuffle, DecodesEverySizeOfElementAndRest) {
  for (const std::size_t size : {1u, 2u, 3u, 4u, 8u})
    for (const std::size_t elements : {0u, 1u, 7u, 8u, 9u, 127u, 128u, 4095u, 10007u})
      for (const std::size_t block : {8u, 128u, 2048u}) {
        const Bytes in = some_counts(elements, size);
        Bytes out(in.size(), 0xAA);
        decode_bitshuffle_lz4(encode(in, size, block, true, block), size, out);
        EXPECT_EQ(out, in) << size << ' ' << elements << ' ' << block;
        out.assign(in.size(), 0xAA);
        decode_bitshuffle(encode(in, size, block, false, block), size, block, out);
        EXPECT_EQ(out, in) << size << ' ' << elements << ' ' << block;
      }
}

TEST(Bitshuffle, ABlockSizeOfZeroMeansEightKilobytes) {
  EXPECT_EQ(default_block_elements(1), 8192u);
  EXPECT_EQ(default_block_elements(4), 2048u);
  EXPECT_EQ(default_block_elements(3), 2728u);   // a multiple of 8
  EXPECT_EQ(default_block_elements(100), 128u);  // at least
  for (const std::size_t size : {2u, 4u}) {
    const Bytes in = some_counts(9001, size);
    Bytes out(in.size());
    decode_bitshuffle_lz4(encode(in, size, default_block_elements(size), true, 0), size, out);
    EXPECT_EQ(out, in);
    decode_bitshuffle(encode(in, size, default_block_elements(size), false, 0), size, 0, out);
    EXPECT_EQ(out, in);
  }
}

TEST(Bitshuffle, RefusesABrokenChunk) {
  const Bytes in = some_counts(1003, 4), good = encode(in, 4, 128, true, 128);
  Bytes out(in.size());
  const auto words = [&](const Bytes& chunk) {
    return refusal<DataError>([&] { decode_bitshuffle_lz4(chunk, 4, out); });
  };
  EXPECT_EQ(words(good), "accepted");
  EXPECT_NE(words(Bytes(good.begin(), good.begin() + 5)).find("within its header"), std::string::npos);
  EXPECT_NE(words(Bytes(good.begin(), good.end() - 20)).find("ends early"), std::string::npos);
  EXPECT_NE(words(Bytes(good.begin(), good.end() - 3)).find("9 bytes stand at the end"), std::string::npos);
  Bytes bad = good;
  bad[7] ^= 1;
  EXPECT_NE(words(bad).find("declares 4013 bytes where 4012 belong"), std::string::npos) << words(bad);
  bad = good;
  bad[11] = 4;
  EXPECT_NE(words(bad).find("blocks of 516 bytes"), std::string::npos) << words(bad);
  bad = good;
  bad[12] = 0x7f;  // the first block claims to be longer than the chunk
  EXPECT_NE(words(bad).find("ends early"), std::string::npos);
  // Any other damage either decodes to something or is refused; it never writes beyond the end (run under sanitizers).
  std::mt19937 random(3);
  for (int i = 0; i < 2000; ++i) {
    bad = good;
    bad[12 + random() % (bad.size() - 12)] = static_cast<unsigned char>(random());
    words(bad);
  }
  EXPECT_NE(refusal<DataError>([&] { decode_bitshuffle(Bytes(10), 4, 0, out); }).find("10 bytes"), std::string::npos);
}

}  // namespace
}  // namespace sievelight
