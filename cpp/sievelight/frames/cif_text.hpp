// SPDX-License-Identifier: GPL-3.0-or-later
/// A CIF or CBF file as tables of text and binary sections, read by bounds alone.
/// Source of the syntax: S. R. Hall, N. Spadaccini, I. D. Brown, J. D. Westbrook, N. McMahon, International Tables for
/// Crystallography G (2005), chapter 2.2; of the binary sections: H. J. Bernstein, A. P. Hammersley, chapter 2.3.
#pragma once

#include <cstddef>
#include <map>
#include <string>
#include <vector>

namespace sievelight {

/// Names and values in small letters but for the values of items.
class CifText {
 public:
  /// A binary section: the words of its MIME header by their lower-case name, and where its bytes stand in the file.
  struct Section {
    std::map<std::string, std::string> header;
    std::size_t at = 0, bytes = 0;
  };

  /// Reads the content of a file, which is kept. DataError naming `path` when a text or a section has no end, or a
  /// section claims more bytes than are left.
  CifText(std::string content, const std::string& path);

  /// Values of an item, one a row of its category ("" for '.', '?' and binary sections); empty when there is none.
  std::vector<std::string> values(const std::string& category, const std::string& column) const;
  const std::vector<Section>& sections() const { return sections_; }
  const unsigned char* bytes(const Section& section) const {
    return reinterpret_cast<const unsigned char*>(content_.data()) + section.at;
  }

 private:
  struct Token;
  Token next();
  Token text_field();
  Token quoted(char quote);
  void binary_section();
  [[noreturn]] void broken(const std::string& why) const;
  bool at_line_start() const { return at_ == 0 || content_[at_ - 1] == '\n' || content_[at_ - 1] == '\r'; }

  std::string content_, path_;
  std::size_t at_ = 0;
  std::map<std::string, std::vector<std::string>> items_;  // "_category.column" -> values
  std::vector<Section> sections_;
};

}  // namespace sievelight
