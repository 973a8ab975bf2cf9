// Drawn, not rendered: turned bodies as attenuation chords, so that nothing of the phantom, on
// which the weights were learned, comes in.
#include "pipeline/platform/either_end.h"

#include <gtest/gtest.h>

#include <algorithm>
#include <cmath>
#include <functional>

namespace crestgate {
namespace {

constexpr double kMmPerPx = 0.04, kRadiusMm = 2.0, kLengthMm = 10.0, kPitchMm = 0.8;
constexpr int kColumns = 220, kRows = 420;
constexpr double kCentreX = 110.0, kPlatformY = 150.0;

/// Half width in mm at height v (mm, apical positive), left (-1) and right (+1); 0 = no metal.
using Outline = std::function<double(double v, int side)>;

double threaded(double v, int side) {
  if (v < 0 || v > kLengthMm) return 0.0;
  if (v < 1.0) return kRadiusMm;
  const double phase = 2 * kPi * (v / kPitchMm + (side > 0 ? 0.5 : 0.0));
  return kRadiusMm - 0.15 * (1 - std::cos(phase));
}

double chord(double w, double u) { return 2 * std::sqrt(std::max(0.0, w * w - u * u)); }

Frame draw(
    const Outline& half_width, const Outline& bore = [](double, int) { return 0.0; }) {
  Frame frame;
  frame.rows = kRows;
  frame.columns = kColumns;
  frame.highest_storable = 4095.0F;
  for (int y = 0; y < kRows; ++y)
    for (int x = 0; x < kColumns; ++x) {
      double sum = 0.0;
      for (int i = -2; i <= 2; ++i)
        for (int k = -2; k <= 2; ++k) {  // 0.06 mm of blur, roughly
          const double u = (x + 0.5 * k - kCentreX) * kMmPerPx;
          const double v = (y + 0.5 * i - kPlatformY) * kMmPerPx;
          const int side = u < 0 ? -1 : 1;
          sum += (chord(half_width(v, side), u) - chord(bore(v, side), u)) / 25.0;
        }
      const double texture = 12.0 * std::sin(0.9 * x + 1.7 * y) * std::cos(1.3 * x - 0.6 * y);
      frame.values.push_back(static_cast<float>(800.0 + 600.0 * sum + texture));
    }
  return frame;
}

/// As the detection would hand it over, its platform off by `error_mm`.
ImplantShape shape_of(double error_mm) {
  ImplantShape s;
  s.axis.origin = {kCentreX, kPlatformY + error_mm / kMmPerPx};
  s.radius_px = kRadiusMm / kMmPerPx;
  s.length_px = (kLengthMm - error_mm) / kMmPerPx;
  s.platform_in_view = s.apex_in_view = true;
  s.minus_edge_px.assign(static_cast<std::size_t>(s.length_px) + 1, -s.radius_px);
  s.plus_edge_px.assign(static_cast<std::size_t>(s.length_px) + 1, s.radius_px);
  return s;
}

Scale scale() { return {Quantity{kMmPerPx, 0.0}, "test"}; }

ProjectionMeasures seen_straight() {
  ProjectionMeasures p;
  p.vertical_angle_deg = Quantity{0.5, 1.0};
  p.thread_pitch_px = kPitchMm / kMmPerPx;
  return p;
}

double narrower_part(double v, int side) { return v < 0 ? 1.4 : threaded(v, side); }
double flush_part_with_bevels(double v, int side) {
  if (v < 0) return v < -3.5 ? 3.2 : std::min(kRadiusMm, kRadiusMm - 0.15 - v);
  return std::min(threaded(v, side), kRadiusMm - 0.15 + v);
}
double flush_part_without_a_line(double v, int side) {
  return v < 1.0 ? kRadiusMm : threaded(v, side);
}

/// The same with the blunt tip that implants have, over the last 2 mm.
Outline with_a_tip(const Outline& outline) {
  return [outline](double v, int side) {
    return outline(v, side) * std::sqrt(std::clamp((kLengthMm - v) / 2.0, 0.0, 1.0));
  };
}

void expect_found(const Outline& outline, double error_mm, Above above) {
  const PlatformFix fix =
      locate_platform(draw(outline), shape_of(error_mm), seen_straight(), scale());
  EXPECT_NEAR(fix.v_px * kMmPerPx, -error_mm, 0.12);
  EXPECT_TRUE(fix.marked) << fix.share;
  EXPECT_GT(fix.sd_px, 0.0);
  EXPECT_EQ(fix.above, above);
}

TEST(Platform, NarrowerPartIsFoundWhereverTheDetectionStopped) {
  for (const double error : {-1.5, 0.0, 1.5}) expect_found(narrower_part, error, Above::narrower);
}

TEST(Platform, FlushPartIsFoundByItsBevelsUnderACrown) {
  for (const double error : {-1.5, 0.0, 1.0})
    expect_found(flush_part_with_bevels, error, Above::flush);
}

TEST(Platform, BareImplantEndsAtItsPlatform) {
  const auto bore = [](double v, int) { return v > 0 && v < 3.0 ? 1.2 : 0.0; };
  const PlatformFix fix =
      locate_platform(draw(threaded, bore), shape_of(1.0), seen_straight(), scale());
  EXPECT_NEAR(fix.v_px * kMmPerPx, -1.0, 0.12);
  EXPECT_TRUE(fix.marked) << fix.share;
  EXPECT_EQ(fix.above, Above::nothing);
}

TEST(Platform, SolidTopMayBeACoverScrewsAndIsNotMarked) {
  const PlatformFix fix = locate_platform(draw(threaded), shape_of(1.0), seen_straight(), scale());
  EXPECT_FALSE(fix.marked) << fix.share;
}

TEST(Platform, AFlushPartWithoutALineIsNotMarked) {
  const PlatformFix fix =
      locate_platform(draw(flush_part_without_a_line), shape_of(0.7), seen_straight(), scale());
  EXPECT_FALSE(fix.marked) << fix.share << " at " << fix.v_px * kMmPerPx;
}

TEST(Platform, SettlingMovesTheOriginAndKeepsTheSilhouetteInPlace) {
  const Frame frame = draw(narrower_part);
  ImplantShape shape = shape_of(1.0);
  const ImplantShape before = shape;
  PlatformFix fix;
  fix.v_px = -1.0 / kMmPerPx;
  fix.sd_px = 2.0;
  fix.marked = true;
  fix.rivals_px = {-40.0};
  settle_platform(frame, fix, &shape);
  ASSERT_EQ(shape.rival_platforms_px.size(), 1U);
  EXPECT_NEAR(shape.axis.to_image(0.0, shape.rival_platforms_px[0]).y,
              before.axis.to_image(0.0, -40.0).y, 1e-9);
  EXPECT_NEAR(shape.platform_px().y, kPlatformY, 1e-9);
  EXPECT_NEAR(shape.apex_px().y, before.apex_px().y, 1e-9);
  EXPECT_TRUE(shape.platform_marked);
  EXPECT_DOUBLE_EQ(*shape.platform_sd_px, 2.0);
  ASSERT_GE(shape.plus_edge_px.size(), before.plus_edge_px.size() + 24);
  // The smooth collar, 1 mm. Half of the chord at 0.85 R is reached at 0.96 R.
  const double half_level_px = 0.96 * kRadiusMm / kMmPerPx;
  for (std::size_t i = 5; i < 20; ++i) {
    EXPECT_NEAR(shape.plus_edge_px[i], half_level_px, 1.5) << i;
    EXPECT_NEAR(shape.minus_edge_px[i], -half_level_px, 1.5) << i;
  }
}

TEST(EitherEnd, ABodyTurnedOverTwiceIsItself) {
  const ImplantShape shape = shape_of(0.5);
  const ImplantShape once = turned_over(shape), twice = turned_over(once);
  EXPECT_NEAR(once.platform_px().y, shape.apex_px().y, 1e-9);
  EXPECT_NEAR(once.axis.apical.y, -shape.axis.apical.y, 1e-9);
  EXPECT_NEAR(twice.platform_px().y, shape.platform_px().y, 1e-9);
  EXPECT_EQ(twice.minus_edge_px, shape.minus_edge_px);
}

TEST(EitherEnd, AnOpenEndIsSettledByThePlatform) {
  const Frame frame = draw(with_a_tip(narrower_part));
  for (const bool wrong_way : {false, true}) {
    ImplantShape shape = wrong_way ? turned_over(shape_of(0.0)) : shape_of(0.0);
    shape.coronal_known = false;
    const PlatformFix fix = locate_at_either_end(frame, seen_straight(), scale(), &shape);
    EXPECT_TRUE(shape.coronal_known) << wrong_way;
    EXPECT_GT(shape.axis.apical.y, 0.9) << wrong_way;
    EXPECT_NEAR(fix.v_px * kMmPerPx, 0.0, 0.12) << wrong_way;
  }
}

TEST(EitherEnd, AKnownEndIsDoubtedWhereTheOtherIsFarBetterMarked) {
  const auto bore = [](double v, int) { return v > 0 && v < 3.0 ? 1.2 : 0.0; };
  ImplantShape shape = turned_over(shape_of(0.0));
  shape.coronal_known = true;
  locate_at_either_end(draw(with_a_tip(threaded), bore), seen_straight(), scale(), &shape);
  EXPECT_FALSE(shape.coronal_known);
  EXPECT_GT(shape.axis.apical.y, 0.9);
}

TEST(EitherEnd, OfAPlatformOutOfViewNothingIsDecided) {
  const Frame frame = draw(with_a_tip(narrower_part));
  ImplantShape shape = turned_over(shape_of(0.0));
  shape.coronal_known = shape.platform_in_view = false;
  locate_at_either_end(frame, seen_straight(), scale(), &shape);
  EXPECT_FALSE(shape.coronal_known);
  EXPECT_LT(shape.axis.apical.y, -0.9);
}

TEST(EitherEnd, WithoutACueTheEndStaysOpen) {
  Frame empty = draw([](double, int) { return 0.0; });
  std::fill(empty.values.begin(), empty.values.end(), 800.0F);
  ImplantShape shape = shape_of(0.0);
  shape.coronal_known = false;
  locate_at_either_end(empty, seen_straight(), scale(), &shape);
  EXPECT_FALSE(shape.coronal_known);
}

TEST(Platform, NothingToSeeGivesNoFix) {
  Frame empty = draw([](double, int) { return 0.0; });
  std::fill(empty.values.begin(), empty.values.end(), 800.0F);
  const PlatformFix fix = locate_platform(empty, shape_of(0.0), seen_straight(), scale());
  EXPECT_FALSE(fix.marked);
  EXPECT_EQ(fix.v_px, 0.0);
}

}  // namespace
}  // namespace crestgate
