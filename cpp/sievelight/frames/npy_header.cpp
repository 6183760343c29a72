// SPDX-License-Identifier: GPL-3.0-or-later
#include "sievelight/frames/npy_header.hpp"

#include "sievelight/base/error.hpp"
#include "sievelight/frames/frame_source.hpp"

#include <fmt/format.h>
#include <fmt/ranges.h>

#include <bit>
#include <cctype>
#include <filesystem>
#include <fstream>
#include <limits>
#include <optional>

namespace sievelight {
namespace {

// A header has some hundred characters; numpy itself refuses more than this.
constexpr std::uint32_t longest_header = 10000;

// Reads {'descr': '<i4', 'fortran_order': False, 'shape': (3, 4), } and nothing else.
class Parser {
 public:
  Parser(const std::string& text, const std::string& path) : text_(text), path_(path) {}

  std::string descr;
  std::optional<bool> fortran;
  std::optional<std::vector<std::uint64_t>> shape;

  void parse() {
    require('{');
    while (!accept('}')) {
      const std::string key = quoted();
      require(':');
      if (key == "descr" && descr.empty()) {
        if (peek() == '[')
          throw DataError(fmt::format("'{}' holds records of several fields.", path_),
                          "Save the field of the detector's counts as an array of its own.");
        descr = quoted();
      } else if (key == "fortran_order" && !fortran) {
        fortran = truth();
      } else if (key == "shape" && !shape) {
        shape = numbers();
      } else {
        fail();
      }
      if (!accept(',') && peek() != '}') fail();
    }
    if (peek() != '\0' || descr.empty() || !fortran || !shape) fail();
  }

  [[noreturn]] void fail() const {
    throw DataError(fmt::format("'{}' has no valid NPY header.", path_),
                    "Save the array again with numpy.save, as plain integers or floating-point numbers.");
  }

 private:
  char peek() {
    while (at_ < text_.size() && std::isspace(static_cast<unsigned char>(text_[at_]))) ++at_;
    return at_ < text_.size() ? text_[at_] : '\0';
  }
  bool accept(char c) {
    if (peek() != c) return false;
    ++at_;
    return true;
  }
  void require(char c) {
    if (!accept(c)) fail();
  }
  std::string quoted() {
    const char quote = peek();
    if (quote != '\'' && quote != '"') fail();
    const auto end = text_.find(quote, at_ + 1);
    if (end == std::string::npos) fail();
    std::string out = text_.substr(at_ + 1, end - at_ - 1);
    at_ = end + 1;
    if (out != printable(out)) fail();
    return out;
  }
  bool truth() {
    peek();
    for (const std::string word : {"True", "False"})
      if (text_.compare(at_, word.size(), word) == 0) {
        at_ += word.size();
        return word == "True";
      }
    fail();
  }
  std::vector<std::uint64_t> numbers() {
    std::vector<std::uint64_t> out;
    require('(');
    while (!accept(')')) {
      std::uint64_t value = 0;
      if (!std::isdigit(static_cast<unsigned char>(peek()))) fail();
      for (; at_ < text_.size() && std::isdigit(static_cast<unsigned char>(text_[at_])); ++at_) {
        if (value > std::numeric_limits<std::uint32_t>::max()) fail();
        value = value * 10 + static_cast<std::uint64_t>(text_[at_] - '0');
      }
      out.push_back(value);
      if (!accept(',') && peek() != ')') fail();
    }
    if (out.size() > 32) fail();
    return out;
  }

  const std::string& text_;
  const std::string& path_;
  std::size_t at_ = 0;
};

void set_type(const std::string& descr, const std::string& path, NpyHeader& header) {
  const char order = descr.empty() ? ' ' : descr[0], kind = descr.size() > 1 ? descr[1] : ' ';
  if (kind == 'O')
    throw DataError(fmt::format("'{}' holds Python objects, which are never loaded: they may run code.", path),
                    "Save the counts as an array of integers or floating-point numbers.");
  static constexpr std::pair<const char*, NumberKind> kinds[] = {
      {"i1", NumberKind::i8},  {"u1", NumberKind::u8},  {"i2", NumberKind::i16}, {"u2", NumberKind::u16},
      {"i4", NumberKind::i32}, {"u4", NumberKind::u32}, {"i8", NumberKind::i64}, {"u8", NumberKind::u64},
      {"f4", NumberKind::f32}, {"f8", NumberKind::f64}, {"b1", NumberKind::u8}};
  const bool little = std::endian::native == std::endian::little;
  for (const auto& [name, number] : kinds)
    if (descr.size() == 3 && descr.compare(1, 2, name) == 0 && std::string("<>|=").find(order) != std::string::npos) {
      header.type = plain_type(number, order == '<' ? !little : order == '>' && little);
      header.truth = kind == 'b';
      return;
    }
  throw DataError(fmt::format("'{}' holds numbers of the type '{}'.", path, descr),
                  "Save the counts as integers of 1 to 8 bytes or as 32 or 64-bit floating point.");
}

}  // namespace

bool NpyHeader::operator==(const NpyHeader& other) const {
  return type.kind == other.type.kind && type.swapped == other.type.swapped && truth == other.truth &&
         fortran == other.fortran && shape == other.shape && offset == other.offset;
}

NpyHeader read_npy_header(const std::string& path) {
  std::ifstream file(path, std::ios::binary);
  std::error_code failed;
  const std::uint64_t bytes = std::filesystem::file_size(path, failed);
  unsigned char start[12] = {};
  file.read(reinterpret_cast<char*>(start), 12);
  const std::string nothing;
  Parser none(nothing, path);
  if (!file || std::string(reinterpret_cast<char*>(start), 6) != "\x93NUMPY" || start[6] < 1 || start[6] > 3)
    none.fail();
  NpyHeader header;
  const std::uint32_t two = start[8] | static_cast<std::uint32_t>(start[9]) << 8;
  const std::uint32_t length =
      start[6] == 1 ? two
                    : two | static_cast<std::uint32_t>(start[10]) << 16 | static_cast<std::uint32_t>(start[11]) << 24;
  const std::uint64_t begin = start[6] == 1 ? 10 : 12;
  if (length > longest_header || begin + length > bytes) none.fail();
  std::string text(length, '\0');
  file.seekg(static_cast<std::streamoff>(begin));
  if (!file.read(text.data(), static_cast<std::streamsize>(length))) none.fail();
  Parser parser(text, path);
  parser.parse();
  set_type(parser.descr, path, header);
  header.fortran = *parser.fortran;
  header.shape = *parser.shape;
  header.offset = begin + length;
  const std::uint64_t held = bytes - header.offset;
  std::uint64_t needed = header.type.size;
  for (const std::uint64_t n : header.shape) {
    if (n != 0 && needed > bytes / n + 1) needed = std::numeric_limits<std::uint64_t>::max() / n;
    needed *= n;
  }
  if (held != needed)
    throw DataError(fmt::format("'{}' is {}: {} {} need {} bytes, the file holds {}.", path,
                                held < needed ? "truncated" : "no NPY file of one array",
                                header.shape.empty() ? "one" : fmt::format("{}", fmt::join(header.shape, " x ")),
                                header.type.name, needed, held),
                    "Copy the file again, or save the array again with numpy.save.");
  return header;
}

}  // namespace sievelight
