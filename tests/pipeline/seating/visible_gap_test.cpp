// Smallest visible gap against the published bench study: Sharkey S, Kelly A, Houston F, O'Sullivan
// M, Quinn F, O'Connell B. A radiographic analysis of implant component misfit. Int J Oral
// Maxillofac Implants 2011;26:807-815 (abstract): gaps 0-190 um, angles 0-35 deg, three expert
// examiners; reliably seen: 12.7 um up to 5 deg, 25-38 um up to 10 deg, 51 um up to 15 deg.
// Beyond 15 deg our limit is an extrapolation: only its order is checked.
#include "pipeline/seating/visible_gap.h"

#include <gtest/gtest.h>

#include "config/units.h"

namespace crestgate {
namespace {

constexpr double kMmPerPx = 0.025;

// Implants of 3.5-5 mm, film-like to sensor-like sharpness, no noise: what geometry alone allows.
GapLimit limit_at(double angle_deg, double diameter_mm, double sigma_mm, double gap_sd_mm = 0) {
  JointShape joint;
  joint.implant_radius_px = joint.part_radius_px = diameter_mm / 2 / kMmPerPx;
  joint.core_radius_px = 0.6 * joint.implant_radius_px;
  return visible_gap(joint, radians(angle_deg), sigma_mm / kMmPerPx, gap_sd_mm, kMmPerPx);
}

TEST(VisibleGap, NeverMoreOptimisticThanTheBenchStudysReadersAndWithinAFactorOfTwo) {
  struct Row {
    double angle_deg, least_mm, most_mm;
  };
  // 25-38 um at 10 deg: never below 25, within two of 38.
  for (const Row& row :
       {Row{0, 0.0127, 2 * 0.0127}, Row{2, 0.0127, 2 * 0.0127}, Row{5, 0.0127, 2 * 0.0127},
        Row{10, 0.025, 2 * 0.038}, Row{15, 0.051, 2 * 0.051}}) {
    for (double diameter_mm : {3.5, 4.1, 5.0}) {
      for (double sigma_mm : {0.03, 0.045}) {
        const double mm = limit_at(row.angle_deg, diameter_mm, sigma_mm).butt_mm;
        EXPECT_GE(mm, row.least_mm) << row.angle_deg << " deg, " << diameter_mm << " mm";
        EXPECT_LE(mm, row.most_mm) << row.angle_deg << " deg, " << diameter_mm << " mm";
      }
    }
  }
}

TEST(VisibleGap, RisesWithAngleBlurAndNoise) {
  double before = 0;
  for (double angle = 0; angle <= 35; angle += 5) {
    const double mm = limit_at(angle, 4.1, 0.045).butt_mm;
    EXPECT_GE(mm, before);
    before = mm;
  }
  EXPECT_GT(before, 0.1);
  EXPECT_GT(limit_at(2, 4.1, 0.15).butt_mm, limit_at(2, 4.1, 0.05).butt_mm);
  EXPECT_NEAR(limit_at(2, 4.1, 0.045, 0.02).butt_mm, 0.02 * 5.345, 1e-4);
  EXPECT_EQ(limit_at(2, 4.1, 0.045, 0.02).bounded_by, "noise");
  EXPECT_EQ(limit_at(12, 4.1, 0.045).bounded_by, "angle");
  EXPECT_EQ(limit_at(0, 4.1, 0.03).butt_mm, kSmallestTestedGapMm);
}

// Sensitivity for 0.5 mm was only 0.3 in one connection design (Naghshizadian et al., evidence
// notes section 1): a joint that may be conical is promised more than that.
TEST(VisibleGap, ConicalJointsHideMoreThanWasMissedInTheBenchStudy) {
  const GapLimit limit = limit_at(0.0, 4.1, 0.045);
  EXPECT_GT(limit.conical_mm, 0.5);
  EXPECT_GT(limit.conical_at_best_mm, 0.5);  // no other exposure of this kind shows it
  const GapLimit noisy = limit_at(0.0, 4.1, 0.045, 0.3);
  EXPECT_GE(noisy.conical_mm, noisy.butt_mm);
}

TEST(VisibleGap, ARepeatAtTheRightAngleHelpsOnlyAgainstTheAngle) {
  const GapLimit tilted = limit_at(12, 4.1, 0.045);
  EXPECT_LT(tilted.butt_at_best_mm, 0.5 * tilted.butt_mm);
  const GapLimit straight = limit_at(0, 4.1, 0.045, 0.02);
  EXPECT_NEAR(straight.butt_at_best_mm, straight.butt_mm, 1e-6);
}

}  // namespace
}  // namespace crestgate
