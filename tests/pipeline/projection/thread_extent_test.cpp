// Where a thread ends, on a drawn body: sinusoidal flanks between two heights, smooth elsewhere.
#include "pipeline/projection/thread_extent.h"

#include <gtest/gtest.h>

#include <cmath>

#include "config/units.h"

namespace crestgate {
namespace {

constexpr double kPitch = 20.0, kRadius = 40.0, kBegin = 60.0, kEnd = 200.0;

/// Axis along column 100 from row 20 down; beside it a coarser pattern that is no thread.
Frame drawn_body(double texture, double end = kEnd) {
  Frame frame;
  frame.rows = 300;
  frame.columns = 200;
  for (int y = 0; y < frame.rows; ++y)
    for (int x = 0; x < frame.columns; ++x) {
      const double u = std::abs(x - 100.0), v = y - 20.0;
      const bool threaded = v > kBegin && v < end;
      const double edge = kRadius + (threaded ? 4 * std::cos(2 * kPi * v / kPitch) : 0.0);
      const double body = 1 / (1 + std::exp(2 * (u - edge)));
      const double beside = texture * std::cos(2 * kPi * v / (1.3 * kPitch));
      frame.values.push_back(static_cast<float>(body + (1 - body) * beside));
    }
  return frame;
}

ImplantShape body_shape() {
  ImplantShape shape;
  shape.axis.origin = {100, 20};
  shape.length_px = 240;
  shape.radius_px = kRadius;
  shape.minus_flank_in_view = shape.plus_flank_in_view = true;
  return shape;
}

TEST(ThreadExtent, EndsWhereTheThreadEnds) {
  for (const double texture : {0.0, 0.1}) {
    const auto extent =
        thread_extent(drawn_body(texture), body_shape(), {kRadius + 4, 0}, kPitch, 90.0, 180.0);
    ASSERT_TRUE(extent);
    EXPECT_NEAR(extent->begin_px, kBegin, 0.5 * kPitch) << texture;
    EXPECT_NEAR(extent->end_px, kEnd, 0.5 * kPitch) << texture;
  }
}

TEST(ThreadExtent, TooShortARunIsNone) {
  const Frame frame = drawn_body(0.1, kBegin + 1.5 * kPitch);
  EXPECT_FALSE(thread_extent(frame, body_shape(), {kRadius + 4, 0}, kPitch, 65.0, 85.0));
}

}  // namespace
}  // namespace crestgate
