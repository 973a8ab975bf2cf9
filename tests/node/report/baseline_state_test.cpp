// The state written into the study of the image compared with: its text, its place, its UID.
#include "node/report/baseline_state.h"

#include <gtest/gtest.h>

#include <dcmtk/config/osconfig.h>
#include <dcmtk/dcmdata/dctk.h>
#include <dcmtk/ofstd/ofchrenc.h>

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
  DcmDataset source;
  const std::vector<std::string> outcomes(20, std::string(90, 'x'));
  const std::string words = state_words(source, "Head", outcomes, "Cautions.", english);
  EXPECT_LE(words.size(), kMostStateCharacters);
  EXPECT_NE(words.find("more implants"), std::string::npos);
  EXPECT_EQ(words.substr(words.size() - 9), "Cautions.");
  const auto shown = std::count(words.begin(), words.end(), '\n') - 2;
  EXPECT_NE(words.find(std::to_string(20 - shown) + " more"), std::string::npos) << words;
  EXPECT_EQ(state_words(source, "Head", {"one", "two"}, "C", english), "Head\r\none\r\ntwo\r\nC");
}

TEST(BaselineState, TheTextIsLegalInTheImagesCharacterSetAndNeverTooLong) {
  const Language english;
  std::string wordy;
  while (wordy.size() < 3000) wordy += "\u00df";  // two bytes each; two letters where folded
  for (const char* set : {"", "ISO_IR 100", "ISO_IR 192"}) {
    DcmDataset source;
    source.putAndInsertString(DCM_SpecificCharacterSet, set);
    const bool utf8 = std::string(set) == "ISO_IR 192";
    const auto ascii = [](char c) { return static_cast<unsigned char>(c) < 0x80; };
    for (const std::string& cautions : {std::string("k\u00fcrzer"), wordy}) {
      const std::string words = state_words(source, "Kopf", {"eins"}, cautions, english);
      EXPECT_EQ(std::all_of(words.begin(), words.end(), ascii), !utf8) << set;
      const OFString given(words.c_str(), words.size());
      if (utf8) {
        EXPECT_LE(OFCharacterEncoding::countCharactersInUTF8String(given), kMostStateCharacters);
        if (cautions == wordy) {  // cut between characters
          EXPECT_EQ(words.substr(words.size() - 5), "\u00df...");
        }
      } else {
        EXPECT_LE(words.size(), kMostStateCharacters);
      }
      EXPECT_EQ(words.substr(words.size() - 3) == "...", cautions == wordy) << set;
    }
  }
}

/// Distance of the box from joint and crest of every implant, in rows.
double least_distance(const Analysis& a, const TextBox& box) {
  double least = 1e9;
  for (const Implant& implant : a.implants)
    for (const double u : {-implant.shape.radius_px, 0.0, implant.shape.radius_px})
      for (const double v :
           {0.0, *implant.crest.left.contact_px, *implant.crest.right.contact_px}) {
        const double at = implant.shape.axis.to_image(u, v).y;
        least = std::min(least, std::max(box.top_left.y - at, at - box.bottom_right.y));
      }
  return least;
}

/// One implant alone, and with a second wherever that one's joint lies: a box as high as usual
/// would cover many of them.
TEST(BaselineState, TheTextCoversNeitherJointNorCrest) {
  Analysis a = report_test::base_case("x").analysis;
  a.rows = a.columns = 1400;
  const double mm = a.scale.mm_per_px->value;
  a.implants.resize(1);
  a.implants[0].crest.left.contact_px = 0.8 / mm;
  a.implants[0].crest.right.contact_px = 0.1 / mm;
  int low = 0;
  for (const double turn_deg : {0.0, 35.0, 90.0, 180.0, 250.0})
    for (int y = 200; y <= 1200; y += 50)
      for (int other = 200; other <= 1200; other += 100) {
        const double turn = turn_deg * std::acos(-1.0) / 180;
        AxisFrame& axis = a.implants[0].shape.axis;
        axis = {{700.0, static_cast<double>(y)}, {std::sin(turn), std::cos(turn)}};
        Analysis both = a;
        both.implants.push_back(a.implants[0]);
        both.implants[1].shape.axis = {{300.0, static_cast<double>(other)}, {0.0, 1.0}};
        for (const Analysis* image : {&a, &both}) {
          const TextBox box = state_text_box(*image);
          EXPECT_GE(box.top_left.y, 0.0);
          EXPECT_LE(box.bottom_right.y, a.rows);
          const double height = box.bottom_right.y - box.top_left.y;
          EXPECT_GE(height, 1.0);
          low += height < 0.139 * a.rows;
          if (height > 1.0) {
            EXPECT_GE(least_distance(*image, box) * mm, 0.5 - 1e-9)
                << "turn " << turn_deg << ", y " << y << ", other " << other;
          }
        }
      }
  EXPECT_GT(low, 10);  // the case the box had to shrink for was among them
}

TEST(BaselineState, ImplantsThatWereNotComparedAreKeptClear) {
  Case c = annotated_case();
  AnnotatedBaseline& earlier = c.context.annotated_baselines[0];
  const double rows = earlier.analysis.rows;
  const auto bottom_of_box = [&] {
    const auto found = states(c);
    DcmFileFormat file;
    report_test::parse(found.at(0), file);
    DcmItem* annotation = nullptr;
    DcmItem* object = nullptr;
    file.getDataset()->findAndGetSequenceItem(DCM_GraphicAnnotationSequence, annotation, 0);
    annotation->findAndGetSequenceItem(DCM_TextObjectSequence, object, 0);
    Float32 at = -1;
    object->findAndGetFloat32(DCM_BoundingBoxBottomRightHandCorner, at, 1);
    return at;
  };
  const double alone = bottom_of_box();
  Implant other = earlier.analysis.implants[0];
  other.id = 99;
  other.shape.axis.origin.y = alone > rows / 2 ? 0.9 * rows : 0.1 * rows;
  earlier.analysis.implants.push_back(other);
  EXPECT_NE(bottom_of_box() > rows / 2, alone > rows / 2);
}

}  // namespace
}  // namespace crestgate
