#include "pipeline/followup/registration.h"

#include <gtest/gtest.h>

#include <cmath>

#include "config/units.h"
#include "pipeline/followup/tone_map.h"
#include "tests/pipeline/followup/drawn_tones.h"

namespace crestgate {
namespace {

/// Outlines of a threaded body whose platform was found `off_px` too far coronal.
Implant threaded(double px_per_mm, double off_px) {
  Implant i;
  const double pitch = 0.7 * px_per_mm, radius = 2.0 * px_per_mm, length = 9.0 * px_per_mm;
  i.shape.radius_px = radius;
  i.shape.length_px = length;
  i.projection.thread_pitch_px = pitch;
  for (int n = 0; n < length; ++n) {
    const double v = n - off_px, phase = 2 * kPi * v / pitch;
    const double depth = v > 0.8 * px_per_mm ? 0.15 * px_per_mm : 0.0;
    i.shape.plus_edge_px.push_back(radius + depth * std::cos(phase));
    i.shape.minus_edge_px.push_back(-(radius + depth * std::cos(phase + kPi)));
  }
  return i;
}

TEST(Registration, ThreadsGivePlaceAndScaleWherePlatformsWereMisread) {
  // Follow-up at 41 px/mm, its platform read 5 px (0.12 mm) off; baseline at 40 px/mm.
  const Implant now = threaded(41.0, 5.0), before = threaded(40.0, 0.0);
  const Registration r = register_implants(now, before, 1 / 41.0, 1 / 40.0);
  EXPECT_TRUE(r.by_threads);
  EXPECT_GT(r.likeness, 0.95);
  EXPECT_NEAR(r.scale_v, 41.0 / 40.0, 0.001);
  // A crest 2 mm below the platform: 80 px there, 82 + 5 px here.
  EXPECT_NEAR(r.to_follow_up(0.0, 80.0).y, 87.0, 0.25);
  EXPECT_LT(r.rest_px, 1.0);
}

TEST(Registration, SmoothBodiesSayThatOnlyThePlatformHelps) {
  Implant smooth = threaded(40.0, 0.0);
  for (double& e : smooth.shape.plus_edge_px) e = 80.0;
  for (double& e : smooth.shape.minus_edge_px) e = -80.0;
  smooth.shape.platform_sd_px = 3.0;
  const Registration r = register_implants(smooth, smooth, 0.025, 0.025);
  EXPECT_FALSE(r.by_threads);
  EXPECT_NEAR(r.v_sd_px, 3.0 * std::sqrt(2.0), 1e-9);
}

TEST(Tones, AGammaBetweenTheImagesIsUndone) {
  Frame before;
  before.rows = before.columns = 400;
  before.highest_storable = 255;
  for (int y = 0; y < 400; ++y)
    for (int x = 0; x < 400; ++x)
      before.values.push_back(static_cast<float>(20 + 0.5 * x + 5 * std::sin(0.05 * y) +
                                                 (x > 160 && x < 240 ? 20 : 0)));
  Frame now = before;
  for (float& g : now.values) g = static_cast<float>(255 * std::pow(g / 255, 1.4) * 0.9);
  const ImplantShape shape = drawn_body();
  const Registration same;
  const RegisteredPair pair{now, before, shape, shape, same, 0.05};
  const auto map = match_tones(pair);
  ASSERT_TRUE(map.has_value());
  for (const float g : {60.0F, 120.0F, 180.0F}) {
    const double bent = 255 * std::pow(g / 255, 1.4) * 0.9;
    EXPECT_NEAR((*map)(bent), g, 1.5);
  }
  EXPECT_LT(map->rest, 0.005);
  EXPECT_GT(map->bend, 0.01);
  const Subtraction s = subtract(pair, harmonised(now, before, *map));
  double worst = 0;
  for (const float d : s.difference)
    if (std::isfinite(d)) worst = std::max(worst, std::abs(static_cast<double>(d)));
  EXPECT_LT(worst, 4.0);
}

}  // namespace
}  // namespace crestgate
