// A known implant as a ruler, on measures set by hand: choice, distortion, scales, contradictions.
#include "pipeline/projection/known_type.h"

#include <gtest/gtest.h>

#include <cmath>

#include "config/units.h"

namespace crestgate {
namespace {

ImplantType type(const std::string& name, double diameter_mm, double pitch_mm, double length_mm) {
  ImplantType t;
  t.name = name;
  t.outer_diameter_mm = t.platform_diameter_mm = diameter_mm;
  t.thread_pitch_mm = pitch_mm;
  t.length_mm = length_mm;
  return t;
}

/// A 4.1 mm body with 0.8 mm pitch, 10 mm long, at 0.02 mm per px, perpendicular.
struct Seen {
  Acquisition acquisition;
  ImplantShape shape;
  ProjectionMeasures projection;
  Scale scale;
  Seen() {
    shape.length_px = 500;
    shape.platform_in_view = shape.apex_in_view = shape.platform_marked = true;
    shape.platform_sd_px = 3.0;
    projection.thread_pitch_px = 40.0;
    projection.crest_diameter_px = 205.0;
    projection.outer_diameter_px = 197.0;
    projection.vertical_angle_deg = Quantity{0.0, 1.0};
    scale.mm_per_px = Quantity{0.02, 0.0006};
    scale.source = "imager";
  }
  TypeChoice choose(const std::vector<ImplantType>& types) const {
    return choose_type(types, acquisition, shape, projection, scale);
  }
};

TEST(KnownType, TheOnlyFittingTypeIsChosen) {
  const std::vector<ImplantType> types = {type("coarse", 4.1, 1.2, 10), type("right", 4.1, 0.8, 10),
                                          type("wide", 5.0, 0.8, 10)};
  const TypeChoice choice = Seen().choose(types);
  ASSERT_TRUE(choice.type);
  EXPECT_EQ(choice.known.name, "right");
  EXPECT_EQ(choice.known.chosen_by, "best fit");
}

TEST(KnownType, TwoFittingTypesOrNoneGiveNone) {
  const TypeChoice two = Seen().choose({type("a", 4.1, 0.8, 10), type("b", 4.2, 0.8, 10)});
  EXPECT_FALSE(two.type);
  EXPECT_EQ(two.known.reason, "several types of the table fit");
  const TypeChoice none = Seen().choose({type("a", 3.3, 0.8, 10)});
  EXPECT_FALSE(none.type);
  EXPECT_EQ(none.known.reason, "no type of the table fits");
  EXPECT_TRUE(Seen().choose({}).known.reason.empty());
}

TEST(KnownType, LengthTellsTwoOfASeriesApartWhereThePlatformIsMarked) {
  const std::vector<ImplantType> series = {type("short", 4.1, 0.8, 8), type("long", 4.1, 0.8, 10)};
  Seen seen;
  ASSERT_TRUE(seen.choose(series).type);
  EXPECT_EQ(seen.choose(series).known.name, "long");
  seen.shape.platform_marked = false;
  EXPECT_FALSE(seen.choose(series).type);
}

TEST(KnownType, TheRequestChoosesUnlessThePictureContradicts) {
  std::vector<ImplantType> types = {type("A", 4.1, 0.8, 10), type("B", 4.2, 0.8, 10)};
  types[1].attribute = "ImageComments";
  types[1].contains = "type b";
  Seen seen;
  seen.acquisition.reason_texts["ImageComments"] = "Site 36, TYPE B, regular";
  ASSERT_TRUE(seen.choose(types).type);
  EXPECT_EQ(seen.choose(types).known.name, "B");
  EXPECT_EQ(seen.choose(types).known.chosen_by, "rule");
  seen.projection.thread_pitch_px = 30.0;
  const TypeChoice contradicted = seen.choose(types);
  EXPECT_FALSE(contradicted.type);
  EXPECT_NE(contradicted.known.reason.find("pitch over diameter differs by -23 %"),
            std::string::npos)
      << contradicted.known.reason;
}

TEST(KnownType, OddAndEvenStartsExcludeEachOther) {
  std::vector<ImplantType> types = {type("one start", 4.1, 0.8, 10),
                                    type("two starts", 4.1, 0.8, 10)};
  types[1].starts = 2;
  Seen seen;
  EXPECT_FALSE(seen.choose(types).type);
  seen.projection.thread_starts = 2;
  ASSERT_TRUE(seen.choose(types).type);
  EXPECT_EQ(seen.choose(types).known.name, "two starts");
}

TEST(KnownType, ReceptorTiltShowsAsLengthening) {
  // phi = 10 degrees: v stretches by 1 / cos(10 degrees) at theta = 0 (design, section 3).
  const double stretch = 1 / std::cos(radians(10.0));
  Seen seen;
  seen.projection.thread_pitch_px = 40.0 * stretch;
  const ImplantType t = type("A", 4.1, 0.8, 10);
  add_distortion(t, seen.shape, seen.projection);
  EXPECT_NEAR(seen.projection.axial_to_transverse_scale.value(), stretch, 1e-9);
  // Crest diameter 2.5 %, tolerance 0.05 / sqrt(3) / 4.1 = 0.7 %, pitch 0.4 %; k = 2.
  EXPECT_NEAR(seen.projection.axial_to_transverse_scale_expanded_uncertainty.value(),
              2 * stretch * std::sqrt(0.025 * 0.025 + 0.00704 * 0.00704 + 0.004 * 0.004), 1e-4);
  EXPECT_NEAR(scale_along(t, seen.projection).mm_per_px->value, 0.02 / stretch, 1e-9);
  const Quantity across = *scale_across(t, seen.shape, seen.projection).mm_per_px;
  EXPECT_NEAR(across.value, 0.02, across.expanded_uncertainty);
  EXPECT_LT(across.expanded_uncertainty, 0.0006);
}

TEST(KnownType, ASmoothBodyIsMeasuredByItsWidth) {
  Seen seen;
  seen.projection = {};
  seen.projection.outer_diameter_px = 205.0;
  const ImplantType smooth = type("smooth", 4.1, 0, 10);
  ASSERT_TRUE(seen.choose({smooth, type("threaded", 4.1, 0.8, 10)}).type);
  EXPECT_EQ(seen.choose({smooth, type("threaded", 4.1, 0.8, 10)}).known.name, "smooth");
  EXPECT_NEAR(scale_across(smooth, seen.shape, seen.projection).mm_per_px->value, 0.02, 1e-9);
  EXPECT_FALSE(scale_along(smooth, seen.projection).mm_per_px);
}

Scale scale_of(double value, double u, const char* source) {
  Scale scale;
  scale.mm_per_px = Quantity{value, u};
  scale.source = source;
  return scale;
}

TEST(SettleScale, TheSharperOfTwoThatAgreeIsUsedAndTheOtherKept) {
  Analysis a;
  a.scale = scale_of(0.0200, 0.0006, "imager");
  settle_scale(a, {scale_of(0.0202, 0.0002, "known pitch of A")});
  EXPECT_EQ(a.scale.source, "known pitch of A");
  ASSERT_EQ(a.other_scales.size(), 1u);
  EXPECT_EQ(a.other_scales[0].source, "imager");
  EXPECT_TRUE(a.scale_disagreement.empty());
}

TEST(SettleScale, ContradictionIsNamedAndSpanned) {
  Analysis a;
  a.scale = scale_of(0.0200, 0.0006, "imager");
  settle_scale(a, {scale_of(0.0250, 0.0002, "known pitch of A")});
  EXPECT_EQ(a.scale.source, "imager");
  EXPECT_NEAR(a.scale.mm_per_px->expanded_uncertainty, 0.0050, 1e-12);
  EXPECT_NE(a.scale_disagreement.find("differ by 25 %"), std::string::npos) << a.scale_disagreement;
}

TEST(SettleScale, WithoutAHeaderTheKnownDimensionIsTheScale) {
  Analysis a;
  settle_scale(a, {Scale{}, scale_of(0.0250, 0.0002, "known pitch of A")});
  EXPECT_EQ(a.scale.source, "known pitch of A");
  EXPECT_TRUE(a.other_scales.empty());
}

}  // namespace
}  // namespace crestgate
