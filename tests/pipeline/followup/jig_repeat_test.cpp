#include "pipeline/followup/jig_repeat.h"

#include <gtest/gtest.h>

#include <cmath>

namespace crestgate {
namespace {

Rules rules() {
  Rules r;
  r.positioning = Positioning{"ImageComments", "holder", 2.0, 0.02};
  return r;
}

std::string id_in(const std::string& text) {
  Acquisition a;
  a.reason_texts["ImageComments"] = text;
  return jig_id(a, rules().positioning);
}

TEST(JigId, TheWordAfterTheRulesText) {
  EXPECT_EQ(id_in("Holder A7, recall"), "a7");
  EXPECT_EQ(id_in("recall with HOLDER 36-2"), "36-2");
  EXPECT_EQ(id_in("recall, holder"), "");
  EXPECT_EQ(id_in("recall"), "");
  EXPECT_EQ(jig_id(Acquisition{}, rules().positioning), "");
  EXPECT_EQ(jig_id(Acquisition{}, std::nullopt), "");
}

/// One threaded implant of site 36, exposed with holder A7.
Analysis exposure(double vertical_deg, double turn_deg, double size, const std::string& holder) {
  constexpr double kPxPerMm = 40.0;
  Implant i;
  i.id = 1;
  const double scale = kPxPerMm * size, pitch = 0.7 * scale, radius = 2.0 * scale;
  i.shape.radius_px = radius;
  i.shape.length_px = 9.0 * scale;
  i.shape.axis = {{200.0, 50.0}, {-std::sin(radians(turn_deg)), std::cos(radians(turn_deg))}};
  for (int n = 0; n < i.shape.length_px; ++n) {
    const double depth = n > 0.8 * scale ? 0.15 * scale : 0.0, phase = 2 * kPi * n / pitch;
    i.shape.plus_edge_px.push_back(radius + depth * std::cos(phase));
    i.shape.minus_edge_px.push_back(-(radius + depth * std::cos(phase + kPi)));
  }
  i.projection.thread_pitch_px = pitch;
  i.projection.vertical_angle_deg = Quantity{vertical_deg, 1.0};
  i.projection.direction_resolved = true;
  Analysis a;
  a.acquisition.patient_id = "P1";
  a.acquisition.birth_date = "19700101";
  a.acquisition.teeth = {"36"};
  a.acquisition.content_date = "20250601";
  a.acquisition.reason_texts["ImageComments"] = "holder " + holder;
  a.scale.mm_per_px = Quantity{1 / kPxPerMm, 0.0};
  a.implants.push_back(i);
  return a;
}

Analysis judged(Analysis now, const Analysis& before) {
  judge_jig(now, before, rules());
  return now;
}

TEST(JigRepeat, WhatItRepeatsIsSaid) {
  const Analysis a = judged(exposure(1.5, 0.5, 1.002, "A7"), exposure(1.0, 0.0, 1.0, "A7"));
  ASSERT_EQ(a.reasons.size(), 1U);
  EXPECT_EQ(a.reasons[0].rule, "positioning");
  EXPECT_NE(a.reasons[0].text.find("a7, against its exposure of 2025-06-01: vertical angle 0.5"),
            std::string::npos)
      << a.reasons[0].text;
  EXPECT_TRUE(a.advice.empty());
}

TEST(JigRepeat, DriftBeyondTheRuleAsksToMakeItAnew) {
  const Analysis before = exposure(0.0, 0.0, 1.0, "A7");
  const Analysis tilted = judged(exposure(2.6, 0.0, 1.0, "A7"), before);
  ASSERT_EQ(tilted.reasons.size(), 1U);
  EXPECT_EQ(tilted.reasons[0].rule, "positioning.largest_drift_deg");
  EXPECT_NEAR(*tilted.reasons[0].value, 2.6, 1e-9);
  EXPECT_NE(tilted.advice.find("ake a7 anew"), std::string::npos) << tilted.advice;
  const Analysis turned = judged(exposure(0.0, 3.0, 1.0, "A7"), before);
  EXPECT_EQ(turned.reasons.at(0).rule, "positioning.largest_drift_deg");
  EXPECT_NEAR(*turned.reasons[0].value, 3.0, 1e-6);
  const Analysis nearer = judged(exposure(0.0, 0.0, 1.04, "A7"), before);
  EXPECT_EQ(nearer.reasons.at(0).rule, "positioning.largest_size_drift");
  EXPECT_NEAR(*nearer.reasons[0].value, 0.04, 0.005);
}

TEST(JigRepeat, ADifferenceWithinItsUncertaintyAsksNothing) {
  Analysis now = exposure(2.6, 0.0, 1.0, "A7");
  now.implants[0].projection.vertical_angle_deg->expanded_uncertainty = 3.0;
  const Analysis a = judged(now, exposure(0.0, 0.0, 1.0, "A7"));
  ASSERT_EQ(a.reasons.size(), 1U);
  EXPECT_EQ(a.reasons[0].rule, "positioning");
  EXPECT_TRUE(a.advice.empty());
}

TEST(JigRepeat, NothingIsSaidOfAnotherJigOrAnotherPerson) {
  const Analysis before = exposure(0.0, 0.0, 1.0, "A7");
  EXPECT_TRUE(judged(exposure(4.0, 0.0, 1.0, "B1"), before).reasons.empty());
  Analysis other = exposure(4.0, 0.0, 1.0, "A7");
  other.acquisition.birth_date = "19710101";
  EXPECT_TRUE(judged(other, before).reasons.empty());
}

}  // namespace
}  // namespace crestgate
