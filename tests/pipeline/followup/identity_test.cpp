#include "pipeline/followup/identity.h"

#include <gtest/gtest.h>

#include "pipeline/followup/comparability.h"
#include "pipeline/followup/followup.h"

namespace crestgate {
namespace {

Acquisition lower_right() {
  Acquisition a;
  a.patient_id = "SAMPLE-1";
  a.issuer_of_patient_id = "Invented Clinic";
  a.birth_date = "19600101";
  a.teeth = {"46"};
  a.image_laterality = "R";
  a.jaw = Jaw::mandible;
  a.detector_id = "SENSOR-1";
  a.device_serial = "P1";
  a.spacing = {0.025, 0.025, "imager"};
  return a;
}

std::string only(const std::vector<std::string>& texts) {
  return texts.size() == 1 ? texts[0] : std::to_string(texts.size()) + " texts";
}

TEST(Identity, SamePersonAndSiteAgree) {
  EXPECT_TRUE(identity_conflicts(lower_right(), lower_right()).empty());
}

TEST(Identity, EveryConflictIsNamed) {
  const Acquisition now = lower_right();
  Acquisition other = now;
  other.patient_id = "SAMPLE-2";
  EXPECT_NE(only(identity_conflicts(now, other)).find("Patient ID differs"), std::string::npos);
  other = now;
  other.issuer_of_patient_id = "Other Clinic";
  EXPECT_NE(only(identity_conflicts(now, other)).find("Issuer"), std::string::npos);
  other = now;
  other.birth_date = "19610101";  // merged records, or two people under one ID
  EXPECT_NE(only(identity_conflicts(now, other)).find("birth date differs"), std::string::npos);
  other = now;
  other.teeth = {"45"};
  EXPECT_NE(only(identity_conflicts(now, other)).find("site differs: 46 now, 45"),
            std::string::npos);
}

TEST(Identity, SwappedLateralityIsSeenWithinOneImage) {
  Acquisition swapped = lower_right();
  swapped.image_laterality = "L";
  const auto conflicts = identity_conflicts(lower_right(), swapped);
  ASSERT_EQ(conflicts.size(), 2U);  // against the other image, and against its own site
  EXPECT_NE(conflicts[1].find("states laterality L but site 46"), std::string::npos);
}

TEST(Identity, WhatIsNotStatedIsNotCertain) {
  Acquisition bare = lower_right();
  bare.birth_date.clear();
  EXPECT_NE(only(identity_conflicts(bare, bare)).find("stated in neither"), std::string::npos);
  bare = lower_right();
  bare.teeth.clear();
  EXPECT_NE(only(identity_conflicts(lower_right(), bare)).find("does not state its site"),
            std::string::npos);
}

Implant implant_of(double diameter_px, double pitch_px, double length_px) {
  Implant i;
  i.shape.radius_px = diameter_px / 2;
  i.shape.length_px = length_px;
  i.shape.platform_in_view = i.shape.apex_in_view = true;
  i.projection.outer_diameter_px = diameter_px;
  i.projection.thread_pitch_px = pitch_px;
  return i;
}

TEST(Geometry, AnotherImplantIsToldFromTheSameOne) {
  const Scale scale{Quantity{0.025, 0.001}, "imager"};
  const Implant one = implant_of(164, 28, 400);
  const auto against = [&](const Implant& other) {
    return compare_geometry(one, scale, other, scale).differences.size();
  };
  EXPECT_EQ(against(implant_of(166, 28.5, 405)), 0U);
  EXPECT_EQ(against(implant_of(164, 40, 400)), 1U);    // other thread
  EXPECT_EQ(against(implant_of(164, 28, 520)), 1U);    // longer
  EXPECT_EQ(against(implant_of(200, 34.1, 488)), 1U);  // thicker by a fifth, else alike
}

TEST(Comparability, AnotherDetectorIsRefusedByAnyOfItsMarks) {
  const Acquisition now = lower_right();
  for (const int mark : {0, 1, 2, 3}) {
    Acquisition other = now;
    if (mark == 0) other.detector_id = "SENSOR-2";
    if (mark == 1) other.device_serial = "P2";
    if (mark == 2) other.spacing.row_mm = other.spacing.column_mm = 0.02;
    if (mark == 3) other.for_presentation = false;
    EXPECT_EQ(compare_acquisition(now, other).refusals.size(), 1U) << mark;
  }
  EXPECT_TRUE(compare_acquisition(now, now).refusals.empty());
}

TEST(Years, CalendarDates) {
  EXPECT_NEAR(*years_between("20240110", "20260110"), 2.0, 0.01);
  EXPECT_FALSE(years_between("", "20260110").has_value());
}

}  // namespace
}  // namespace crestgate
