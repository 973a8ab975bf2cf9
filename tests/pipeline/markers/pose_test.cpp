// The pose of the jig against exact perspective onto a tilted receptor, computed here the long way.
#include "pipeline/markers/jig_pose.h"

#include <gtest/gtest.h>

#include <cmath>
#include <random>

#include "config/units.h"

namespace crestgate {
namespace {

struct Shot {
  double theta_deg = 0, turn_deg = 0;  ///< source coronal; source turned about the jig's axis
  double tilt_deg = 0;                 ///< of the receptor about the image's horizontal
  double in_plane_deg = 0, source_mm = 330, px_per_mm = 40;
  bool mirrored = false;
};

/// Image of a jig point: source at distance source_mm from A, receptor through A's surroundings,
/// perpendicular to the ray through A but for the tilt.
Point seen(const Shot& s, Place3 p) {
  const double t = radians(s.theta_deg), h = radians(s.turn_deg);
  // Ray through A (away from the source), image right and image up, in the jig frame.
  const Place3 ray{std::sin(h) * std::cos(t), std::cos(h) * std::cos(t), -std::sin(t)};
  const Place3 right{std::cos(h), -std::sin(h), 0};
  const Place3 up{std::sin(h) * std::sin(t), std::cos(h) * std::sin(t), std::cos(t)};
  const auto dot = [&p](const Place3& a) { return a.x * p.x + a.y * p.y + a.z * p.z; };
  const double depth = s.source_mm + dot(ray), u = dot(right), v = dot(up);
  // Receptor plane through A: points (u, w cos(tilt), source + w sin(tilt)) along its own w.
  const double phi = radians(s.tilt_deg);
  const double w = s.source_mm * v / (depth * std::cos(phi) - v * std::sin(phi));
  const double along = (s.source_mm + w * std::sin(phi)) / depth;
  Point q{u * along * s.px_per_mm, -w * s.px_per_mm};
  if (s.mirrored) q.x = -q.x;
  const double a = radians(s.in_plane_deg);
  return {500 + q.x * std::cos(a) - q.y * std::sin(a), 400 + q.x * std::sin(a) + q.y * std::cos(a)};
}

std::array<Point, 4> picture(const Shot& s, const JigLayout& layout) {
  return {seen(s, layout[0]), seen(s, layout[1]), seen(s, layout[2]), seen(s, layout[3])};
}

const Jig kJig{2.0, 4.0, 0.05, 1.0};

TEST(JigPose, FindsAngleScaleAndAxisInAnyTurn) {
  const JigLayout layout = jig_layout(kJig);
  for (double theta : {-15.0, -3.0, 0.0, 1.0, 8.0, 15.0})
    for (double in_plane : {0.0, 37.0, 90.0, 180.0, 265.0}) {
      const Shot s{theta, 7, 0, in_plane, 330, 40, false};
      const auto pose = jig_pose(picture(s, layout), layout, 330);
      ASSERT_TRUE(pose);
      EXPECT_NEAR(pose->theta_deg, theta, 1e-6);
      EXPECT_NEAR(pose->px_per_mm_across, 40, 1e-6);
      EXPECT_NEAR(pose->px_per_mm_along, 40 * std::cos(radians(theta)), 1e-6);
      EXPECT_NEAR(pose->coronal.x, std::sin(radians(in_plane)), 1e-6);
      EXPECT_NEAR(pose->coronal.y, -std::cos(radians(in_plane)), 1e-6);
      EXPECT_LT(pose->distortion, 1e-9);
      EXPECT_TRUE(pose->as_made);
    }
}

TEST(JigPose, AMirrorKeepsTheAngleAndIsNoticed) {
  const JigLayout layout = jig_layout(kJig);
  for (double theta : {-9.0, 4.0}) {
    const Shot s{theta, 5, 0, 20, 330, 40, true};
    const auto pose = jig_pose(picture(s, layout), layout, 330);
    ASSERT_TRUE(pose);
    EXPECT_NEAR(pose->theta_deg, theta, 1e-6);
    EXPECT_FALSE(pose->as_made);
  }
}

TEST(JigPose, FourBallsInOnePlaneSayNothing) {
  JigLayout flat = jig_layout(kJig);
  flat[3].y = 0;
  EXPECT_FALSE(jig_pose(picture(Shot{5}, flat), flat, 330));
}

// Random poses with placement and centre errors of the size that U counts; receptor tilted up to 10
// degrees and the distance known to 15 % only, both of which the model term must carry.
TEST(JigPose, ErrorsOverRandomPosesStayWithinTheModelTerm) {
  std::mt19937 random(61000);
  std::uniform_real_distribution<double> any(-1, 1);
  const JigLayout layout = jig_layout(kJig);
  double worst = 0, squares = 0;
  const int n = 2000;
  for (int i = 0; i < n; ++i) {
    Shot s{15 * any(random), 15 * any(random), 10 * any(random), 180 * any(random)};
    s.source_mm = 300 + 100 * any(random);
    const auto pose = jig_pose(picture(s, layout), layout, s.source_mm * (1 + 0.15 * any(random)));
    ASSERT_TRUE(pose);
    const double error = pose->theta_deg - s.theta_deg;
    worst = std::max(worst, std::abs(error));
    squares += error * error;
  }
  std::printf("rms %.3f deg, worst %.3f deg, n %d\n", std::sqrt(squares / n), worst, n);
  EXPECT_LT(std::sqrt(squares / n), 0.15);
  EXPECT_LT(worst, 0.5);
}

}  // namespace
}  // namespace crestgate
