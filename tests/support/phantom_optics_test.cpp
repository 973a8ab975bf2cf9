// The renderer's optics against closed forms. Attenuation figures are typed here again from the
// published table (Hubbell & Seltzer, NISTIR 5632), densities as stated in attenuation.cpp.
#include <gtest/gtest.h>

#include <cmath>

#include "config/units.h"
#include "tests/support/phantom_test_scenes.h"

namespace crestgate::phantom {
namespace {

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
    // Turning about the axis does not open the ellipse.
    s.beam.horizontal_angle_deg = s.beam.detector_turn_deg = 20.0;
    const ImplantTruth turned = render(s).truth.implants[0];
    EXPECT_NEAR(turned.platform_minor_axis_ratio,
                std::abs(std::sin(radians(turned.vertical_angle_deg))), 2e-3);
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
