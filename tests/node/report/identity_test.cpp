// What every object carries over from its source, and what it says of itself.
#include "node/report/identity.h"

#include <gtest/gtest.h>

#include <set>

#include "node/report/own_objects.h"
#include "tests/node/report/cases.h"

namespace crestgate {
namespace {

using report_test::all_cases;
using report_test::Case;

std::string value(DcmItem& item, const DcmTagKey& key) {
  OFString text;
  item.findAndGetOFStringArray(key, text);
  return {text.c_str(), text.size()};
}

std::vector<BuiltObject> build(const Case& c, DcmDataset& source) {
  c.source(source);
  auto built = build_objects(c.analysis, c.frame, source, c.rules, c.context);
  EXPECT_TRUE(built.ok()) << c.name << ": " << built.status().text;
  return built.ok() ? built.value() : std::vector<BuiltObject>{};
}

/// The image an object speaks of: the one judged, or the one it was compared with.
DcmDataset& image_of(const BuiltObject& object, const Case& c, DcmDataset& judged) {
  return object.kind == "baseline-state" ? *c.context.annotated_baselines.at(0).source : judged;
}

class EveryCase : public testing::TestWithParam<Case> {};

TEST_P(EveryCase, PatientAndStudyAreCopiedByteForByteAndNothingIsInvented) {
  DcmDataset source;
  const auto objects = build(GetParam(), source);
  ASSERT_GE(objects.size(), 2U);
  for (const BuiltObject& object : objects) {
    DcmFileFormat file;
    report_test::parse(object, file);
    DcmDataset& d = *file.getDataset();
    DcmDataset& image = image_of(object, GetParam(), source);
    for (const DcmTagKey& key :
         {DCM_SpecificCharacterSet, DCM_PatientName, DCM_PatientID, DCM_IssuerOfPatientID,
          DCM_PatientBirthDate, DCM_PatientSex, DCM_StudyInstanceUID, DCM_StudyDate, DCM_StudyTime,
          DCM_StudyID, DCM_AccessionNumber, DCM_ReferringPhysicianName, DCM_StudyDescription}) {
      EXPECT_EQ(value(d, key), value(image, key)) << object.kind << DcmTag(key).getTagName();
    }
    for (const DcmTagKey& type2 :
         {DCM_PatientName, DCM_PatientID, DCM_PatientBirthDate, DCM_PatientSex, DCM_StudyDate,
          DCM_StudyTime, DCM_StudyID, DCM_AccessionNumber, DCM_ReferringPhysicianName}) {
      EXPECT_TRUE(d.tagExists(type2)) << object.kind << DcmTag(type2).getTagName();
    }
    EXPECT_EQ(value(d, DCM_SOPInstanceUID), object.sop_instance_uid);
    EXPECT_EQ(value(d, DCM_SOPClassUID), object.sop_class_uid);
    EXPECT_EQ(value(d, DCM_SoftwareVersions), "0.1.0");
    EXPECT_LE(value(d, DCM_SeriesDescription).size(), 64U);
    EXPECT_NE(value(d, DCM_SeriesInstanceUID), value(image, DCM_SeriesInstanceUID));
  }
}

TEST_P(EveryCase, EveryObjectRefersToTheSourceImageAndItsSeries) {
  DcmDataset source;
  for (const BuiltObject& object : build(GetParam(), source)) {
    DcmFileFormat file;
    report_test::parse(object, file);
    DcmDataset& of = image_of(object, GetParam(), source);
    DcmStack stack;
    bool image = false, series = false;
    while (file.getDataset()->nextObject(stack, OFTrue).good()) {
      auto* element = dynamic_cast<DcmElement*>(stack.top());
      if (element == nullptr || stack.card() < 3) continue;
      OFString text;
      if (element->getTag() == DCM_ReferencedSOPInstanceUID) {
        element->getOFString(text, 0);
        image = image || text == value(of, DCM_SOPInstanceUID).c_str();
      }
      if (element->getTag() == DCM_SeriesInstanceUID) {
        element->getOFString(text, 0);
        series = series || text == value(of, DCM_SeriesInstanceUID).c_str();
      }
    }
    EXPECT_TRUE(image && series) << object.kind;
  }
}

TEST_P(EveryCase, OwnObjectsAreKnownEvenWithoutPrivateAttributesAndSourcesNever) {
  DcmDataset source;
  const auto objects = build(GetParam(), source);
  EXPECT_FALSE(is_own_object(source));
  for (const BuiltObject& object : objects) {
    DcmFileFormat file;
    report_test::parse(object, file);
    DcmDataset& d = *file.getDataset();
    EXPECT_TRUE(is_own_object(d)) << object.kind;
    for (Uint16 element = 0; element <= 0x10; ++element) {
      delete d.remove(DcmTagKey(0x0099, element));
    }
    EXPECT_TRUE(is_own_object(d)) << object.kind << " stripped";
  }
}

TEST_P(EveryCase, SameInputsGiveTheSameBytesAndEveryObjectItsOwnUid) {
  DcmDataset source, again;
  const auto first = build(GetParam(), source), second = build(GetParam(), again);
  ASSERT_EQ(first.size(), second.size());
  std::set<std::string> uids;
  for (std::size_t i = 0; i < first.size(); ++i) {
    EXPECT_EQ(first[i].bytes, second[i].bytes) << first[i].kind;
    EXPECT_TRUE(uids.insert(first[i].sop_instance_uid).second);
  }
}

TEST_P(EveryCase, TheSourceIsNotTouched) {
  DcmDataset source, untouched;
  build(GetParam(), source);
  GetParam().source(untouched);
  EXPECT_EQ(source.compare(untouched), 0);
}

INSTANTIATE_TEST_SUITE_P(Report, EveryCase, testing::ValuesIn(all_cases()),
                         [](const auto& param_info) {
                           std::string name = param_info.param.name;
                           std::replace(name.begin(), name.end(), '-', '_');
                           return name;
                         });

TEST(Identity, OneSeriesPerModality) {
  DcmDataset source;
  Case c = report_test::all_cases()[3];  // gap and tilt: two notes
  std::map<std::string, std::set<std::string>> series;
  for (const BuiltObject& object : build(c, source)) {
    DcmFileFormat file;
    report_test::parse(object, file);
    series[value(*file.getDataset(), DCM_Modality)].insert(
        value(*file.getDataset(), DCM_SeriesInstanceUID));
  }
  ASSERT_EQ(series.size(), 4U);
  for (const auto& [modality, uids] : series) EXPECT_EQ(uids.size(), 1U) << modality;
}

TEST(Identity, NewRulesAndNewSoftwareMakeNewUids) {
  DcmDataset source;
  Case c = report_test::base_case("base");
  const auto first = build(c, source);
  c.analysis.ruleset_digest[0] = '2';
  const auto other_rules = build(c, source);
  c.context.software_version = "0.2.0";
  const auto other_software = build(c, source);
  EXPECT_NE(first[0].sop_instance_uid, other_rules[0].sop_instance_uid);
  EXPECT_NE(other_rules[0].sop_instance_uid, other_software[0].sop_instance_uid);
}

TEST(Identity, AMissingUidIsRefusedByName) {
  DcmDataset source;
  const Case c = report_test::base_case("base");
  c.source(source);
  delete source.remove(DCM_StudyInstanceUID);
  const auto built = build_objects(c.analysis, c.frame, source, c.rules, c.context);
  ASSERT_FALSE(built.ok());
  EXPECT_EQ(built.status().code, Code::invalid_input);
  EXPECT_EQ(built.status().tag, "(0020,000d)");
  EXPECT_NE(built.status().text.find("StudyInstanceUID"), std::string::npos);
}

TEST(Identity, OurTimeIsGivenInTheSourcesOffset) {  // C.12.1.1.8: one offset per data set
  DcmDataset source;
  const auto objects = build(report_test::base_case("base"), source);
  DcmFileFormat file;
  report_test::parse(objects[0], file);
  EXPECT_EQ(value(*file.getDataset(), DCM_TimezoneOffsetFromUTC), "+0100");
  EXPECT_EQ(value(*file.getDataset(), DCM_ContentTime), "085000");  // 07:50 at +0000
}

TEST(Identity, TimeShiftsOverMidnightAndYears) {
  const auto [date, time] = shift_time("20261231", "233000", "+0000", "+0545");
  EXPECT_EQ(date, "20270101");
  EXPECT_EQ(time, "051500");
  const auto [same_date, same_time] = shift_time("20261231", "233000", "", "+0100");
  EXPECT_EQ(same_date + same_time, "20261231233000");
}

TEST(Identity, ALaterReportNamesItsPredecessorWhichStaysAsItWas) {
  DcmDataset source, again;
  Case c = report_test::base_case("base");
  const auto first = build(c, source);
  DcmFileFormat file;
  report_test::parse(first[0], file);
  const std::string first_uid = first[0].sop_instance_uid;
  c.context.prior_report_uids = {first_uid};
  c.context.baseline_uids = {"2.25.55"};
  c.context.known_documents = {{value(*file.getDataset(), DCM_SOPClassUID), first_uid,
                                value(*file.getDataset(), DCM_StudyInstanceUID),
                                value(*file.getDataset(), DCM_SeriesInstanceUID)}};
  const auto later = build(c, again);
  EXPECT_NE(later[0].sop_instance_uid, first_uid);
  DcmFileFormat later_file;
  report_test::parse(later[0], later_file);
  DcmDataset& d = *later_file.getDataset();
  DcmItem *study = nullptr, *series = nullptr, *document = nullptr;
  ASSERT_TRUE(d.findAndGetSequenceItem(DCM_PredecessorDocumentsSequence, study).good());
  ASSERT_TRUE(study->findAndGetSequenceItem(DCM_ReferencedSeriesSequence, series).good());
  EXPECT_EQ(value(*series, DCM_SeriesInstanceUID),
            value(*file.getDataset(), DCM_SeriesInstanceUID));
  ASSERT_TRUE(series->findAndGetSequenceItem(DCM_ReferencedSOPSequence, document).good());
  EXPECT_EQ(value(*document, DCM_ReferencedSOPInstanceUID), first_uid);
  // Marked for readers too, as an item of its own with the private concept 'Earlier report'.
  std::ostringstream dump;
  d.print(dump, 0);
  const std::size_t marked = dump.str().find("CG-223");
  ASSERT_NE(marked, std::string::npos);
  EXPECT_NE(dump.str().find(first_uid, marked), std::string::npos);
  // The predecessor is neither changed nor built again under its UID.
  for (const BuiltObject& object : later) {
    for (const BuiltObject& old : first) EXPECT_NE(object.sop_instance_uid, old.sop_instance_uid);
  }
}

TEST(Identity, PredecessorsAreReferredToWhenTheirPlaceIsKnown) {
  DcmDataset source;
  for (const Case& c : all_cases()) {
    if (c.name != "second-attempt-with-history") continue;
    DcmFileFormat file;
    report_test::parse(build(c, source)[0], file);
    DcmItem* study = nullptr;
    ASSERT_TRUE(
        file.getDataset()->findAndGetSequenceItem(DCM_PredecessorDocumentsSequence, study).good());
    EXPECT_EQ(value(*study, DCM_StudyInstanceUID), "2.25.1002");
  }
}

}  // namespace
}  // namespace crestgate
