#include "node/report/key_object.h"

#include <gtest/gtest.h>

#include "node/report/codes.h"
#include "node/report/quality_codes.h"
#include "tests/node/report/cases.h"

namespace crestgate {
namespace {

using report_test::all_cases;
using report_test::Case;

Case named(const std::string& name) {
  for (Case& c : all_cases()) {
    if (c.name == name) return c;
  }
  throw std::runtime_error("no case " + name);
}

/// Title code and modifier codes of every note built.
std::vector<std::string> notes(const Case& c) {
  DcmDataset source;
  c.source(source);
  auto built = build_objects(c.analysis, c.frame, source, c.rules, c.context);
  std::vector<std::string> found;
  for (const BuiltObject& object : built.value()) {
    if (object.kind != "key-object-note") continue;
    DcmFileFormat file;
    report_test::parse(object, file);
    std::string line;
    DcmItem* title = nullptr;
    file.getDataset()->findAndGetSequenceItem(DCM_ConceptNameCodeSequence, title);
    OFString code;
    title->findAndGetOFString(DCM_CodeValue, code);
    line = code.c_str();
    DcmItem* item = nullptr;
    for (int i = 0; file.getDataset()->findAndGetSequenceItem(DCM_ContentSequence, item, i).good();
         ++i) {
      DcmItem* name = nullptr;
      DcmItem* value = nullptr;
      if (item->findAndGetSequenceItem(DCM_ConceptNameCodeSequence, name).bad()) continue;
      name->findAndGetOFString(DCM_CodeValue, code);
      if (code != "113011") continue;
      item->findAndGetSequenceItem(DCM_ConceptCodeSequence, value);
      value->findAndGetOFString(DCM_CodeValue, code);
      line += std::string(" ") + code.c_str();
    }
    found.push_back(line);
  }
  return found;
}

using Lines = std::vector<std::string>;

/// SOP Instance UIDs of the images a note names, in order.
std::vector<std::string> named_images(const BuiltObject& note) {
  DcmFileFormat file;
  report_test::parse(note, file);
  std::vector<std::string> uids;
  DcmItem* item = nullptr;
  for (int i = 0; file.getDataset()->findAndGetSequenceItem(DCM_ContentSequence, item, i).good();
       ++i) {
    DcmItem* image = nullptr;
    if (item->findAndGetSequenceItem(DCM_ReferencedSOPSequence, image).bad()) continue;
    OFString uid;
    image->findAndGetOFString(DCM_ReferencedSOPInstanceUID, uid);
    uids.emplace_back(uid.c_str());
  }
  return uids;
}

TEST(KeyObject, ASecondNoteOfAStudyNamesTheFirstsImageToo) {
  Case c = named("gap-and-tilt");
  const char* const io = UID_DigitalIntraOralXRayImageStorageForPresentation;
  c.context.noted_before = {{io, "2.25.901", "2.25.1003", true, false},
                            {io, "2.25.902", "2.25.1903", false, true},
                            {io, "2.25.1001", "2.25.1003", true, true}};  // itself, done before
  DcmDataset source;
  c.source(source);
  const auto built = build_objects(c.analysis, c.frame, source, c.rules, c.context);
  ASSERT_TRUE(built.ok()) << built.status().text;
  std::vector<std::vector<std::string>> images;
  for (const BuiltObject& object : built.value()) {
    if (object.kind == "key-object-note") images.push_back(named_images(object));
  }
  EXPECT_EQ(images, (std::vector<std::vector<std::string>>{{"2.25.1001", "2.25.901"},
                                                           {"2.25.1001", "2.25.902"}}));
}

TEST(KeyObject, RepeatSaysQualityIssueAndWhy) {  // CID 7010, 7011
  EXPECT_EQ(notes(named("tilted-repeat")), (Lines{"113010 111209"}));
}

TEST(KeyObject, AFindingSaysOfInterestWhateverTheVerdict) {
  EXPECT_EQ(notes(named("gap-usable")), (Lines{"113000"}));
  EXPECT_EQ(notes(named("gap-and-tilt")), (Lines{"113010 111209", "113000"}));
}

TEST(KeyObject, ChangedProcessingIsAFindingAndSaysOfInterest) {
  EXPECT_EQ(notes(named("follow-up-other-processing")), (Lines{"113000"}));
  Case c = named("follow-up-other-processing");
  c.rules.mode = Mode::trial;
  EXPECT_TRUE(notes(c).empty());
}

TEST(KeyObject, NoNoteWithoutNeed) {
  EXPECT_TRUE(notes(named("usable-seating")).empty());
  EXPECT_TRUE(notes(named("no-implant")).empty());
}

TEST(KeyObject, NoRepeatNoteOnAnInferredIntent) {
  EXPECT_TRUE(notes(named("inferred-intent")).empty());
  Case c = named("gap-and-tilt");
  c.analysis.intent_from_rule = false;
  EXPECT_EQ(notes(c), (Lines{"113000"}));
}

TEST(KeyObject, NoneInTrialWhenSuppressedOrSwitchedOff) {
  EXPECT_TRUE(notes(named("trial-mode")).empty());
  Case c = named("gap-and-tilt");
  c.context.suppress_notes = true;
  EXPECT_TRUE(notes(c).empty());
  c.context.suppress_notes = false;
  c.rules.output.notes = false;
  EXPECT_TRUE(notes(c).empty());
}

TEST(KeyObject, NeverATitleThatHidesImages) {  // CID 7010: 113001, 113037, 113038, 113039 (IOCM)
  for (const Case& c : all_cases()) {
    for (const std::string& line : notes(c)) {
      const std::string title = line.substr(0, 6);
      EXPECT_TRUE(title == "113000" || title == "113010") << c.name << " " << line;
    }
  }
  for (const CodedConcept& code : all_codes()) EXPECT_STRNE(code.value, "113001");
}

TEST(QualityCodes, FollowTheRulesThatAreNotMet) {
  auto with = [](const std::string& rule, const std::string& bounded_by) {
    Analysis a = report_test::base_case("x").analysis;
    a.reasons = {{rule, 1, "", 2.0, 1.0, ""}};
    a.implants[0].joint.bounded_by = bounded_by;
    std::string codes;
    for (const CodedConcept* code : quality_codes(a)) codes += std::string(code->value) + " ";
    return codes;
  };
  EXPECT_EQ(with("follow_up.largest_vertical_angle_deg", ""), "111209 ");
  EXPECT_EQ(with("exposure.largest_blur_sigma_mm", ""), "111210 ");
  EXPECT_EQ(with("exposure.largest_noise", ""), "111211 ");
  EXPECT_EQ(with("exposure.largest_clipped_fraction", ""), "111212 ");  // dark end clipped more
  EXPECT_EQ(with("seating.largest_hidden_gap_mm", "noise"), "111211 ");
  EXPECT_EQ(with("seating.largest_hidden_gap_mm", ""), "111220 ");
}

TEST(QualityCodes, MetRulesSayNothing) {
  EXPECT_TRUE(quality_codes(report_test::base_case("x").analysis).empty());
  Analysis a = report_test::base_case("x").analysis;
  a.reasons = {{"placement.least_apical_margin_mm", 1, "", 2.5, 2.0, "mm"}};
  EXPECT_TRUE(quality_codes(a).empty());
}

}  // namespace
}  // namespace crestgate
