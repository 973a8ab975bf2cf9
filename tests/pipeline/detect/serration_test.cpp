#include "pipeline/detect/serration.h"

#include <gtest/gtest.h>
#include <cmath>
#include <random>

namespace crestgate {
namespace {

constexpr double kPi = 3.14159265358979323846;

/// Flank at `radius` with a sine of `depth` (peak to peak), slightly tapered, and noise.
std::vector<double> flank(int n, double sign, double pitch, double phase, double depth,
                          double noise, unsigned seed) {
  std::mt19937 generator(seed);
  std::normal_distribution<double> normal(0.0, noise);
  std::vector<double> e(n);
  for (int i = 0; i < n; ++i)
    e[i] = sign * (60.0 - 0.03 * i + 0.5 * depth * std::cos(2 * kPi * (i / pitch - phase)) +
                   normal(generator));
  return e;
}

TEST(Serration, FindsPitchAndWhetherStartsAreOddOrEven) {
  for (const double pitch : {9.0, 17.3, 31.0})
    for (const double offset : {0.0, 0.5}) {
      const Serration s = find_serration(flank(220, -1, pitch, 0.2, 6, 0.7, 1),
                                         flank(220, 1, pitch, 0.2 + offset, 6, 0.7, 2), 6, 48, 150);
      EXPECT_NEAR(s.pitch, pitch, 0.02 * pitch);
      EXPECT_GT(s.strength, 0.8);
      EXPECT_GT(s.weaker_share, 0.6);
      EXPECT_TRUE(s.pitches_agree);
      const double away = std::fabs(s.offset - offset);
      EXPECT_LT(std::min(away, 1 - away), 0.05) << pitch << ' ' << offset;
    }
}

TEST(Serration, FlankBlurredAwayShowsAsWeakerShare) {
  const Serration s =
      find_serration(flank(220, -1, 18, 0, 6, 0.7, 1), flank(220, 1, 18, 0, 0, 0.7, 2), 6, 48, 150);
  EXPECT_NEAR(s.pitch, 18, 0.4);
  EXPECT_GT(s.minus_strength, 0.8);
  EXPECT_LT(s.weaker_share, 0.1);
}

TEST(Serration, ThreadOnPartOfTheBodyIsFoundThere) {
  std::vector<double> m = flank(400, -1, 16, 0, 6, 0.5, 3), p = flank(400, 1, 16, 0.5, 6, 0.5, 4);
  const std::vector<double> sm = flank(400, -1, 16, 0, 0, 0.5, 5),
                            sp = flank(400, 1, 16, 0, 0, 0.5, 6);
  for (int i = 0; i < 180; ++i) m[i] = sm[i], p[i] = sp[i];
  const Serration s = find_serration(m, p, 6, 48, 100);
  EXPECT_NEAR(s.pitch, 16, 0.4);
  EXPECT_GT(s.first, 120);
  EXPECT_GT(s.last, 330);
}

TEST(Serration, NoiseAloneStaysWeak) {
  int strong = 0;
  for (unsigned seed = 0; seed < 40; ++seed) {
    const Serration s = find_serration(flank(220, -1, 18, 0, 0, 1, 10 + seed),
                                       flank(220, 1, 18, 0, 0, 1, 100 + seed), 6, 48, 150);
    if (s.strength > 0.35) ++strong;
  }
  EXPECT_EQ(strong, 0);
}

TEST(Serration, GapsAreBridgedAndAStraightFlankLeavesNothing) {
  std::vector<double> e(100);
  for (int i = 0; i < 100; ++i) e[i] = 3.0 + 0.2 * i;
  for (int i = 40; i < 47; ++i) e[i] = std::nan("");
  for (const double r : flank_serration(e, 12)) EXPECT_NEAR(r, 0.0, 1e-9);
}

}  // namespace
}  // namespace crestgate
