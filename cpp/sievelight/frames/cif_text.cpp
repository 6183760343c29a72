// SPDX-License-Identifier: GPL-3.0-or-later
#include "sievelight/frames/cif_text.hpp"

#include "sievelight/base/error.hpp"
#include "sievelight/curve/whole_file.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <cctype>
#include <string_view>

namespace sievelight {
namespace {

constexpr std::string_view section_mark = "--CIF-BINARY-FORMAT-SECTION--", section_start = "\x0c\x1a\x04\xd5";
constexpr std::size_t longest_header = 4096;

bool blank(char c) { return c == ' ' || c == '\t' || c == '\n' || c == '\r'; }

std::string lower(std::string text) {
  std::transform(text.begin(), text.end(), text.begin(),
                 [](unsigned char c) { return static_cast<char>(std::tolower(c)); });
  return text;
}

std::string trimmed(const std::string& text) {
  const auto first = text.find_first_not_of(" \t\r\n"), last = text.find_last_not_of(" \t\r\n;");
  return first == std::string::npos || last == std::string::npos || last < first ? ""
                                                                                 : text.substr(first, last + 1 - first);
}

// "Key: value" a line; a line that begins with a blank goes on with the one before (RFC 822, 3.1.1).
std::map<std::string, std::string> mime_header(const std::string& text) {
  std::map<std::string, std::string> out;
  std::string unfolded;
  for (std::size_t i = 0; i < text.size(); ++i) {
    if (text[i] == '\r') continue;
    const bool folded = text[i] == '\n' && i + 1 < text.size() && (text[i + 1] == ' ' || text[i + 1] == '\t');
    if (!folded) unfolded += text[i];
  }
  for (std::size_t begin = 0; begin < unfolded.size();) {
    const auto end = std::min(unfolded.find('\n', begin), unfolded.size());
    const std::string line = unfolded.substr(begin, end - begin);
    if (const auto colon = line.find(':'); colon != std::string::npos)
      out[lower(trimmed(line.substr(0, colon)))] = trimmed(line.substr(colon + 1));
    begin = end + 1;
  }
  return out;
}

}  // namespace

struct CifText::Token {
  enum Kind { end, name, keyword, value } kind = end;
  std::string text = {};
};

CifText::CifText(std::string content, const std::string& path) : content_(std::move(content)), path_(path) {
  std::vector<std::string> columns;  // of the loop at hand, or of a single item
  bool in_loop = false, in_head = false;
  std::size_t column = 0;
  for (Token token = next(); token.kind != Token::end; token = next()) {
    if (token.kind == Token::keyword) {
      columns.clear();
      in_loop = in_head = token.text == "loop_";
      column = 0;
    } else if (token.kind == Token::name) {
      if (!in_head) columns.clear();
      if (!in_head) in_loop = false;
      columns.push_back(token.text);
      column = 0;
    } else if (!columns.empty()) {  // a value without a name belongs to nobody
      in_head = false;
      // In quotes too: some writers put everything in quotes.
      items_[columns[column]].push_back(token.text == "." || token.text == "?" ? "" : token.text);
      column = (column + 1) % columns.size();
      if (!in_loop) columns.clear();
    }
  }
}

std::vector<std::string> CifText::values(const std::string& category, const std::string& column) const {
  const auto found = items_.find("_" + category + "." + column);
  return found == items_.end() ? std::vector<std::string>() : found->second;
}

void CifText::broken(const std::string& why) const {
  throw DataError(fmt::format("'{}' is a truncated or broken CBF file: {}.", path_, why),
                  "Copy the file again from where it was measured; leave the frame out if it is lost.");
}

CifText::Token CifText::next() {
  while (at_ < content_.size()) {
    const char c = content_[at_];
    if (blank(c)) {
      ++at_;
    } else if (c == '#') {
      at_ = std::min(content_.find_first_of("\r\n", at_), content_.size());
    } else if (c == ';' && at_line_start()) {
      return text_field();
    } else if (c == '\'' || c == '"') {
      return quoted(c);
    } else {
      const std::size_t begin = at_;
      while (at_ < content_.size() && !blank(content_[at_])) ++at_;
      const std::string word = content_.substr(begin, at_ - begin);
      if (c == '_') return {Token::name, lower(word)};
      const std::string small = lower(word.substr(0, 7));
      if (small == "loop_") return {Token::keyword, small};
      for (const char* start : {"data_", "save_", "global_", "stop_"})
        if (small.rfind(start, 0) == 0) return {Token::keyword, start};
      return {Token::value, word};
    }
  }
  return {};
}

CifText::Token CifText::quoted(char quote) {
  // A quote ends where a blank follows it, and on its line.
  for (std::size_t end = at_ + 1; end < content_.size() && content_[end] != '\n'; ++end)
    if (content_[end] == quote && (end + 1 == content_.size() || blank(content_[end + 1]))) {
      Token token{Token::value, content_.substr(at_ + 1, end - at_ - 1)};
      at_ = end + 1;
      return token;
    }
  broken("a quoted text has no end");
}

CifText::Token CifText::text_field() {
  const std::size_t begin = ++at_;
  const auto word = content_.find_first_not_of(" \t\r\n", begin);
  if (word != std::string::npos && content_.compare(word, section_mark.size(), section_mark) == 0) {
    at_ = word + section_mark.size();
    binary_section();
    return {Token::value, ""};
  }
  for (std::size_t end = begin; (end = content_.find(';', end)) != std::string::npos; ++end)
    if (content_[end - 1] == '\n' || content_[end - 1] == '\r') {
      at_ = end + 1;
      return {Token::value, content_.substr(begin, end - begin)};
    }
  broken("a text has no end");
}

void CifText::binary_section() {
  const std::string_view rest = std::string_view(content_).substr(at_);
  const std::size_t start = rest.substr(0, longest_header).find(section_start);
  if (start == std::string_view::npos)
    broken("a binary section has no start, or stands as text (base64), which is not read");
  Section section{mime_header(content_.substr(at_, start)), at_ + start + section_start.size(), 0};
  const auto size = parse_number(section.header["x-binary-size"]);
  const std::size_t left = content_.size() - section.at;
  if (!size || !(*size >= 1 && *size <= static_cast<double>(left)))
    broken(fmt::format("a section of {} bytes has {} left", size.value_or(0), left));
  section.bytes = static_cast<std::size_t>(*size);
  at_ = section.at + section.bytes;
  // The mark that ends the section, then the end of the text that holds it.
  for (std::size_t end = at_; (end = content_.find(';', end)) != std::string::npos; ++end)
    if (content_[end - 1] == '\n' || content_[end - 1] == '\r') {
      at_ = end + 1;
      sections_.push_back(std::move(section));
      return;
    }
  broken("a binary section has no end");
}

}  // namespace sievelight
