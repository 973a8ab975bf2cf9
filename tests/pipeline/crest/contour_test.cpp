// Which edge beside a flank is taken for the bone's first one, and when two compete. Drawn strips.
#include "pipeline/crest/contour.h"

#include <gtest/gtest.h>

#include <algorithm>
#include <cmath>
#include <random>

namespace crestgate {
namespace {

constexpr int kWindow = 6, kColumns = 24, kRows = 240;

/// Grey value rises by `size` about `row` within `ramp` px, faster and faster.
struct Rise {
  double row, size, ramp = 1.0;
};

FlankStrip strip_with(const std::vector<Rise>& rises) {
  FlankStrip strip;
  strip.columns = kColumns;
  strip.rows = kRows;
  std::mt19937 engine(7);
  std::normal_distribution<float> noise(0.0F, 4.0F);
  for (int r = 0; r < kRows; ++r)
    for (int c = 0; c < kColumns; ++c) {
      double grey = 500.0;
      for (const Rise& x : rises)
        grey += x.size * std::pow(std::clamp((r - x.row) / x.ramp + 0.5, 0.0, 1.0), 1.5);
      strip.values.push_back(static_cast<float>(grey) + noise(engine));
    }
  return strip;
}

double mean_row(const Contour& contour) {
  double sum = 0.0;
  for (const double row : contour.row) sum += row;
  return sum / static_cast<double>(contour.row.size());
}

TEST(Contour, OneEdgeHasNoRival) {
  const auto contour = find_contour(strip_with({{120, 200}}), kWindow);
  ASSERT_TRUE(contour);
  EXPECT_FALSE(contour->rival);
  EXPECT_NEAR(mean_row(*contour), 120.0, 2.0);
}

TEST(Contour, TwoPlatesOfLikeStepGiveTheCoronalOneWithoutARival) {
  const auto contour = find_contour(strip_with({{100, 150}, {124, 200}}), kWindow);
  ASSERT_TRUE(contour);
  EXPECT_FALSE(contour->rival);
  EXPECT_NEAR(mean_row(*contour), 100.0, 2.0);
}

TEST(Contour, AFaintEdgeCoronalOfTheStrongOneIsARival) {
  const auto contour = find_contour(strip_with({{70, 90}, {160, 250}}), kWindow);
  ASSERT_TRUE(contour);
  EXPECT_TRUE(contour->rival);
}

TEST(Contour, ASharpRiseIsBoneASoftOneGumAndOneBetweenARival) {
  const auto with_ramp = [](double px) {
    return find_contour(strip_with({{80, 300, px}, {160, 250}}), kWindow);
  };
  const auto sharp = with_ramp(8), doubtful = with_ramp(16), soft = with_ramp(26);
  ASSERT_TRUE(sharp && doubtful && soft);
  EXPECT_FALSE(sharp->rival);
  EXPECT_NEAR(mean_row(*sharp), 80.0, 2.0);
  EXPECT_TRUE(doubtful->rival);
  EXPECT_FALSE(soft->rival);
  EXPECT_NEAR(mean_row(*soft), 160.0, 3.0);
}

}  // namespace
}  // namespace crestgate
