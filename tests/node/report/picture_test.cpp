#include "node/report/picture.h"
#include "node/report/comparison_text.h"
#include "node/report/subtraction_picture.h"

#include <gtest/gtest.h>

#include "node/report/panels.h"
#include "node/report/text.h"
#include "node/report/wording.h"
#include "tests/node/report/cases.h"

namespace crestgate {
namespace {

using report_test::all_cases;
using report_test::Case;

class EveryPicture : public testing::TestWithParam<Case> {};

TEST_P(EveryPicture, NoTextOverlapsAnotherLeavesThePageOrIsCut) {
  const Case& c = GetParam();
  Canvas canvas(kPictureWidth, kPictureHeight);
  draw_picture(canvas, c.analysis, c.frame, c.rules, c.context, Language());
  const Box page{0, 0, double(kPictureWidth), double(kPictureHeight)};
  const std::vector<Box>& boxes = canvas.text_boxes();
  EXPECT_GE(boxes.size(), 12U);
  for (std::size_t i = 0; i < boxes.size(); ++i) {
    EXPECT_TRUE(page.contains(boxes[i])) << i;
    for (std::size_t j = 0; j < i; ++j) EXPECT_FALSE(boxes[i].overlaps(boxes[j])) << j << " " << i;
  }
  EXPECT_TRUE(canvas.cut_texts().empty()) << canvas.cut_texts().front();
  EXPECT_TRUE(canvas.small_texts().empty()) << canvas.small_texts().front();
}

TEST_P(EveryPicture, SmallFormsHoldTheSamePromise) {
  const Case& c = GetParam();
  Canvas canvas(kSmallPictureWidth, kSmallPictureHeight);
  draw_small_picture(canvas, c.analysis, c.frame, c.rules, c.context, Language());
  const Box page{0, 0, double(kSmallPictureWidth), double(kSmallPictureHeight)};
  const std::vector<Box>& boxes = canvas.text_boxes();
  for (std::size_t i = 0; i < boxes.size(); ++i) {
    EXPECT_TRUE(page.contains(boxes[i])) << i;
    for (std::size_t j = 0; j < i; ++j) EXPECT_FALSE(boxes[i].overlaps(boxes[j])) << j << " " << i;
  }
  EXPECT_TRUE(canvas.cut_texts().empty()) << canvas.cut_texts().front();
  EXPECT_TRUE(canvas.small_texts().empty()) << canvas.small_texts().front();
}

INSTANTIATE_TEST_SUITE_P(Report, EveryPicture, testing::ValuesIn(all_cases()),
                         [](const auto& param_info) {
                           std::string name = param_info.param.name;
                           std::replace(name.begin(), name.end(), '-', '_');
                           return name;
                         });

TEST_P(EveryPicture, LabelsAndTheirLinesKeepOffOtherImplantsAndLabels) {
  const Case& c = GetParam();
  Canvas canvas(kPictureWidth, kPictureHeight);
  const RadiographLayout layout =
      draw_radiograph(canvas, {20, 312, 940, 690}, c.analysis, c.frame, Language());
  ASSERT_EQ(layout.labels.size(), c.analysis.implants.size());
  for (std::size_t i = 0; i < layout.labels.size(); ++i) {
    const auto& [from, to] = layout.lines[i];
    for (std::size_t k = 0; k < layout.labels.size(); ++k) {
      EXPECT_FALSE(layout.implants[k].overlaps(layout.labels[i])) << i << " on " << k;
      EXPECT_FALSE(crosses(from, to, layout.bodies[k])) << i << " through " << k;
      if (k == i) continue;
      EXPECT_FALSE(layout.labels[k].overlaps(layout.labels[i])) << i << " on " << k;
      EXPECT_FALSE(crosses(from, to, layout.labels[k])) << i << " through label " << k;
    }
  }
}

TEST(Picture, TheTubesMoveIsDrawnOnlyWhereItIsAdvised) {
  const auto texts = [](const Case& c) {
    Canvas canvas(kPictureWidth, kPictureHeight);
    draw_picture(canvas, c.analysis, c.frame, c.rules, c.context, Language());
    return canvas.text_boxes().size();
  };
  for (Case c : all_cases()) {
    if (c.analysis.verdict != Verdict::repeat_if_justified) continue;
    const std::size_t with = texts(c);
    for (Implant& implant : c.analysis.implants) implant.move_tube = false;
    EXPECT_LT(texts(c), with) << c.name;
  }
}

bool draws(const Case& c, const std::string& words) {
  Canvas canvas(kPictureWidth, kPictureHeight);
  draw_picture(canvas, c.analysis, c.frame, c.rules, c.context, Language());
  const std::vector<std::string>& texts = canvas.texts();
  return std::find(texts.begin(), texts.end(), words) != texts.end();
}

TEST(Picture, TheReasonShownIsTheOneThatKeptItFromAnAnswer) {
  Case c = report_test::base_case("x");
  c.analysis.verdict = c.analysis.implants[0].verdict = Verdict::not_assessable;
  const std::string intent = "judged as seating view: the request says so";
  const std::string unknown = "smallest visible gap not known: the platform is not marked";
  c.analysis.reasons = {{"intents", {}, intent, {}, {}, ""},
                        {"seating.largest_hidden_gap_mm", 1, unknown, {}, 0.05, "mm"}};
  EXPECT_TRUE(draws(c, sentence(unknown)));
  EXPECT_FALSE(draws(c, sentence(intent)));
}

TEST(Picture, APlatformThatNothingMarksIsNotShownAsItsPlace) {
  Case c = report_test::base_case("x");
  EXPECT_FALSE(draws(c, "Joint: place not certain"));
  c.analysis.implants[0].shape.platform_marked = false;
  EXPECT_TRUE(draws(c, "Joint: place not certain"));
  EXPECT_TRUE(draws(c, "The platform is not marked"));
  c.analysis.implants[0].shape.platform_in_view = false;
  EXPECT_TRUE(draws(c, "outside the image"));
}

/// English a quarter longer, as other languages are.
Language longer() {
  Language::Texts texts;
  for (const auto& [key, text] : english_texts()) {
    int letters = 0;
    for (const char c : text) {
      texts[key] += c;
      letters = (c >= 'a' && c <= 'z') || c == '{' || letters < 0 ? letters + 1 : 0;
      if (c == '{') letters = -1000;  // names of placeholders stay
      if (c == '}') letters = 0;
      if (letters == 3) texts[key] += 'm', letters = 0;
    }
  }
  return Language("qaa", "Longer", texts);
}

TEST(Picture, ALongerLanguageIsSetSmallerAndNotCut) {
  const Language text = longer();
  ASSERT_GT(text.get("caution.bone").size(), 1.2 * Language().get("caution.bone").size());
  for (const Case& c : all_cases())
    for (const bool small : {false, true}) {
      Canvas canvas(small ? kSmallPictureWidth : kPictureWidth,
                    small ? kSmallPictureHeight : kPictureHeight);
      (small ? draw_small_picture : draw_picture)(canvas, c.analysis, c.frame, c.rules, c.context,
                                                  text);
      EXPECT_TRUE(canvas.cut_texts().empty()) << c.name << ": " << canvas.cut_texts().front();
    }
}

TEST(Picture, ALineIsClippedAgainstABox) {
  const Box box{10, 10, 10, 10};
  EXPECT_TRUE(crosses({0, 15}, {30, 15}, box));
  EXPECT_TRUE(crosses({12, 12}, {13, 13}, box));
  EXPECT_FALSE(crosses({0, 15}, {9, 15}, box));
  EXPECT_FALSE(crosses({0, 0}, {30, 5}, box));
  EXPECT_FALSE(crosses({5, 0}, {5, 30}, box));
  EXPECT_TRUE(crosses({0, 20}, {20, 0}, box));
}

TEST(Picture, SurvivesEmptyFramesAndTinyOnes) {
  Case c = report_test::base_case("x");
  c.frame = {};
  EXPECT_TRUE(picture_png(c.analysis, c.frame, c.rules, c.context).ok());
  c.frame = report_test::painted_frame(3, 2, {1, 1}, 1, 1);
  EXPECT_TRUE(picture_png(c.analysis, c.frame, c.rules, c.context).ok());
}

TEST(Picture, TheSubtractionTellsItsPairAndCutsNothing) {
  for (Case c : all_cases()) {
    if (c.context.subtractions.empty()) continue;
    for (const char* reason :
         {"", "baseline: no bone edge stands out of the noise beside this flank"}) {
      if (*reason != 0) {
        c.analysis.comparisons[0].implants[0].crest.left = {};
        c.analysis.comparisons[0].implants[0].crest.left.reason = reason;
      }
      const Canvas canvas = draw_subtraction(c.context.subtractions[0], c.analysis, Language());
      EXPECT_TRUE(canvas.small_texts().empty()) << c.name << ": " << canvas.small_texts()[0];
      EXPECT_GE(canvas.text_boxes().size(), 7U);
    }
  }
}

TEST(Picture, TheLimitIsNeverRoundedDown) {
  EXPECT_EQ(limit_um(0.0395), "40");
  EXPECT_EQ(limit_um(0.0401), "41");
  EXPECT_EQ(limit_um(0.04), "40");
}

TEST(Wording, AFindingLeadsWhateverTheVerdict) {
  for (const Case& c : all_cases()) {
    const Headline line = headline(c.analysis, Language());
    EXPECT_EQ(line.is_finding, !c.analysis.findings.empty()) << c.name;
    if (c.analysis.findings.empty()) continue;
    const std::string& kind = c.analysis.findings.front().kind;
    EXPECT_EQ(line.main.find(kind == "gap visible"            ? "Gap visible"
                             : kind == "bone change resolved" ? "Bone level changed"
                                                              : "Image processing changed"),
              0U)
        << c.name;
  }
}

TEST(Wording, AbsenceOfAGapAlwaysNamesItsLimit) {
  Analysis a = report_test::base_case("x").analysis;
  EXPECT_EQ(headline(a, Language()).main, "No gap seen; gaps under 40 µm could hide");
  a.implants[0].joint.smallest_visible_gap_mm.reset();
  EXPECT_NE(headline(a, Language()).main.find("not known"), std::string::npos);
}

TEST(Wording, AChangeIsToldWithItsUncertaintyRoundedUpEverywhere) {
  for (const Case& c : all_cases()) {
    if (c.name != "follow-up-loss") continue;
    EXPECT_EQ(headline(c.analysis, Language()).main,
              "Bone level changed at implant 36: loss 0.45 ± 0.19 mm, mesial");
    const std::string cell = change_cell(c.analysis, c.analysis.implants[0], Language());
    EXPECT_EQ(cell, "mesial: loss 0.45 ± 0.19 mm\ndistal: within measurement error");
    EXPECT_EQ(comparison_lines(c.analysis, Language()).at(1),
              "Crestal bone, loss positive: Implant 36, mesial (left): +0.45 ± 0.19 mm, resolved: "
              "loss; smallest change this pair could resolve 0.20 mm; +0.16 mm a year");
  }
}

TEST(Wording, AnAngleWithinItsUncertaintyIsNotADirection) {
  Implant i = report_test::base_case("x").analysis.implants[0];
  EXPECT_NE(angle_text(i, Language()).find("within measurement error"), std::string::npos);
  i.projection.vertical_angle_deg = Quantity{-7.0, 1.0};
  i.projection.direction_resolved = true;
  EXPECT_NE(angle_text(i, Language()).find("root side"), std::string::npos);
  i.projection.vertical_angle_deg = Quantity{7.0, 1.0};
  EXPECT_NE(angle_text(i, Language()).find("crown side"), std::string::npos);
  i.projection.direction_resolved = false;
  EXPECT_NE(angle_text(i, Language()).find("direction not known"), std::string::npos);
  i.projection.vertical_angle_deg.reset();
  EXPECT_NE(angle_text(i, Language()).find("not assessable"), std::string::npos);
}

TEST(Wording, TheAdviceLeadsWithTheFindingsAndThePictureWithoutThem) {
  for (const Case& c : all_cases()) {
    EXPECT_FALSE(c.analysis.action.empty()) << c.name;
    for (const Finding& finding : c.analysis.findings)
      EXPECT_EQ(c.analysis.action.find(finding.text), std::string::npos) << c.name;
    if (c.name == "gap-usable") {
      EXPECT_EQ(c.analysis.advice,
                "Gap visible at implant 1 (image right), 0.180 mm ± 0.050 mm: check seating before "
                "the patient leaves; no reason for a repeat found.");
    }
    if (c.name == "usable-seating") {
      EXPECT_EQ(c.analysis.advice, "No reason for a repeat found.");
    }
  }
}

TEST(Wording, SeriesDescriptionFitsAndIsOneAsciiValue) {  // LO: 64 characters, no backslash
  for (const Case& c : all_cases()) {
    const std::string words = series_description(c.analysis, c.rules, Language());
    EXPECT_LE(words.size(), 64U);
    for (const char letter : words) EXPECT_TRUE(letter >= 32 && letter < 127 && letter != '\\');
    EXPECT_NE(words.find(verdict_name(c.analysis.verdict)), std::string::npos);
  }
}

TEST(Text, FoldsSignsAndFormatsWithoutLocale) {
  EXPECT_EQ(ascii_fold("40 µm ± 1°"), "40 um +/- 1 deg");
  EXPECT_EQ(fixed(-0.04, 1), "0.0");
  EXPECT_EQ(fixed(1234.56, 1), "1234.6");
  EXPECT_EQ(ascii_fold("Größe für Zähne, łódź"), "Grosse fur Zahne, lodz");
  EXPECT_EQ(ascii_fold("山 ▷"), "? ?");
}

}  // namespace
}  // namespace crestgate
