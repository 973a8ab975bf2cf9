#include "pipeline/detect/segments.h"

#include <gtest/gtest.h>
#include <cmath>
#include <random>

namespace crestgate {
namespace {

TEST(Segments, BreaksWhereBothFlanksTurn) {
  std::mt19937 generator(7);
  std::normal_distribution<double> normal(0.0, 0.3);
  std::vector<double> m(150), p(150);
  for (int i = 0; i < 150; ++i) {
    const double w = i < 60 ? 40.0 : i < 61 ? 38.0 : 34.0 + 0.2 * (i - 61);
    m[i] = w + normal(generator);
    p[i] = w + normal(generator);
  }
  m[20] = std::nan("");
  const std::vector<Segment> s = split_silhouette(m, p, 0.3, 4);
  ASSERT_GE(s.size(), 2U);
  ASSERT_LE(s.size(), 4U);
  EXPECT_NEAR(s.front().last, 60, 4);  // resolved to the shortest segment
  EXPECT_NEAR(s.front().slope[0], 0.0, 0.02);
  EXPECT_NEAR(s.back().slope[1], 0.2, 0.02);
}

TEST(Segments, OneStraightFlankIsOneSegment) {
  std::mt19937 generator(8);
  std::normal_distribution<double> normal(0.0, 0.3);
  std::vector<double> m(120), p(120);
  for (int i = 0; i < 120; ++i)
    m[i] = 30 + 0.05 * i + normal(generator), p[i] = 30 + normal(generator);
  EXPECT_EQ(split_silhouette(m, p, 0.3, 4).size(), 1U);
}

}  // namespace
}  // namespace crestgate
