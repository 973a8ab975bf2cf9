// Threads and joints of the renderer against the formulas of the design note, section 3.
#include <gtest/gtest.h>

#include <algorithm>
#include <cmath>

#include "config/units.h"
#include "tests/support/phantom_test_scenes.h"
#include "tests/support/view.h"
#include "tests/support/world.h"

namespace crestgate::phantom {
namespace {

// ---- threads ------------------------------------------------------------------------------------

TEST(Flanks, MetalPathsAddUpToTheBodysVolume) {
  // Parallel beam, detector square to it: the paths' sum times the pixel's area is the volume,
  // which the outline gives as the integral of r^2 / 2 over azimuth and height.
  for (const ThreadForm form : {ThreadForm::v, ThreadForm::buttress, ThreadForm::square,
                                ThreadForm::rounded, ThreadForm::fins, ThreadForm::none}) {
    Thread t;
    t.form = form;
    t.pitch_mm = 0.8;
    t.depth_mm = 0.4;
    t.starts = 2;
    const Threaded body(
        Lathe({{0, 1.5}, {4, 1.2}}), Lathe({{0, 1.1}, {4, 0.8}}),
        form == ThreadForm::none ? std::vector<ThreadZone>{} : std::vector<ThreadZone>{{0, 4, t}});
    double volume = 0.0, sum = 0.0;
    const int nz = 800, nf = 360;
    for (int i = 0; i < nz; ++i) {
      for (int j = 0; j < nf; ++j) {
        const double r = body.radius((i + 0.5) * 4.0 / nz, 2 * kPi * (j + 0.5) / nf - kPi);
        volume += r * r / 2 * (4.0 / nz) * (2 * kPi / nf);
      }
    }
    const double tilt = radians(7.0), step = 0.02;
    const Vec along{0, std::cos(tilt), std::sin(tilt)}, up{0, -std::sin(tilt), std::cos(tilt)};
    Spans in;
    for (double v = -2; v < 6; v += step) {
      for (double u = -2; u < 2; u += step) {
        body.intersect({Vec{u, 0, 0} + up * v - along * 50.0, along}, &in);
        sum += in.length() * step * step;
      }
    }
    EXPECT_NEAR(sum / volume, 1.0, 0.003) << static_cast<int>(form);
  }
}

TEST(Flanks, HelixProjectsWithTheSlopesOfTheDesignNote) {
  // dv/df = (p / 2 pi) cos(theta) +- R sin(theta), v up the image, parallel beam, phi = theta.
  const double R = 2.0, lead = 1.2;
  for (const double theta : {-9.0, 0.0, 6.0}) {
    Scene s = bare(60);
    s.beam.vertical_angle_deg = theta;
    s.beam.detector_tilt_deg = theta;
    const View view(s);
    const auto v_mm = [&](double f) {
      return -view.pixel({R * std::cos(f), R * std::sin(f), lead * f / (2 * kPi)}).y * 0.02;
    };
    const double c = std::cos(radians(theta)), sn = std::sin(radians(theta)), h = 1e-3;
    EXPECT_NEAR((v_mm(h) - v_mm(-h)) / (2 * h), lead / (2 * kPi) * c + R * sn, 1e-4);
    EXPECT_NEAR((v_mm(kPi + h) - v_mm(kPi - h)) / (2 * h), lead / (2 * kPi) * c - R * sn, 1e-4);
  }
}

TEST(Flanks, CrestsOfTheSolidFollowTheHelix) {
  for (const int starts : {1, 2, 3}) {
    for (const bool right_handed : {true, false}) {
      Thread t;
      t.pitch_mm = 0.6;
      t.starts = starts;
      t.right_handed = right_handed;
      const Threaded body(Lathe({{0, 2.0}, {10, 2.0}}), Lathe({{0, 1.6}, {10, 1.6}}), {{0, 10, t}});
      for (double f = -3.0; f < 3.0; f += 0.37) {
        const double z = 6.0 + (right_handed ? 1 : -1) * 0.6 * starts * f / (2 * kPi);
        EXPECT_NEAR(body.radius(z, f), 2.0, 1e-6) << "crest: lead is pitch times starts";
        EXPECT_NEAR(body.radius(z + 0.3, f), 1.6, 1e-6) << "root half a pitch on";
      }
    }
  }
}

/// Standard deviation along the axis of the silhouette's edge, px; side -1 left, +1 right.
double serration(const Rendered& r, int side) {
  const Frame f = to_frame(r);
  const auto middle = static_cast<int>(std::lround(r.truth.implants[0].platform_px.x));
  double sum = 0, squares = 0;
  int n = 0;
  const ImplantTruth& t = r.truth.implants[0];
  const int apical = t.coronal_side == "up" ? 1 : -1;
  for (int v = 130; v < 335; ++v, ++n) {  // six pitches of the body
    const int y = static_cast<int>(std::lround(t.platform_px.y)) + apical * v;
    double metal = 0.0;
    for (int k = 0; k < 160; ++k) metal += f.at(middle + side * k, y) / f.highest_storable;
    sum += metal;
    squares += metal * metal;
  }
  return std::sqrt(std::max(0.0, squares / n - sum / n * (sum / n)));
}

Scene threaded_scene(double theta, double in_plane_deg) {
  Scene s = bare(60);
  s.beam.source_to_site_mm = 400.0;
  s.beam.vertical_angle_deg = theta;
  s.beam.in_plane_turn_deg = in_plane_deg;
  s.beam.site_row_fraction = in_plane_deg == 180.0 ? 0.95 : 0.05;
  s.detector.columns = 340;
  s.detector.rows = 401;
  s.detector.blur_sigma_mm = 0.02;
  s.exposure.photons_per_pixel = 0;
  s.processing.tone = ToneKind::linear;
  s.processing.auto_window = false;
  s.processing.window_high = 1.0;
  s.implants = {cylinder(4.0)};
  s.implants[0].thread.form = ThreadForm::v;
  return s;
}

TEST(Flanks, SourceCoronalBlursTheRightFlankOfARightHandedThread) {
  for (const double theta : {3.5, -3.5}) {
    for (const double turn : {0.0, 180.0}) {
      for (const bool right_handed : {true, false}) {
        for (const bool mirrored : {false, true}) {
          Scene s = threaded_scene(theta, turn);
          s.implants[0].thread.right_handed = right_handed;
          s.readout.mirrored = mirrored;
          // A turn by 180 degrees moves the flanks but keeps which side of the axis frame is lost.
          const bool right_lost = ((theta > 0) == right_handed) != mirrored;
          const bool image_right_lost = turn == 180.0 ? !right_lost : right_lost;
          const Rendered r = render(s);
          const double right = serration(r, 1), left = serration(r, -1);
          EXPECT_EQ(right < 0.6 * left, image_right_lost)
              << theta << turn << right_handed << mirrored;
          EXPECT_EQ(left < 0.6 * right, !image_right_lost) << left << " " << right;
          EXPECT_EQ(r.truth.implants[0].blurred_flank, image_right_lost ? "right" : "left");
        }
      }
    }
  }
}

// ---- joint --------------------------------------------------------------------------------------

Scene joint_scene(double theta, double gap_mm) {
  Scene s = bare(60);
  s.beam.vertical_angle_deg = theta;
  s.beam.detector_tilt_deg = theta;
  s.implants = {cylinder(4.0)};
  Abutment& a = s.implants[0].abutment;
  a.form = AbutmentForm::post;
  a.base_diameter_mm = a.top_diameter_mm = 4.0;
  a.bevel_mm = 0.0;
  a.channel_radius_mm = 0.0;
  a.screw = false;
  s.implants[0].gap.centre_mm = gap_mm;
  s.detector.pixel_mm = 0.01;
  return s;
}

TEST(Joint, PathLostThroughASlabGapIsTheSmallerOfChordAndGapOverSine) {
  for (const double theta : {2.0, 5.0, 10.0}) {
    for (const double gap : {0.0127, 0.05, 0.2}) {
      const Projection p = project(joint_scene(theta, gap));
      const double chord = 4.0 / std::cos(radians(theta));
      double lost = 0.0;
      for (int y = 60; y < 140; ++y) lost = std::max(lost, chord - titanium_mm(p, 100, y));
      const double expected = std::min(chord, gap / std::sin(radians(theta)));
      EXPECT_NEAR(lost, expected, 0.01 + 0.02 * expected) << theta << " deg, " << gap << " mm";
    }
  }
}

TEST(Joint, ClosedJointLosesNothing) {
  const Projection p = project(joint_scene(5.0, 0.0));
  const double chord = 4.0 / std::cos(radians(5.0));
  for (int y = 40; y < 160; ++y) EXPECT_NEAR(titanium_mm(p, 100, y), chord, 1e-3);
}

TEST(Joint, AtNoTiltAThinGapKeepsItsArea) {
  // Sum over rows of the light let through = gap / pixel (12.7 um on 20 um pixels).
  Scene s = joint_scene(0.0, 0.0127);
  s.detector.pixel_mm = 0.02;
  const Projection p = project(s);
  double sum = 0.0;
  for (int y = 90; y < 110; ++y) sum += p.at(100, y) - p.at(100, 60);
  EXPECT_NEAR(sum / (1.0 - p.at(100, 60)), 0.0127 / 0.02, 0.13) << "within a quarter of a sub-ray";
}

TEST(Joint, WedgeOpensOnTheSideTruthSays) {
  Scene s = joint_scene(0.0, 0.1);
  s.implants[0].gap.tilt_deg = degrees(std::atan(0.1 / 2.0));
  const ImplantTruth t = render(s).truth.implants[0];
  EXPECT_NEAR(t.gap_right_mm, 0.2, 1e-6);
  EXPECT_NEAR(t.gap_left_mm, 0.0, 1e-6);
  const Projection p = project(s);
  const auto open = [&](int x) {
    double sum = 0.0;
    for (int y = 60; y < 110; ++y) sum += p.at(x, y) > 0.9 ? 0.01 : 0.0;
    return sum;
  };
  EXPECT_NEAR(open(100 + 90), 0.1 * (1 + 0.9 / 2.0), 0.012);
  EXPECT_NEAR(open(100 - 90), 0.1 * (1 - 0.9 / 2.0), 0.012);
}

}  // namespace
}  // namespace crestgate::phantom
