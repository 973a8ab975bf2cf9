// Laws: what must not change the detections, and what must take them away.
#include <gtest/gtest.h>
#include <algorithm>
#include <cmath>

#include "pipeline/detect/detect.h"
#include "pipeline/inspect.h"
#include "tests/pipeline/detect/detect_scenes.h"

namespace crestgate {
namespace {

using test::plain_scene;
using test::see;
using test::Seen;
using test::sure;

constexpr double kPi = 3.14159265358979323846;

std::vector<ImplantShape> detect(const Seen& s) {
  return sure(detect_implants(s.frame, s.acquisition));
}

template <class Map>
Seen with_grey(Seen s, Map map) {
  for (float& v : s.frame.values) v = static_cast<float>(map(v));
  return s;
}

Seen resampled(const Seen& s, int rows, int columns, double scale,
               Point (*source)(int, int, int, int)) {
  Seen out = s;
  out.frame.rows = rows;
  out.frame.columns = columns;
  out.frame.values.resize(static_cast<std::size_t>(rows) * columns);
  for (int y = 0; y < rows; ++y)
    for (int x = 0; x < columns; ++x) {
      const Point p = source(x, y, s.frame.rows, s.frame.columns);
      out.frame.at(x, y) = interpolate(s.frame, {p.x * scale, p.y * scale});
    }
  return out;
}

/// Angle between the two as lines: which end is coronal is told separately (coronal_known).
double turn_deg(const ImplantShape& a, Point apical) {
  const double c = a.axis.apical.x * apical.x + a.axis.apical.y * apical.y;
  return std::acos(std::min(1.0, std::fabs(c))) * 180 / kPi;
}

class DetectLaws : public ::testing::TestWithParam<int> {
 protected:
  void SetUp() override {
    seen_ = see(plain_scene(static_cast<std::uint64_t>(GetParam())));
    found_ = detect(seen_);
    ASSERT_EQ(found_.size(), 1U);
  }
  /// The same piece of metal: axis as a line, width, and the bodies overlap.
  void expect_same(const std::vector<ImplantShape>& other, Point platform, Point apical,
                   double scale = 1.0, double width = 0.08) {
    ASSERT_EQ(other.size(), 1U);
    EXPECT_LT(turn_deg(other[0], apical), 0.8);  // identity; accuracy is detect_rates_test.cpp
    const double radius = found_[0].radius_px * scale, length = found_[0].length_px * scale;
    AxisFrame axis;
    axis.origin = platform;
    axis.apical = apical;
    const Point middle = axis.from_image(other[0].axis.to_image(0.0, 0.5 * other[0].length_px));
    EXPECT_LT(std::fabs(middle.x), 0.06 * radius + 1.0);
    EXPECT_GT(middle.y, 0.0);
    EXPECT_LT(middle.y, length);
    EXPECT_NEAR(other[0].radius_px, radius, width * radius);
  }
  Seen seen_;
  std::vector<ImplantShape> found_;
};

TEST_P(DetectLaws, BrightnessGammaAndInversionUndoneKeepIt) {
  const auto& values = seen_.frame.values;
  const auto ends = std::minmax_element(values.begin(), values.end());
  const double low = *ends.first, range = *ends.second - low;
  const Point p = found_[0].axis.origin, a = found_[0].axis.apical;
  expect_same(detect(with_grey(seen_, [](double v) { return 0.37 * v + 90; })), p, a);
  for (const double gamma : {0.7, 1.4})
    expect_same(detect(with_grey(
                    seen_, [&](double v) { return 4095 * std::pow((v - low) / range, gamma); })),
                p, a);
}

Seen in_mirror(const Seen& s) {
  return resampled(s, s.frame.rows, s.frame.columns, 1, [](int x, int y, int, int c) {
    return Point{static_cast<double>(c - 1 - x), static_cast<double>(y)};
  });
}

Seen by_a_quarter(const Seen& s) {
  return resampled(s, s.frame.columns, s.frame.rows, 1, [](int x, int y, int r, int) {
    return Point{static_cast<double>(y), static_cast<double>(r - 1 - x)};
  });
}

TEST_P(DetectLaws, MirrorAndQuarterTurnsTurnIt) {
  const Point p = found_[0].axis.origin, a = found_[0].axis.apical;
  const int rows = seen_.frame.rows, columns = seen_.frame.columns;
  // Of a tapered body the width is that of the stretch that was read: counted in the next test.
  const double gross = 0.2;
  expect_same(detect(in_mirror(seen_)), {columns - 1 - p.x, p.y}, {-a.x, a.y}, 1.0, gross);
  expect_same(detect(by_a_quarter(seen_)), {rows - 1 - p.y, p.x}, {-a.y, a.x}, 1.0, gross);
}

/// Within 8 %, but for one in ten (2 of 40 today; 2 of 40 with the rules by hand before the net).
TEST(Detect, TheWidthIsReadAgainInTheMirrorAndTurned) {
  const int n = test::share_of(40);
  int other = 0;
  for (int i = 1; i <= n; ++i) {
    const Seen seen = see(plain_scene(static_cast<std::uint64_t>(i)));
    const double radius = detect(seen).at(0).radius_px;
    bool same = true;
    for (const Seen& again : {in_mirror(seen), by_a_quarter(seen)})
      same = same && std::fabs(detect(again).at(0).radius_px / radius - 1.0) < 0.08;
    other += !same;
  }
  EXPECT_LE(other, std::max(1, n / 10)) << "of " << n;
}

TEST_P(DetectLaws, ScaleScalesIt) {
  const double scale = 1.25;  // source pixels per new pixel
  Seen smaller =
      resampled(seen_, static_cast<int>(seen_.frame.rows / scale),
                static_cast<int>(seen_.frame.columns / scale), scale, [](int x, int y, int, int) {
                  return Point{static_cast<double>(x), static_cast<double>(y)};
                });
  if (smaller.acquisition.spacing.row_mm) {
    *smaller.acquisition.spacing.row_mm *= scale;
    *smaller.acquisition.spacing.column_mm *= scale;
  }
  const Point p = found_[0].axis.origin;
  expect_same(detect(smaller), {p.x / scale, p.y / scale}, found_[0].axis.apical, 1 / scale);
}

TEST_P(DetectLaws, WithoutTheImplantThereIsNone) {
  phantom::Scene scene = plain_scene(static_cast<std::uint64_t>(GetParam()));
  scene.implants.clear();
  EXPECT_TRUE(detect(see(scene)).empty());
}

INSTANTIATE_TEST_SUITE_P(Seeds, DetectLaws, ::testing::Range(1, 1 + test::share_of(40)));

TEST(Detect, ABridgeOfCrownsAloneIsNone) {
  for (std::uint64_t seed = 1; seed <= 4; ++seed) {
    phantom::Scene scene = plain_scene(seed);
    scene.implants.clear();
    for (int i = -1; i <= 1; ++i) {
      phantom::Item pontic;
      pontic.kind = phantom::ItemKind::pontic;
      pontic.material = phantom::Material::gold_alloy;
      pontic.place.x_mm = 7.5 * i;
      pontic.place.z_mm = 8.0;
      pontic.width_mm = 8.0;
      pontic.length_mm = 7.5;
      pontic.depth_mm = 7.0;
      scene.items.push_back(pontic);
    }
    EXPECT_TRUE(detect(see(scene)).empty()) << seed;
  }
}

TEST(Detect, AnUndeclaredInversionIsReadAsItsNegativeAndSaid) {
  const auto said = [](const Analysis& a) {
    return std::any_of(a.reasons.begin(), a.reasons.end(), [](const Reason& r) {
      return r.text.find("grey scale looks inverted") != std::string::npos;
    });
  };
  phantom::Scene scene = plain_scene(1);
  const Seen upright = see(scene);
  const Analysis straight = inspect(upright.frame, upright.acquisition, Rules());
  EXPECT_FALSE(straight.grey_inverted);
  EXPECT_FALSE(said(straight));

  scene.readout.inverted = true;
  const Seen turned = see(scene);
  const Analysis found = inspect(turned.frame, turned.acquisition, Rules());
  EXPECT_TRUE(found.grey_inverted);
  EXPECT_TRUE(said(found));
  ASSERT_EQ(found.implants.size(), 1U);
  EXPECT_FALSE(found.implants[0].possible_only);
  EXPECT_NE(test::on({found.implants[0].shape}, turned.truth.implants[0], turned.frame), nullptr);

  // No implant either way: nothing is said of the grey scale.
  scene.implants.clear();
  const Seen empty = see(scene);
  const Analysis none = inspect(empty.frame, empty.acquisition, Rules());
  EXPECT_FALSE(none.grey_inverted);
  EXPECT_FALSE(said(none));
}

TEST(Detect, LookAlikesOnceTakenForImplantsAreNone) {
  // Two step wedges in the air, a wavy root filling, a threaded post in a tooth cut by the border.
  for (const std::uint64_t seed : {80094, 70138, 50137, 300029})
    EXPECT_TRUE(detect(see(phantom::implant_free_scene(seed))).empty()) << seed;
}

// In the negative of two threaded posts the root between them has a thread on either flank.
TEST(Detect, WhatLiesBetweenTwoPostsIsNoImplantInTheNegative) {
  const Seen s = see(phantom::implant_free_scene(3000067));
  const EitherWay found =
      detect_either_way(s.frame, s.acquisition, Rules{}.detection.least_confidence);
  EXPECT_FALSE(found.in_negative);
  EXPECT_TRUE(sure(found.shapes).empty());
}

TEST(Detect, AThreadInBurntOutBoneIsFound) {
  const Seen s = see(phantom::random_scene(300062));
  const EitherWay found =
      detect_either_way(s.frame, s.acquisition, Rules{}.detection.least_confidence);
  EXPECT_FALSE(found.in_negative);
  EXPECT_NE(test::on(sure(found.shapes), s.truth.implants[0], s.frame), nullptr);
}

TEST(Detect, AnImplantUnderAHollowPartAsWideIsFound) {
  const Seen s = see(phantom::random_scene(791104));
  EXPECT_NE(test::on(sure(detect(s)), s.truth.implants[0], s.frame), nullptr);
}

TEST(Detect, DegeneratePicturesGiveNothing) {
  Frame frame;
  EXPECT_TRUE(detect_implants(frame, {}).empty());
  frame.rows = frame.columns = 300;
  frame.values.assign(90000, 7.0F);
  EXPECT_TRUE(detect_implants(frame, {}).empty());
  frame.values[45150] = 4000.0F;
  EXPECT_TRUE(detect_implants(frame, {}).empty());
  frame.rows = 3;
  frame.columns = 30000;
  EXPECT_TRUE(detect_implants(frame, {}).empty());
}

}  // namespace
}  // namespace crestgate
