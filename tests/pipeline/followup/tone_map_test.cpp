// The grey value map with and without a step wedge, where the anatomy itself has changed.
#include "pipeline/followup/tone_map.h"

#include <gtest/gtest.h>

#include <cmath>
#include <random>

namespace crestgate {
namespace {

/// Tone of the follow-up, of a grey value 0..1 in the baseline's tone.
double retoned(double grey) { return 0.85 * std::pow(grey, 1.2) + 0.08; }

/// A smooth scene under noise; in the follow-up everything is `denser` besides another tone.
Frame scene(double denser, bool follow_up) {
  std::mt19937 random(follow_up ? 2 : 1);
  std::normal_distribution<float> noise(0.0F, 2.0F);
  Frame f;
  f.rows = f.columns = 400;
  f.highest_storable = 255;
  for (int y = 0; y < 400; ++y)
    for (int x = 0; x < 400; ++x) {
      double g = (30 + 0.4 * x + 20 * std::sin(0.05 * y) + (x > 160 && x < 240 ? 20 : 0)) / 255;
      if (follow_up) g = retoned(g + denser);
      f.values.push_back(static_cast<float>(255 * g) + noise(random));
    }
  return f;
}

WedgeReading wedge(bool follow_up, int steps) {
  WedgeReading reading;
  for (int i = 0; i < steps; ++i) {
    const double grey = 0.2 + 0.08 * i;
    reading.steps.push_back({i + 1.0, Quantity{255 * (follow_up ? retoned(grey) : grey), 0.5}});
  }
  return reading;
}

std::optional<ToneMap> matched(const WedgeReading& now, const WedgeReading& before, double denser) {
  const Frame a = scene(denser, true), b = scene(0, false);
  ImplantShape shape;
  shape.axis.origin = {200, 120};
  shape.radius_px = 40;
  shape.length_px = 200;
  return match_tones({a, b, shape, shape, Registration(), 0.05, &now, &before});
}

/// Largest error of the map between the greys of the first and the last step, share of the range.
double worst(const ToneMap& map) {
  double most = 0;
  for (double grey = 0.2; grey <= 0.6; grey += 0.02)
    most = std::max(most, std::abs(map(255 * retoned(grey)) / 255 - grey));
  return most;
}

TEST(ToneMap, TheWedgeCountsWhereAnatomyChanged) {
  const auto alone = matched({}, {}, 0.06);
  const auto tied = matched(wedge(true, 6), wedge(false, 6), 0.06);
  ASSERT_TRUE(alone && tied);
  EXPECT_GT(worst(*alone), 0.05);  // the change of the anatomy taken for one of the tone
  EXPECT_LT(worst(*tied), 0.01);
  EXPECT_EQ(tied->wedge_steps, 6);
  EXPECT_NEAR(tied->wedge_correction, 0.06, 0.015);
  for (std::size_t i = 1; i < tied->to.size(); ++i) EXPECT_GE(tied->to[i], tied->to[i - 1]);
  // The anatomy contradicts the wedge, and that is not hidden.
  EXPECT_GT(tied->rest, 0.03);
}

TEST(ToneMap, TheWedgeHardlyMovesAMapThatIsRight) {
  const auto alone = matched({}, {}, 0);
  const auto tied = matched(wedge(true, 6), wedge(false, 6), 0);
  ASSERT_TRUE(alone && tied);
  EXPECT_LT(worst(*alone), 0.02);
  EXPECT_LT(tied->wedge_correction, 0.02);
  EXPECT_EQ(alone->wedge_steps, 0);
}

TEST(ToneMap, FewerThanThreeStepsInBothImagesAreNoWedge) {
  WedgeReading half = wedge(true, 6);
  for (std::size_t i = 2; i < half.steps.size(); ++i) half.steps[i].grey.reset();
  const auto map = matched(half, wedge(false, 6), 0.06);
  ASSERT_TRUE(map);
  EXPECT_EQ(map->wedge_steps, 0);
  EXPECT_EQ(map->wedge_correction, 0.0);
}

}  // namespace
}  // namespace crestgate
