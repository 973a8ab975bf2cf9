#include "pipeline/read/header.h"

#include <gtest/gtest.h>

#include "config/rules.h"
#include "tests/pipeline/read/sample_object.h"

namespace crestgate {
namespace {

struct SpacingCase {
  const char *imager, *pixel, *type, *scanned;  // nullptr: absent
  const char* source;
  double row_mm;
};

// Rows after PS3.3 10.7 (evidence.md 6.1).
const SpacingCase kSpacings[] = {
    {nullptr, nullptr, nullptr, nullptr, "none", 0},
    {"0.02\\0.02", nullptr, nullptr, nullptr, "imager", 0.02},
    {"0.02\\0.02", "0.020\\0.020", nullptr, nullptr, "imager", 0.02},
    {"0.02\\0.02", "0.019\\0.019", nullptr, nullptr, "pixel", 0.019},
    {"0.02\\0.02", "0.019\\0.019", "GEOMETRY", nullptr, "pixel-geometry", 0.019},
    {"0.02\\0.02", "0.019\\0.019", "FIDUCIAL", nullptr, "pixel-fiducial", 0.019},
    {"0.02\\0.02", "0.03\\0.03", "FIDUCIAL", nullptr, "conflict", 0.02},
    {"0.02\\0.02", "0.005\\0.005", nullptr, nullptr, "conflict", 0.02},
    {nullptr, "0.03\\0.04", nullptr, nullptr, "pixel", 0.03},
    {nullptr, "0.03\\0.03", "FIDUCIAL", nullptr, "pixel-fiducial", 0.03},
    {nullptr, nullptr, nullptr, "0.05\\0.05", "nominal-scanned", 0.05},
    {nullptr, "0.05\\0.05", nullptr, "0.05\\0.05", "nominal-scanned", 0.05},
    {"0\\0", nullptr, nullptr, nullptr, "none", 0},
    {"-0.02\\-0.02", nullptr, nullptr, nullptr, "none", 0},
    {"0.02", nullptr, nullptr, nullptr, "none", 0},
    {"nan\\nan", nullptr, nullptr, nullptr, "none", 0},
};

TEST(Header, SpacingSaysWhereItComesFrom) {
  sample::silence_dcmtk();
  for (const SpacingCase& c : kSpacings) {
    SCOPED_TRACE(testing::Message()
                 << (c.imager ? c.imager : "-") << " " << (c.pixel ? c.pixel : "-"));
    DcmItem d;
    if (c.imager) d.putAndInsertString(DCM_ImagerPixelSpacing, c.imager);
    if (c.pixel) d.putAndInsertString(DCM_PixelSpacing, c.pixel);
    if (c.type) d.putAndInsertString(DCM_PixelSpacingCalibrationType, c.type);
    if (c.scanned) d.putAndInsertString(DCM_NominalScannedPixelSpacing, c.scanned);
    const Spacing spacing = read_spacing(d);
    EXPECT_EQ(spacing.source, c.source);
    EXPECT_EQ(spacing.row_mm.has_value(), c.row_mm > 0);
    if (c.row_mm > 0) {
      EXPECT_DOUBLE_EQ(spacing.row_mm.value(), c.row_mm);
    }
  }
}

void add_code(DcmItem& d, const DcmTagKey& sequence, const char* code, const char* meaning = "x") {
  DcmItem* item = nullptr;
  ASSERT_TRUE(d.findOrCreateSequenceItem(sequence, item, -2).good());
  item->putAndInsertString(DCM_CodeValue, code);
  item->putAndInsertString(DCM_CodeMeaning, meaning);
}

TEST(Header, JawComesFromTeethRegionsOrWordsInThatOrder) {
  DcmItem teeth;
  add_code(teeth, DCM_AnatomicRegionSequence, "661005");
  add_code(teeth, DCM_PrimaryAnatomicStructureSequence, "866006002");
  add_code(teeth, DCM_PrimaryAnatomicStructureSequence, "24573005");
  const Acquisition a = read_acquisition(teeth);
  EXPECT_EQ(a.jaw, Jaw::mandible);
  EXPECT_EQ(a.teeth, (std::vector<std::string>{"36", "35"}));

  DcmItem words;
  words.putAndInsertString(DCM_SeriesDescription, "PA upper jaw");
  EXPECT_EQ(read_acquisition(words).jaw, Jaw::maxilla);
  add_code(words, DCM_AnatomicRegionSequence, "91609006");
  EXPECT_EQ(read_acquisition(words).jaw, Jaw::mandible);

  add_code(teeth, DCM_AnatomicRegionSequence, "70925003");
  EXPECT_EQ(read_acquisition(teeth).jaw, Jaw::unknown);  // region and teeth contradict
}

TEST(Header, OrientationFlipDistancesAndReasons) {
  DcmItem d;
  EXPECT_TRUE(read_acquisition(d).mirrored_possible);
  d.putAndInsertString(DCM_FieldOfViewHorizontalFlip, "YES");
  EXPECT_TRUE(read_acquisition(d).mirrored_possible);
  d.putAndInsertString(DCM_FieldOfViewHorizontalFlip, "NO");
  d.putAndInsertString(DCM_PatientOrientation, "P\\F");
  d.putAndInsertString(DCM_DistanceSourceToDetector, "330");
  d.putAndInsertString(DCM_DistanceSourceToPatient, "0");
  d.putAndInsertString(DCM_StudyDate, "20260101");
  d.putAndInsertString(DCM_PatientComments, "anxious");
  d.putAndInsertString(DCM_StudyDescription, " Abutment seating ");
  DcmItem* request = nullptr;
  d.findOrCreateSequenceItem(DCM_RequestAttributesSequence, request);
  request->putAndInsertString(DCM_RequestedProcedureDescription, "Seat check 36");
  add_code(d, DCM_ProcedureCodeSequence, "P1", "Implant control");
  const Acquisition a = read_acquisition(d);
  EXPECT_FALSE(a.mirrored_possible);
  EXPECT_EQ(a.horizontal_flip, false);
  EXPECT_EQ(a.patient_orientation_row, "P");
  EXPECT_EQ(a.patient_orientation_column, "F");
  EXPECT_EQ(a.source_to_detector_mm, 330);
  EXPECT_FALSE(a.source_to_patient_mm);
  EXPECT_EQ(a.content_date, "20260101");
  EXPECT_EQ(a.reason_texts.at("StudyDescription"), "Abutment seating");
  EXPECT_EQ(a.reason_texts.at("RequestedProcedureDescription"), "Seat check 36");
  EXPECT_EQ(a.reason_texts.at("ProcedureCodeSequence"), "Implant control | P1");
  EXPECT_EQ(a.reason_texts.count("PatientComments"), 0U);
}

TEST(Header, ProcessingFactsAreThoseOfTheStoredValues) {
  DcmItem d;
  EXPECT_TRUE(read_acquisition(d).processing_facts.empty());
  d.putAndInsertString(DCM_SoftwareVersions, "4.1");
  d.putAndInsertString(DCM_ProcessingFunction, "endo");
  d.putAndInsertString(DCM_PixelIntensityRelationship, "LOG");
  d.putAndInsertString(DCM_AcquisitionDeviceProcessingDescription, "edge 2 ");
  d.putAndInsertString(DCM_WindowCenter, "2048");  // changes the display only
  d.putAndInsertString(DCM_WindowWidth, "4096");
  EXPECT_EQ(
      read_acquisition(d).processing_facts,
      (std::map<std::string, std::string>{{"SoftwareVersions", "4.1"},
                                          {"ProcessingFunction", "endo"},
                                          {"PixelIntensityRelationship", "LOG"},
                                          {"AcquisitionDeviceProcessingDescription", "edge 2"}}));
}

TEST(Header, EveryAttributeAnIntentRuleMayNameIsReadFromTheObject) {
  for (const std::string& keyword : intent_attributes()) {
    SCOPED_TRACE(keyword);
    DcmTag tag;
    ASSERT_TRUE(DcmTag::findTagFromName(keyword.c_str(), tag).good());
    DcmItem d;
    if (tag.getEVR() == EVR_SQ)
      add_code(d, tag, "SEAT", "seat");
    else
      d.putAndInsertString(tag, "SEAT");
    const auto texts = read_acquisition(d).reason_texts;
    ASSERT_EQ(texts.count(keyword), 1U);
    EXPECT_NE(texts.at(keyword).find("SEAT"), std::string::npos);
  }
}

}  // namespace
}  // namespace crestgate
