// Blur of drawn edges in closed form: a turned square, whose Gaussian blur is a product of two
// error functions, with and without an unsharp mask's halo.
#include "pipeline/quality/blur.h"

#include <gtest/gtest.h>

#include <cmath>
#include <random>

namespace crestgate {
namespace {

double edge(double x, double half, double sigma) {
  const double s = sigma * std::sqrt(2.0);
  return 0.5 * (std::erf((x + half) / s) - std::erf((x - half) / s));
}

struct Blurred {
  double along = 2, across = 2;  ///< sigma in the square's own directions
  double unsharp = 0, radius = 3;
  double noise = 5;
};

Frame turned_square(const Blurred& b) {
  Frame f;
  f.rows = f.columns = 240;
  f.highest_storable = 4095;
  f.values.resize(240 * 240);
  std::mt19937 random(3);
  std::normal_distribution<double> normal(0, b.noise);
  const double c = std::cos(0.3), s = std::sin(0.3);
  for (int y = 0; y < 240; ++y)
    for (int x = 0; x < 240; ++x) {
      const double p = c * (x - 120) + s * (y - 120), q = -s * (x - 120) + c * (y - 120);
      const double sharp = edge(p, 60, b.along) * edge(q, 60, b.across);
      const double soft =
          edge(p, 60, std::hypot(b.along, b.radius)) * edge(q, 60, std::hypot(b.across, b.radius));
      f.at(x, y) =
          static_cast<float>(1000 + 1500 * (sharp + b.unsharp * (sharp - soft)) + normal(random));
    }
  return f;
}

Blur measured(const Frame& f) {
  return measure_blur(f, content_of(f), {0, 4095}, {2500, 1000}, {});
}

TEST(Blur, OfStepsIsFoundFromOneToFourPixels) {
  for (double sigma : {0.8, 1.0, 1.5, 2.0, 3.0, 4.0}) {
    Blurred b;
    b.along = b.across = sigma;
    const Blur blur = measured(turned_square(b));
    ASSERT_TRUE(blur.sigma_px) << sigma;
    EXPECT_NEAR(*blur.sigma_px, sigma, 0.12 * sigma);
    EXPECT_FALSE(blur.motion_direction_deg) << sigma;
  }
}

TEST(Blur, AHaloIsRecognisedAndDoesNotPassForSharpness) {
  Blurred b;
  b.unsharp = 1.0;
  const Blur blur = measured(turned_square(b));
  ASSERT_TRUE(blur.sigma_px);
  EXPECT_NEAR(*blur.sigma_px, 2.0, 0.4);
  EXPECT_GT(blur.halo, 0.4);
  b.unsharp = 0;
  EXPECT_LT(measured(turned_square(b)).halo, 0.2);
}

TEST(Blur, MotionIsBlurThatDiffersByDirection) {
  Blurred b;
  b.along = 4;
  const Blur blur = measured(turned_square(b));
  ASSERT_TRUE(blur.motion_direction_deg);
  EXPECT_NEAR(*blur.motion_direction_deg, 0.3 * 180 / 3.14159, 5);
}

TEST(Blur, DrawnEdgesAreNoOptics) {
  Frame f = turned_square({});
  for (int y = 0; y < 240; ++y)
    for (int x = 0; x < 240; ++x)
      f.at(x, y) = x > 60 && x < 180 && y > 60 && y < 180 ? 2500.0F : 1000.0F;
  EXPECT_FALSE(measured(f).sigma_px);
}

}  // namespace
}  // namespace crestgate
