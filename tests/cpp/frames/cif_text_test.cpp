// SPDX-License-Identifier: GPL-3.0-or-later
#include "sievelight/frames/cif_text.hpp"

#include "sievelight/base/error.hpp"
#include "support/refusal.hpp"

#include <gtest/gtest.h>

namespace sievelight {
namespace {

using Values = std::vector<std::string>;

std::string words(const std::string& content) {
  return refusal<DataError>([&] { CifText(content, "x.cbf"); });
}

// Syntax: International Tables G, 2.2.7.
TEST(CifText, ReadsItemsLoopsQuotesAndTexts) {
  const CifText text(
      "###CBF: 1.5\r\ndata_one\n_a.x 1.5(2) # why\n_A.Y 'it''s a \"word\" '\n_a.z\n;first\nsecond; not the end\n;\n"
      "loop_\n_b.id\n_b.value\nf1 .\n\"f 2\" ?\nf3 '.'\n_c.one 7 8\nsave_this\n_c.two #no\n9\n",
      "x.cbf");
  EXPECT_EQ(text.values("a", "x"), Values{"1.5(2)"});
  EXPECT_EQ(text.values("a", "y"), Values{"it''s a \"word\" "});
  EXPECT_EQ(text.values("a", "z"), Values{"first\nsecond; not the end\n"});
  EXPECT_EQ(text.values("b", "id"), (Values{"f1", "f 2", "f3"}));
  EXPECT_EQ(text.values("b", "value"), (Values{"", "", ""}));
  EXPECT_EQ(text.values("c", "one"), Values{"7"});
  EXPECT_EQ(text.values("c", "two"), Values{"9"});
  EXPECT_TRUE(text.values("c", "three").empty());
  EXPECT_TRUE(text.sections().empty());
}

const std::string head =
    "_array_data.data\n;\n--CIF-BINARY-FORMAT-SECTION--\nContent-Type: application/octet-stream;\n"
    "     conversions=\"x-CBF_NONE\"\nX-Binary-Size: ";
const std::string start = "\n\n\x0c\x1a\x04\xd5", finish = "\n--CIF-BINARY-FORMAT-SECTION----\n;\n_after.it 3\n";

TEST(CifText, FindsBinarySections) {
  // What looks like the end of a text inside of the bytes is none.
  const std::string bytes("\n;\0\x0c\n_x", 7);
  const CifText text(head + "7" + start + bytes + finish, "x.cbf");
  ASSERT_EQ(text.sections().size(), 1u);
  const CifText::Section& section = text.sections()[0];
  EXPECT_EQ(section.bytes, 7u);
  EXPECT_EQ(std::string(reinterpret_cast<const char*>(text.bytes(section)), 7), bytes);
  EXPECT_EQ(section.header.at("content-type"), "application/octet-stream;     conversions=\"x-CBF_NONE\"");
  EXPECT_EQ(text.values("array_data", "data"), Values{""});
  EXPECT_EQ(text.values("after", "it"), Values{"3"});
}

TEST(CifText, RefusesWhatHasNoEndOrClaimsMoreThanThereIs) {
  for (const char* size : {"8000", "0", "-4", "1e30", "nan", "x", ""})
    EXPECT_NE(words(head + size + start + "1234567" + finish).find("has"), std::string::npos) << size;
  EXPECT_NE(words(head + "7\n\n1234567" + finish).find("has no start"), std::string::npos);
  EXPECT_NE(words(head + "7" + start + "1234567").find("section has no end"), std::string::npos);
  EXPECT_NE(words("_a.b\n;never ends").find("a text has no end"), std::string::npos);
  EXPECT_NE(words("_a.b 'never ends\n'").find("a quoted text has no end"), std::string::npos);
  EXPECT_EQ(words(""), "accepted");
  EXPECT_EQ(words("loop_ loop_ _a.b loop_ 1 2 data_"), "accepted");
}

}  // namespace
}  // namespace sievelight
