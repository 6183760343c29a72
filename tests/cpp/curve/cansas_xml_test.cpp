// SPDX-License-Identifier: GPL-3.0-or-later
#include "sievelight/curve/cansas_xml.hpp"

#include "sievelight/base/error.hpp"
#include "support/refusal.hpp"
#include "support/scratch.hpp"

#include <gtest/gtest.h>

namespace sievelight {
namespace {

std::vector<NamedCurve> read(const std::string& content) {
  const Scratch scratch;
  write_bytes(scratch / "f.xml", content);
  return read_cansas_xml(scratch / "f.xml");
}

std::string words(const std::string& content) {
  return refusal<DataError>([&] { read(content); });
}

std::string point(const std::string& q, const std::string& i, const std::string& rest = "") {
  return "<Idata><Q unit='1/A'>" + q + "</Q><I unit='1/cm'>" + i + "</I>" + rest + "</Idata>";
}

std::string file(const std::string& data) {
  return "<?xml version='1.0'?><SASroot version='1.1' xmlns='urn:cansas1d:1.1'><SASentry name='e'>"
         "<Title>a <!-- split -->title</Title><Run>r</Run>" +
         data +
         "<SASsample><ID>s</ID><thickness unit='cm'>0.1</thickness><transmission>0.4</transmission></SASsample>"
         "<SASinstrument><SASsource><wavelength unit='A'> 1.5 <!-- why --></wavelength></SASsource>"
         "<SASdetector><SDD unit='m'>0.6</SDD></SASdetector></SASinstrument>"
         "<SASprocess><name>p</name><term name='t' unit='mm'>3</term></SASprocess></SASentry></SASroot>";
}

TEST(CansasXml, ReadsPointsUnitsAndWhatStandsAround) {
  const auto curves = read(file("<SASdata name='d'>" + point("0.01", "3", "<Idev unit='1/cm'>0.3</Idev>") +
                                point("+2e-2", "2", "<Idev unit='1/cm'>0.2</Idev>") + "</SASdata><SASdata>" +
                                point("0.1", "5") + "</SASdata>"));
  ASSERT_EQ(curves.size(), 2u);
  EXPECT_EQ(curves[0].name, "e/d");
  EXPECT_EQ(curves[1].name, "e/2");
  EXPECT_DOUBLE_EQ(curves[0].curve.q_per_nm[1], 0.2);
  EXPECT_DOUBLE_EQ(curves[0].curve.private_u[0], 0.3);
  EXPECT_TRUE(curves[0].has_uncertainty);
  EXPECT_FALSE(curves[1].has_uncertainty);
  const CurveInfo& info = curves[0].info;
  EXPECT_EQ(info.title, "a title");
  EXPECT_EQ(info.sample_name, "s");
  EXPECT_DOUBLE_EQ(info.thickness_mm, 1.0);
  EXPECT_DOUBLE_EQ(info.transmission, 0.4);
  EXPECT_DOUBLE_EQ(info.instrument.wavelength_nm, 0.15);
  EXPECT_DOUBLE_EQ(info.instrument.distance_mm, 600);
  ASSERT_EQ(info.steps.size(), 1u);
  EXPECT_EQ(info.steps[0].terms, (std::vector<std::pair<std::string, std::string>>{{"t", "3 mm"}}));
}

// Source: canSAS 1D 1.1, Idata/dQw and Idata/dQl: a slit's width along the scan and its length across it.
TEST(CansasXml, ReadsASlitInBothNamespaces) {
  for (const std::string version : {"1.0", "1.1"}) {
    const std::string slit = "<dQw unit='1/A'>0.0002</dQw><dQl unit='1/A'>0.05</dQl>";
    const auto curves = read("<SASroot version='" + version + "' xmlns='cansas1d/" + version + "'><SASentry>" +
                             "<Title>t</Title><SASdata>" + point("0.01", "3", slit) + point("0.02", "2", slit) +
                             "</SASdata></SASentry></SASroot>");
    EXPECT_TRUE(curves.at(0).curve.slit_length_per_nm.isApproxToConstant(0.5));
    EXPECT_TRUE(curves[0].curve.slit_width_per_nm.isApproxToConstant(0.002));
    EXPECT_EQ(curves[0].curve.q_resolution_per_nm.size(), 0);
    EXPECT_NE(curves[0].info.notes.back().find("smeared by a slit"), std::string::npos);
  }
}

// Source: canSAS 1D 1.1, elements SASsample, SASsource, SAScollimation, SASdetector, SASprocessnote and SASnote.
TEST(CansasXml, ReadsTheInstrumentAndTheNotes) {
  const auto curves = read(
      "<SASroot version='1.1'><SASentry><Title>t</Title><Run>r</Run><SASdata>" + point("0.01", "3") + "</SASdata>" +
      "<SASsample><ID>s</ID><temperature unit='K'>298.15</temperature><details>first</details><details>second</details>"
      "</SASsample><SASinstrument><name>i</name><SASsource><radiation>x-ray</radiation><beam_shape>line</beam_shape>"
      "<wavelength unit='A'>1.5</wavelength><wavelength_spread unit='percent'>2.3548200450309493</wavelength_spread>"
      "</SASsource><SAScollimation><length unit='m'>0.5</length></SAScollimation><SASdetector><name>d</name>"
      "<SDD unit='mm'>600</SDD><orientation><roll unit='degree'>1</roll><pitch unit='degree'>2</pitch>"
      "<yaw unit='degree'>3</yaw></orientation><beam_center><x unit='mm'>10</x><y unit='mm'>-20</y></beam_center>"
      "<pixel_size><x unit='mm'>0.1</x><y unit='mm'>0.2</y></pixel_size><slit_length unit='1/A'>0.1</slit_length>"
      "</SASdetector></SASinstrument><SASprocess><name>p</name><SASprocessnote>why</SASprocessnote></SASprocess>"
      "<SASnote>mind the gap</SASnote></SASentry></SASroot>");
  const CurveInfo& info = curves.at(0).info;
  EXPECT_NEAR(info.temperature_C, 25.0, 1e-12);
  EXPECT_EQ(info.sample_details, (std::vector<std::string>{"first", "second"}));
  EXPECT_EQ(info.instrument.probe, "x-ray");
  EXPECT_EQ(info.instrument.beam_shape, "line");
  EXPECT_NEAR(info.instrument.wavelength_spread, 0.01, 1e-15);  // sqrt(8 ln 2) % full width
  EXPECT_DOUBLE_EQ(info.instrument.collimation_length_mm, 500);
  EXPECT_EQ(info.instrument.detector_name, "d");
  EXPECT_DOUBLE_EQ(info.instrument.beam_center_px[0], 100);
  EXPECT_DOUBLE_EQ(info.instrument.beam_center_px[1], -100);
  EXPECT_DOUBLE_EQ(info.instrument.pixel_size_mm[1], 0.2);
  EXPECT_DOUBLE_EQ(info.instrument.roll_deg, 1);
  EXPECT_DOUBLE_EQ(info.instrument.pitch_deg, 2);
  EXPECT_DOUBLE_EQ(info.instrument.yaw_deg, 3);
  EXPECT_DOUBLE_EQ(info.instrument.slit_length_per_nm, 1);
  EXPECT_EQ(info.steps.at(0).notes, std::vector<std::string>{"why"});
  EXPECT_EQ(info.notes.front(), "mind the gap");
}

TEST(CansasXml, ReadsANamespacePrefix) {
  const auto curves = read(
      "<c:SASroot xmlns:c='cansas1d/1.0'><c:SASentry><c:Title>t</c:Title><c:SASdata><c:Idata>"
      "<c:Q unit='1/nm'>1</c:Q><c:I unit='1/cm'>2</c:I></c:Idata></c:SASdata></c:SASentry>"
      "</c:SASroot>");
  EXPECT_EQ(curves.at(0).name, "t");
  EXPECT_EQ(curves[0].curve.q_per_nm[0], 1);
}

// An entity that would read another file or grow without end is neither opened nor expanded.
TEST(CansasXml, ExpandsNoEntities) {
  const std::string entity = "<!DOCTYPE x [<!ENTITY a SYSTEM 'file:///etc/hostname'><!ENTITY b 'bbbb'>]>";
  std::string content = file("<SASdata>" + point("0.1", "5") + "</SASdata>");
  content.insert(content.find("<SASroot"), entity);
  content.replace(content.find("a <!-- split -->title"), 21, "&a;&b;");
  EXPECT_EQ(read(content).at(0).info.title, "&a;&b;");
}

TEST(CansasXml, RefusesWithLineAndReason) {
  EXPECT_NE(words("<SASroot>\n<SASentry>\n</SASroot>").find("in line 3"), std::string::npos)
      << words("<SASroot>\n<SASentry>\n</SASroot>");
  EXPECT_NE(words("<html/>").find("outermost element is 'html', not 'SASroot'"), std::string::npos);
  EXPECT_NE(words("<SASroot><SASentry/></SASroot>").find("no SASentry has a SASdata"), std::string::npos);
  EXPECT_NE(words(file("<SASdata>" + point("0,1", "5") + "</SASdata>")).find("'0,1' in Q of 'e' in"),
            std::string::npos);
  EXPECT_NE(
      words(file("<SASdata>" + point("0.1", "5") + "<Idata><Q unit='1/nm'>1</Q><I unit='1/cm'>2</I></Idata></SASdata>"))
          .find("several units (1/A, 1/nm)"),
      std::string::npos);
  EXPECT_NE(
      words(file("<SASdata>" + point("0.1", "5", "<Idev unit='1/m'>2</Idev>") + "</SASdata>")).find("Idev of 'e' in"),
      std::string::npos);
  EXPECT_NE(words(file("<SASdata></SASdata>")).find("no usable point among 0"), std::string::npos);
}

}  // namespace
}  // namespace sievelight
