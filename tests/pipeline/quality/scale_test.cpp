#include <gtest/gtest.h>

#include <cmath>

#include "pipeline/quality/quality.h"

namespace crestgate {
namespace {

Acquisition with(const char* source, double row_mm, double column_mm) {
  Acquisition a;
  a.spacing = {row_mm, column_mm, source};
  return a;
}

// Magnifications of evidence.md section 5 (computed there: M = SID/SOD for SOD 200-400, OID 10-20).
TEST(Scale, UsualMagnificationsLieInsideTheUncertainty) {
  const Scale scale = scale_from_header(with("imager", 0.02, 0.02));
  ASSERT_TRUE(scale.mm_per_px);
  for (double m : {1.025, 1.033, 1.050, 1.067}) {
    EXPECT_NEAR(scale.mm_per_px->value, 0.02 / m, scale.mm_per_px->expanded_uncertainty) << m;
  }
  EXPECT_LT(scale.mm_per_px->expanded_uncertainty, 0.05 * 0.02);  // and it is no empty promise
  EXPECT_EQ(scale.source, "imager, usual magnification assumed");
}

TEST(Scale, StatedMagnificationAndDistancesAreUsedIfPlausible) {
  Acquisition a = with("imager", 0.02, 0.02);
  a.magnification = 1.05;
  EXPECT_NEAR(scale_from_header(a).mm_per_px->value, 0.02 / 1.05, 1e-9);
  a.magnification = 7.0;
  a.source_to_detector_mm = 210;
  a.source_to_patient_mm = 200;  // to the skin or to the tooth: 1/1.05 to 1
  const Quantity scale = *scale_from_header(a).mm_per_px;
  EXPECT_NEAR(scale.value, 0.02 * (1 + 1 / 1.05) / 2, 1e-9);
  EXPECT_NEAR(0.02 / 1.05, scale.value, scale.expanded_uncertainty);
  a.source_to_patient_mm = 0;
  EXPECT_EQ(scale_from_header(a).source, "imager, usual magnification assumed");
}

TEST(Scale, PlaneOfTheSpacingDecidesTheFactor) {
  EXPECT_NEAR(scale_from_header(with("pixel-fiducial", 0.02, 0.02)).mm_per_px->value, 0.02, 1e-9);
  EXPECT_NEAR(scale_from_header(with("pixel-geometry", 0.02, 0.02)).mm_per_px->value, 0.02, 1e-9);
  const Quantity open = *scale_from_header(with("pixel", 0.02, 0.02)).mm_per_px;
  EXPECT_NEAR(0.02, open.value, open.expanded_uncertainty);
  EXPECT_NEAR(0.02 / 1.067, open.value, open.expanded_uncertainty);
  const Quantity conflict = *scale_from_header(with("conflict", 0.02, 0.02)).mm_per_px;
  EXPECT_GT(conflict.expanded_uncertainty, 0.15 * conflict.value);
}

TEST(Scale, UnequalRowsAndColumnsWidenTheUncertainty) {
  const Scale equal = scale_from_header(with("imager", 0.02, 0.02));
  const Scale unequal = scale_from_header(with("imager", 0.021, 0.019));
  EXPECT_GT(unequal.mm_per_px->expanded_uncertainty, 1.5 * equal.mm_per_px->expanded_uncertainty);
  EXPECT_NE(unequal.source.find("rows and columns differ"), std::string::npos);
}

TEST(Scale, NoSpacingNoScale) {
  EXPECT_FALSE(scale_from_header({}).mm_per_px);
  EXPECT_EQ(scale_from_header({}).source, "none");
  EXPECT_FALSE(scale_from_header(with("imager", std::nan(""), 0.02)).mm_per_px);
}

}  // namespace
}  // namespace crestgate
