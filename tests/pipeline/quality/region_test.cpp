#include "pipeline/quality/regions.h"

#include <gtest/gtest.h>

#include <random>

#include "pipeline/quality/noise.h"
#include "pipeline/quality/quality.h"

namespace crestgate {
namespace {

Frame noisy(int rows, int columns, double mean, double sd, double top = 4095) {
  Frame f;
  f.rows = rows;
  f.columns = columns;
  f.highest_storable = 4095;
  std::mt19937 random(7);
  std::normal_distribution<double> normal(mean, sd);
  f.values.resize(static_cast<std::size_t>(rows) * columns);
  for (float& v : f.values)
    v = static_cast<float>(std::round(std::min(std::max(normal(random), 0.0), top)));
  return f;
}

TEST(Regions, FramesAndBarsAreNotContent) {
  Frame f = noisy(100, 80, 1000, 50);
  for (int y = 0; y < 100; ++y)
    for (int x = 0; x < 80; ++x)
      if (y < 12 || y > 94 || x < 3 || x > 76) f.at(x, y) = y < 12 ? 0.0F : 4095.0F;
  const Content c = content_of(f);
  EXPECT_EQ(c.x0, 3);
  EXPECT_EQ(c.x1, 77);
  EXPECT_EQ(c.y0, 12);
  EXPECT_EQ(c.y1, 95);
  const QualityMeasures q = measure_quality(f, {});
  EXPECT_EQ(q.clipped_high, 0.0);
  EXPECT_EQ(q.clipped_low, 0.0);
}

TEST(Regions, ClippingIsSeenAtStorableEndsAndAtAPlateauBelowThem) {
  const QualityMeasures none = measure_quality(noisy(200, 200, 2000, 100), {});
  EXPECT_EQ(none.clipped_high + none.clipped_low, 0.0);
  // One sixth of a normal distribution lies above mean + sd.
  const QualityMeasures plateau = measure_quality(noisy(200, 200, 2000, 100, 2100), {});
  EXPECT_NEAR(plateau.clipped_high, 0.159, 0.01);
  EXPECT_EQ(plateau.clipped_low, 0.0);
  const QualityMeasures ends = measure_quality(noisy(200, 200, 100, 100), {});
  EXPECT_NEAR(ends.clipped_low, 0.159, 0.01);
}

TEST(Regions, NoiseOfAKnownFieldUnderARampAndSteps) {
  for (double sd : {2.0, 30.0}) {
    Frame f = noisy(300, 300, 1000, sd);
    for (int y = 0; y < 300; ++y)
      for (int x = 0; x < 300; ++x)
        f.at(x, y) += static_cast<float>(3 * x + 2 * y + (x > 150) * 900);
    const auto measured = noise_sd(f, content_of(f), {-1, 1e9F});
    ASSERT_TRUE(measured);
    EXPECT_NEAR(*measured, sd, 0.03 * sd);
  }
}

TEST(Regions, DegenerateFramesAreAnswered) {
  EXPECT_FALSE(measure_quality({}, {}).noise);
  EXPECT_FALSE(measure_quality(noisy(4, 300, 9, 1), {}).noise);
  const QualityMeasures flat = measure_quality(noisy(100, 100, 50, 0), {});
  EXPECT_FALSE(flat.blur_sigma_px);
  EXPECT_FALSE(flat.noise);
  Frame padded = noisy(100, 100, 500, 20);
  padded.padding.assign(padded.values.size(), 1);
  EXPECT_FALSE(measure_quality(padded, {}).blur_sigma_px);
}

}  // namespace
}  // namespace crestgate
