#include "node/report/presentation_state.h"

#include <gtest/gtest.h>

#include <cmath>

#include "node/report/coordinates.h"
#include "tests/node/report/cases.h"

namespace crestgate {
namespace {

double to_segment(Point p, Point a, Point b) {
  const double dx = b.x - a.x, dy = b.y - a.y;
  const double t = std::clamp(((p.x - a.x) * dx + (p.y - a.y) * dy) / (dx * dx + dy * dy), 0., 1.);
  return std::hypot(p.x - a.x - t * dx, p.y - a.y - t * dy);
}

/// Smallest distance between two segments by fine sampling of one: independent of how lines are
/// made.
double apart(Point a0, Point a1, Point b0, Point b1) {
  double least = 1e9;
  for (int i = 0; i <= 1000; ++i) {
    const double t = i / 1000.0;
    least =
        std::min(least, to_segment({a0.x + t * (a1.x - a0.x), a0.y + t * (a1.y - a0.y)}, b0, b1));
  }
  return least;
}

TEST(PresentationState, NothingIsDrawnNearJointAndCrest) {
  for (const double turn_deg : {0.0, 35.0, 90.0, 180.0, 250.0}) {
    for (const double crest_mm : {-0.3, 0.1, 0.45, 0.84, 3.0}) {
      Analysis a = report_test::base_case("x").analysis;
      Implant& implant = a.implants[0];
      a.rows = a.columns = 1400;
      implant.shape.axis = {{700, 700}, {std::sin(radians(turn_deg)), std::cos(radians(turn_deg))}};
      implant.crest.left.contact_px = crest_mm / a.scale.mm_per_px->value;
      const double mm = a.scale.mm_per_px->value, r = implant.shape.radius_px;
      const AxisFrame& axis = implant.shape.axis;
      const auto lines = presentation_lines(a);
      EXPECT_GE(lines.size(), 3U);
      // image left is smaller x, or smaller y for a lying axis (analysis.h)
      const Point right = axis.right();
      const double along = std::abs(right.x) >= std::abs(right.y) ? right.x : right.y;
      const double left_u = along > 0 ? -r : r;
      for (const Polyline& line : lines) {
        EXPECT_GE(mm * apart(axis.to_image(-r, 0), axis.to_image(r, 0), line[0], line[1]), 0.5);
        EXPECT_GE(mm * to_segment(axis.to_image(left_u, crest_mm / mm), line[0], line[1]), 0.5);
        EXPECT_GE(mm * to_segment(axis.to_image(-left_u, *implant.crest.right.contact_px), line[0],
                                  line[1]),
                  0.5);
      }
    }
  }
}

TEST(PresentationState, CoordinatesCountFromTheFirstPixelsCorner) {
  // PS3.3 C.10.5.1.2: the origin is the top left corner of the top left pixel, so its centre, which
  // the JSON calls (0, 0), is (0.5, 0.5).
  EXPECT_EQ(to_dicom_graphic({0, 0}).x, 0.5);
  const report_test::Case c = report_test::base_case("x");
  DcmDataset source;
  c.source(source);
  const auto built = build_objects(c.analysis, c.frame, source, c.rules, c.context);
  for (const BuiltObject& object : built.value()) {
    if (object.kind != "presentation-state") continue;
    DcmFileFormat file;
    report_test::parse(object, file);
    DcmItem* annotation = nullptr;
    DcmItem* graphic = nullptr;
    file.getDataset()->findAndGetSequenceItem(DCM_GraphicAnnotationSequence, annotation);
    annotation->findAndGetSequenceItem(DCM_GraphicObjectSequence, graphic);
    Float32 x = 0, y = 0;
    graphic->findAndGetFloat32(DCM_GraphicData, x, 0);
    graphic->findAndGetFloat32(DCM_GraphicData, y, 1);
    const Point first = presentation_lines(c.analysis)[0][0];
    EXPECT_FLOAT_EQ(x, static_cast<float>(first.x + 0.5));
    EXPECT_FLOAT_EQ(y, static_cast<float>(first.y + 0.5));
    // The axis of a vertical implant runs through the centres of column 350.
    EXPECT_FLOAT_EQ(x, 350.5F);
    return;
  }
  FAIL() << "no presentation state";
}

TEST(PresentationState, NoneForColourSourcesOrWhenSwitchedOff) {
  report_test::Case c = report_test::base_case("x");
  DcmDataset source;
  c.source(source);
  EXPECT_TRUE(presentation_state_wanted(c.analysis, source, c.rules));
  source.putAndInsertUint16(DCM_SamplesPerPixel, 3);
  EXPECT_FALSE(presentation_state_wanted(c.analysis, source, c.rules));
  source.putAndInsertUint16(DCM_SamplesPerPixel, 1);
  c.rules.output.presentation_state = false;
  EXPECT_FALSE(presentation_state_wanted(c.analysis, source, c.rules));
}

TEST(PresentationState, APlatformThatNothingMarksIsNotDrawn) {
  Analysis a = report_test::base_case("x").analysis;
  const std::size_t with = presentation_lines(a).size();
  a.implants[0].shape.platform_marked = false;
  EXPECT_EQ(presentation_lines(a).size(), with - 2);
}

TEST(PresentationState, LinesStayInsideTheImage) {
  Analysis a = report_test::base_case("x").analysis;
  a.implants[0].shape.axis.origin = {20, 880};
  for (const Polyline& line : presentation_lines(a)) {
    for (const Point& p : line) {
      EXPECT_TRUE(p.x >= 0 && p.y >= 0 && p.x <= a.columns - 1 && p.y <= a.rows - 1);
    }
  }
}

}  // namespace
}  // namespace crestgate
