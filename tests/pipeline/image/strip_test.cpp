#include "pipeline/image/strip.h"

#include <cmath>
#include <gtest/gtest.h>

namespace crestgate {
namespace {

TEST(AxisFrame, RightFlankIsImageRightWhenTheCrownPointsUp) {
  AxisFrame axis;  // apical = down
  EXPECT_NEAR(axis.right().x, 1.0, 1e-12);
  axis.apical = {0, -1};  // crown down, turned by 180 degrees
  EXPECT_NEAR(axis.right().x, -1.0, 1e-12);
}

TEST(AxisFrame, RoundTrip) {
  AxisFrame axis;
  axis.origin = {12.5, -3.0};
  axis.apical = {std::sin(0.3), std::cos(0.3)};
  const Point uv = axis.from_image(axis.to_image(4.0, 9.0));
  EXPECT_NEAR(uv.x, 4.0, 1e-12);
  EXPECT_NEAR(uv.y, 9.0, 1e-12);
}

TEST(Strip, ReproducesALinearRampAndMarksOutside) {
  Frame frame;
  frame.rows = 20;
  frame.columns = 30;
  frame.values.resize(600);
  for (int y = 0; y < 20; ++y)
    for (int x = 0; x < 30; ++x) frame.at(x, y) = static_cast<float>(2 * x + 3 * y);
  AxisFrame axis;
  axis.origin = {10, 5};
  const Strip strip = sample_strip(frame, axis, -20, 5, 0, 8, 0.5, 0.5);
  EXPECT_TRUE(std::isnan(strip.at(0, 0)));
  EXPECT_NEAR(strip.at(41, 3), 2 * (10 + 0.5) + 3 * (5 + 1.5), 1e-4);
}

}  // namespace
}  // namespace crestgate
