// The grey value map with and without a step wedge, where the anatomy itself has changed.
#include "pipeline/followup/tone_map.h"

#include <gtest/gtest.h>

#include <cmath>
#include <random>

#include "tests/pipeline/followup/drawn_tones.h"

namespace crestgate {
namespace {

/// Tone of the follow-up, of a grey value 0..1 in the baseline's tone.
double retoned(double grey) { return 0.85 * std::pow(grey, 1.2) + 0.08; }

WedgeReading wedge(bool follow_up, int steps) {
  WedgeReading reading;
  for (int i = 0; i < steps; ++i) {
    const double grey = 0.2 + 0.08 * i;
    reading.steps.push_back({i + 1.0, Quantity{255 * (follow_up ? retoned(grey) : grey), 0.5}});
  }
  return reading;
}

/// In the follow-up everything is `denser` besides another tone.
std::optional<ToneMap> matched(const WedgeReading& now, const WedgeReading& before, double denser) {
  std::mt19937 random_now(2), random_before(1);
  const Frame a = drawn_tones(random_now, 2.0F, [denser](double g) { return retoned(g + denser); });
  const Frame b = drawn_tones(random_before, 2.0F, [](double g) { return g; });
  const ImplantShape shape = drawn_body();
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
