// The state written into the study of the image compared with: its text, its place, its UID.
#include "node/report/baseline_state.h"

#include <gtest/gtest.h>

#include <algorithm>
#include <cmath>
#include <set>

#include "tests/node/report/cases.h"

namespace crestgate {
namespace {

using report_test::Case;

Case annotated_case() {
  for (const Case& c : report_test::all_cases())
    if (c.name == "follow-up-annotated-baseline") return c;
  throw std::runtime_error("no such case");
}

std::vector<BuiltObject> states(const Case& c) {
  DcmDataset source;
  c.source(source);
  auto built = build_objects(c.analysis, c.frame, source, c.rules, c.context);
  EXPECT_TRUE(built.ok());
  std::vector<BuiltObject> found;
  for (BuiltObject& object : built.value())
    if (object.kind == "baseline-state") found.push_back(std::move(object));
  return found;
}

std::string uid_of(const Case& c) {
  const auto found = states(c);
  return found.size() == 1 ? found[0].sop_instance_uid : std::to_string(found.size()) + " states";
}

std::string value(DcmFileFormat& file, const DcmTagKey& key) {
  OFString text;
  file.getDataset()->findAndGetOFStringArray(key, text, true);
  return text.c_str();
}

TEST(BaselineState, IsOfTheEarlierImagesStudyAndSaysWhatWasFound) {
  const auto found = states(annotated_case());
  ASSERT_EQ(found.size(), 1U);
  DcmFileFormat file;
  report_test::parse(found[0], file);
  EXPECT_EQ(value(file, DCM_StudyInstanceUID), "2.25.56");
  EXPECT_EQ(value(file, DCM_StudyDate), "20240110");
  EXPECT_EQ(value(file, DCM_ReferencedSOPInstanceUID), "2.25.55");
  const std::string words = value(file, DCM_UnformattedTextValue);
  for (const char* part :
       {"2.25.1001", "mesial: loss 0.45", "distal: within measurement error", "Not for diagnosis"})
    EXPECT_NE(words.find(part), std::string::npos) << part << " in: " << words;
}

TEST(BaselineState, NoneWithoutAChangeOrForAnotherImage) {
  Case c = annotated_case();
  c.analysis.comparisons[0].baseline_uid = "2.25.65";
  EXPECT_TRUE(states(c).empty());
  c = annotated_case();
  for (CrestChange* side : {&c.analysis.comparisons[0].implants[0].crest.left,
                            &c.analysis.comparisons[0].implants[0].crest.right})
    side->change_mm.reset();
  EXPECT_TRUE(states(c).empty());
  c = annotated_case();
  c.context.annotated_baselines[0].source->putAndInsertUint16(DCM_SamplesPerPixel, 3);
  EXPECT_TRUE(states(c).empty());
}

TEST(BaselineState, UidFollowsFromBothImagesRulesAndVersionOnly) {
  const std::string uid = uid_of(annotated_case());
  Case later = annotated_case();
  later.context.now_date = "20300101";
  EXPECT_EQ(uid_of(later), uid);
  std::set<std::string> seen = {uid};
  const auto changed = [&](auto change) {
    Case c = annotated_case();
    change(c);
    EXPECT_TRUE(seen.insert(uid_of(c)).second);
  };
  changed([](Case& c) { c.context.software_version = "9"; });
  changed([](Case& c) { c.analysis.ruleset_digest = "other"; });
  changed([](Case& c) {
    const auto fill = c.source;
    c.source = [fill](DcmDataset& d) {
      fill(d);
      d.putAndInsertString(DCM_SOPInstanceUID, "2.25.1002");
    };
  });
}

TEST(BaselineState, OutcomesThatDoNotFitAreCounted) {
  const Language english;
  const std::vector<std::string> outcomes(20, std::string(90, 'x'));
  const std::string words = state_words("Head", outcomes, "Cautions.", english);
  EXPECT_LE(words.size(), kMostStateCharacters);
  EXPECT_NE(words.find("more implants"), std::string::npos);
  EXPECT_EQ(words.substr(words.size() - 9), "Cautions.");
  const auto shown = std::count(words.begin(), words.end(), '\n') - 2;
  EXPECT_NE(words.find(std::to_string(20 - shown) + " more"), std::string::npos) << words;
  EXPECT_EQ(state_words("Head", {"one", "two"}, "C", english), "Head\r\none\r\ntwo\r\nC");
}

TEST(BaselineState, TheTextCoversNeitherJointNorCrest) {
  for (const double turn_deg : {0.0, 35.0, 90.0, 180.0, 250.0})
    for (int y = 200; y <= 1200; y += 50) {
      Analysis a = report_test::base_case("x").analysis;
      a.rows = a.columns = 1400;
      Implant& implant = a.implants[0];
      const double mm = a.scale.mm_per_px->value, r = implant.shape.radius_px;
      const double turn = turn_deg * std::acos(-1.0) / 180;
      AxisFrame& axis = implant.shape.axis;
      axis = {{700.0, static_cast<double>(y)}, {std::sin(turn), std::cos(turn)}};
      implant.crest.left.contact_px = 0.8 / mm;
      const TextBox box = state_text_box(a);
      EXPECT_GE(box.top_left.y, 0.0);
      EXPECT_LE(box.bottom_right.y, a.rows);
      for (const double u : {-r, 0.0, r})
        for (const double v : {0.0, 0.8 / mm}) {
          const double at = axis.to_image(u, v).y;
          const double apart = std::max(box.top_left.y - at, at - box.bottom_right.y);
          EXPECT_GE(apart * mm, 0.5) << "turn " << turn_deg << ", y " << y;
        }
    }
}

}  // namespace
}  // namespace crestgate
