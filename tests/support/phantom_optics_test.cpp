// The renderer's optics against closed forms. Attenuation figures are typed here again from the
// published table (Hubbell & Seltzer, NISTIR 5632), densities as stated in attenuation.cpp.
#include <gtest/gtest.h>

#include <cmath>
#include <functional>

#include "config/units.h"
#include "tests/support/render.h"
#include "tests/support/view.h"
#include "tests/support/world.h"

namespace crestgate::phantom {
namespace {

/// One block, nothing else, monochromatic, 20 um pixels, all but parallel beam.
Scene bare(double kev) {
  Scene s;
  s.implants.clear();
  s.bone.present = false;
  s.bone.cheek_mm = 0.0;
  s.exposure.mono_kev = kev;
  s.detector.columns = s.detector.rows = 201;
  s.detector.pixel_mm = 0.02;
  s.beam.site_row_fraction = 0.5;
  s.beam.source_to_site_mm = 1e6;
  s.beam.site_to_detector_mm = 8.0;
  return s;
}

Item block(Material material, double width, double length, double depth) {
  Item item;
  item.kind = ItemKind::block;
  item.material = material;
  item.width_mm = width;
  item.length_mm = length;
  item.depth_mm = depth;
  return item;
}

/// Solid titanium cylinder with or without thread.
Implant cylinder(double diameter) {
  Implant m;
  m.diameter_mm = m.platform_diameter_mm = diameter;
  m.connection.form = ConnectionForm::solid;
  m.abutment.form = AbutmentForm::none;
  m.crown.present = false;
  m.thread.form = ThreadForm::none;
  m.bevel_mm = 0.0;
  return m;
}

/// Titanium path behind a pixel of a monochromatic 60 keV projection, mm.
double titanium_mm(const Projection& p, int x, int y) {
  return -std::log(p.at(x, y)) / (0.7661 * 4.54 / 10.0);
}

// ---- Beer-Lambert -------------------------------------------------------------------------------

struct Slab {
  Material material;
  double kev, mu_rho, density, depth_mm;
};

class BeerLambert : public testing::TestWithParam<Slab> {};

TEST_P(BeerLambert, SlabTransmitsAsThePublishedTableSays) {
  const Slab& slab = GetParam();
  Scene s = bare(slab.kev);
  s.items = {block(slab.material, 3.0, 3.0, slab.depth_mm)};
  const double expected = std::exp(-slab.mu_rho * slab.density * slab.depth_mm / 10.0);
  EXPECT_NEAR(project(s).at(100, 100) / expected, 1.0, 1e-4);
}

// mu/rho in cm2/g at tabulated energies; densities in g/cm3 (ICRU-44; titanium from memory).
INSTANTIATE_TEST_SUITE_P(Nist, BeerLambert,
                         testing::Values(Slab{Material::titanium, 40, 2.214, 4.54, 4.0},
                                         Slab{Material::titanium, 60, 0.7661, 4.54, 4.0},
                                         Slab{Material::titanium, 30, 4.972, 4.54, 1.0},
                                         Slab{Material::cortical_bone, 50, 0.4242, 1.92, 10.0},
                                         Slab{Material::cortical_bone, 30, 1.331, 1.92, 5.0},
                                         Slab{Material::soft_tissue, 60, 0.2048, 1.06, 20.0},
                                         Slab{Material::plastic, 40, 0.2683, 1.2, 5.0}));

TEST(BeerLambert, ObliqueSlabIsLongerByTheSecant) {
  Scene s = bare(60);
  s.items = {block(Material::titanium, 3.0, 30.0, 2.0)};
  s.beam.vertical_angle_deg = 20.0;
  EXPECT_NEAR(titanium_mm(project(s), 100, 100), 2.0 / std::cos(radians(20.0)), 1e-3);
}

TEST(BeerLambert, SpectrumHardensBehindMetal) {
  // A polychromatic beam's effective attenuation falls with depth and stays between its ends.
  Scene s = bare(0);
  double before = 1e9;
  for (const double depth : {0.5, 1.0, 2.0, 4.0}) {
    s.items = {block(Material::titanium, 3.0, 3.0, depth)};
    const double mu_per_cm = -std::log(project(s).at(100, 100)) / depth * 10.0;
    EXPECT_LT(mu_per_cm, before);
    EXPECT_GT(mu_per_cm, 0.7661 * 4.54);  // 60 keV
    EXPECT_LT(mu_per_cm, 15.85 * 4.54);   // 20 keV
    before = mu_per_cm;
  }
}

// ---- geometry -----------------------------------------------------------------------------------

double covered_px(const Projection& p, bool along_row) {
  const double full = 1.0 - p.at(100, 100);
  double sum = 0.0;
  for (int i = 0; i < 201; ++i) sum += 1.0 - (along_row ? p.at(i, 100) : p.at(100, i));
  return sum / full;
}

TEST(Geometry, MagnificationIsSourceDetectorOverSourceObject) {
  Scene s = bare(60);
  s.beam.source_to_site_mm = 200.0;
  s.beam.site_to_detector_mm = 20.0;
  s.items = {block(Material::titanium, 3.0, 3.0, 0.02)};
  EXPECT_NEAR(covered_px(project(s), true), 3.0 * (220.0 / 200.0) / 0.02, 0.3);
}

TEST(Geometry, ReceptorTiltForeshortensByCosThetaOverCosThetaMinusPhi) {
  for (const double theta : {0.0, 12.0, -15.0}) {
    for (const double phi : {0.0, 10.0, -8.0}) {
      Scene s = bare(60);
      s.beam.vertical_angle_deg = theta;
      s.beam.detector_tilt_deg = phi;
      s.items = {block(Material::gold_alloy, 1.0, 3.0, 0.02)};
      const double scale = std::cos(radians(theta)) / std::cos(radians(theta - phi));
      // Half a sub-ray at either end, and the block's own depth.
      EXPECT_NEAR(covered_px(project(s), false), 3.0 * scale / 0.02, 0.6) << theta << " " << phi;
      s.implants = {cylinder(4.0)};
      s.items.clear();
      EXPECT_NEAR(render(s).truth.implants[0].axial_px_per_mm, scale / 0.02, 0.01);
    }
  }
}

TEST(Geometry, PlatformEllipseHasMinorAxisDSinTheta) {
  // On the axis the metal path grows linearly across the ellipse, from nothing to D / cos(theta).
  for (const double theta : {4.0, 10.0, -10.0}) {
    Scene s = bare(60);
    s.beam.vertical_angle_deg = theta;
    s.beam.detector_tilt_deg = theta;
    s.implants = {cylinder(4.0)};
    s.detector.pixel_mm = 0.01;
    const Projection p = project(s);
    const double full = 4.0 / std::cos(radians(theta));
    double at20 = -1, at80 = -1;
    for (int y = 1; y < p.rows; ++y) {
      const double a = titanium_mm(p, 100, y - 1) / full, b = titanium_mm(p, 100, y) / full;
      if (at20 < 0 && b > 0.2) at20 = y - 1 + (0.2 - a) / (b - a);
      if (at80 < 0 && b > 0.8) at80 = y - 1 + (0.8 - a) / (b - a);
    }
    const double minor_mm = (at80 - at20) / 0.6 * 0.01;
    EXPECT_NEAR(minor_mm, 4.0 * std::abs(std::sin(radians(theta))), 0.004) << theta;
    EXPECT_NEAR(render(s).truth.implants[0].platform_minor_axis_ratio,
                std::abs(std::sin(radians(theta))), 1e-4);
  }
}

TEST(Geometry, AngleIsThatOfTheRayThroughThePlatformCentre) {
  // 15 mm coronal of the site at 300 mm: atan(15 / 300) less coronal, design.md section 3.
  Scene s = bare(60);
  s.beam.source_to_site_mm = 300.0;
  s.implants = {cylinder(4.0)};
  s.implants[0].place.z_mm = 15.0;
  EXPECT_NEAR(render(s).truth.implants[0].vertical_angle_deg, -degrees(std::atan(15.0 / 300.0)),
              1e-6);
  s.implants[0].place = {0, 0, 0, 0, 5.0};  // coronal end away from the source
  EXPECT_NEAR(render(s).truth.implants[0].vertical_angle_deg, -5.0, 1e-6);
}

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

// ---- detector -----------------------------------------------------------------------------------

TEST(DetectorModel, NoiseInAirIsOneOverTheRootOfThePhotons) {
  Scene s = bare(60);
  s.exposure.photons_per_pixel = 2500.0;
  s.exposure.level = 0.5;
  s.detector.read_noise = 0.0;
  s.processing.tone = ToneKind::linear;
  s.processing.auto_window = false;
  s.processing.window_high = 1.0;
  s.processing.bits = 16;
  const Frame f = to_frame(render(s));
  double sum = 0, squares = 0;
  for (const float v : f.values) {
    const double signal = 1.0 - v / f.highest_storable;
    sum += signal;
    squares += signal * signal;
  }
  const double n = static_cast<double>(f.values.size()), mean = sum / n;
  EXPECT_NEAR(mean, 0.5, 0.001);
  EXPECT_NEAR(std::sqrt(squares / n - mean * mean) / mean, 1.0 / 50.0, 0.0003);
}

TEST(DetectorModel, EdgeSpreadsByTheBlurAsked) {
  Scene s = bare(60);
  s.items = {block(Material::titanium, 30.0, 30.0, 0.3)};
  s.items[0].place.x_mm = -15.0;
  s.detector.blur_sigma_mm = 0.06;
  s.exposure.focal_spot_mm = 0.0;
  s.exposure.scatter_fraction = 0.0;
  s.exposure.photons_per_pixel = 0;
  s.processing.tone = ToneKind::linear;
  s.processing.bits = 16;
  const Frame f = to_frame(render(s));
  double weight = 0, first = 0, second = 0;
  for (int x = 60; x < 140; ++x) {
    const double w = f.at(x, 100) - f.at(x + 1, 100);
    weight += w;
    first += w * x;
    second += w * x * x;
  }
  // Variances add: sigma 3 px; the edge halves pixel 100, so before blurring the differences are
  // 1/2 at 99.5 and at 100.5: variance 1/4.
  const double mean = first / weight;
  EXPECT_NEAR(second / weight - mean * mean, 9.0 + 0.25, 0.03);
  EXPECT_NEAR(mean + 0.5, 100.0, 0.02) << "the edge is where geometry puts it";
}

}  // namespace
}  // namespace crestgate::phantom
