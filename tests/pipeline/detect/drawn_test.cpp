// Pictures drawn from the physics alone (path length through a cylinder), by no renderer: what must
// be found and what must not.
#include <gtest/gtest.h>
#include <algorithm>
#include <cmath>
#include <random>

#include "pipeline/detect/detect.h"
#include "pipeline/detect/stripes.h"

namespace crestgate {
namespace {

constexpr double kPi = 3.14159265358979323846;
constexpr double kMmPerPx = 0.04;

/// A lying or standing metal cylinder; thread = 0: smooth.
struct Rod {
  Point middle{250, 350};
  double turn_deg = 0.0, diameter_mm = 4.0, length_mm = 10.0;
  double thread_mm = 0.0, pitch_mm = 0.8;
};

Frame draw(const std::vector<Rod>& rods, int columns = 500, int rows = 700) {
  Frame f;
  f.columns = columns;
  f.rows = rows;
  f.highest_storable = 255;
  std::mt19937 generator(3);
  std::normal_distribution<float> noise(0.0F, 2.0F);
  for (int y = 0; y < rows; ++y)
    for (int x = 0; x < columns; ++x) {
      double path = 0.0;
      for (const Rod& rod : rods) {
        const double c = std::cos(rod.turn_deg * kPi / 180), s = std::sin(rod.turn_deg * kPi / 180);
        const double dx = (x - rod.middle.x) * kMmPerPx, dy = (y - rod.middle.y) * kMmPerPx;
        const double u = c * dx + s * dy, v = -s * dx + c * dy;
        // Opposite flanks half a pitch apart, as a single-start thread shows.
        const double phase = 2 * kPi * v / rod.pitch_mm + (u > 0 ? kPi : 0.0);
        const double r = 0.5 * rod.diameter_mm - 0.5 * rod.thread_mm * (1 - std::cos(phase));
        if (std::fabs(v) < 0.5 * rod.length_mm && std::fabs(u) < r)
          path += 2 * std::sqrt(r * r - u * u);
      }
      // Bone below the middle, soft tissue above; metal saturates softly.
      const double back = y > 200 ? 100.0 : 40.0;
      f.values.push_back(static_cast<float>(back + (235 - back) * (1 - std::exp(-0.8 * path))) +
                         noise(generator));
    }
  return f;
}

Acquisition scaled() {
  Acquisition a;
  a.spacing.row_mm = a.spacing.column_mm = kMmPerPx;
  return a;
}

int sure(const Frame& f, const Acquisition& a = scaled()) {
  int n = 0;
  for (const ImplantShape& s : detect_implants(f, a)) n += s.confidence >= 0.6;
  return n;
}

TEST(Drawn, SmoothCylinderIsAnImplantAPostAndABlockAreNot) {
  Rod rod;
  for (const double turn : {0.0, 37.0, 90.0}) {
    rod.turn_deg = turn;
    EXPECT_EQ(sure(draw({rod})), 1) << turn;
  }
  Rod post = rod;
  post.diameter_mm = 1.6;
  EXPECT_EQ(sure(draw({post})), 0);
  Rod block = rod;
  block.diameter_mm = 7.5;
  block.length_mm = 7.0;
  EXPECT_EQ(sure(draw({block})), 0);
}

TEST(Drawn, AThreadedScrewPostIsNoImplant) {
  Rod post;
  post.diameter_mm = 1.7;
  post.thread_mm = 0.25;
  EXPECT_EQ(sure(draw({post})), 0);
}

TEST(Drawn, ImplantAndThePartOnItComeOutOnce) {
  Rod body, part;
  body.thread_mm = 0.35;
  part.middle.y = body.middle.y - (5.0 + 2.5) / kMmPerPx;
  part.diameter_mm = 3.4;
  part.length_mm = 5.2;
  EXPECT_EQ(sure(draw({body, part})), 1);
}

TEST(Drawn, TheEdgeOfABlackFrameIsNoFlank) {
  Rod body;
  body.thread_mm = 0.35;
  body.turn_deg = 3.0;
  body.middle = {72, 420};
  Frame f = draw({body});
  for (int y = 0; y < f.rows; ++y)
    for (int x = 0; x < f.columns; ++x)
      if (std::min({x, y, f.columns - 1 - x, f.rows - 1 - y}) < 3) f.at(x, y) = 0.0F;
  EXPECT_EQ(sure(f), 1);
}

TEST(Drawn, ImplantsThatCrossAreBothFound) {
  Rod a, b;
  a.thread_mm = b.thread_mm = 0.4;
  b.turn_deg = 50;
  b.length_mm = 14.0;
  b.middle = {300, 420};
  EXPECT_EQ(sure(draw({a, b})), 2);
}

TEST(Drawn, StripesShowThePitchAlsoWithStraightFlanks) {
  Frame f = draw({Rod{}});
  for (int y = 0; y < f.rows; ++y)
    for (int x = 0; x < f.columns; ++x)
      if (std::abs(x - 250) < 50 && std::abs(y - 350) < 125)
        f.at(x, y) += 6.0F * std::cos(2 * kPi * (y + 0.3 * x) / 20.0);
  FlankTrace trace;
  trace.axis.origin = {250, 350};
  trace.v0_px = -120;
  trace.minus_px.assign(241, -50.0);
  const Serration s = find_stripes(f, trace, 0, 240, 50.0);
  EXPECT_NEAR(s.pitch, 20.0, 0.5);
  EXPECT_GT(s.strength, 0.6);
  EXPECT_LT(find_stripes(draw({Rod{}}), trace, 0, 240, 50.0).strength, 0.35);
}

}  // namespace
}  // namespace crestgate
