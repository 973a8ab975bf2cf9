// Mesial and distal from the tooth and the way the image lies.
#include "node/report/sides.h"

#include <gtest/gtest.h>

#include "node/report/codes.h"
#include "tests/node/report/cases.h"

namespace crestgate {
namespace {

std::optional<bool> mesial_left(const std::string& tooth, const std::string& row,
                                const std::string& column = "", Point apical = {0, 1}) {
  Analysis a = report_test::base_case("x").analysis;
  a.acquisition.teeth = {tooth};
  a.acquisition.patient_orientation_row = row;
  a.acquisition.patient_orientation_column = column;
  a.implants[0].shape.axis.apical = apical;
  return mesial_is_left(a, a.implants[0]);
}

/// Facing the patient, the patient's right is at image left: in the right quadrants the front (and
/// the midline) lies at image right, in the left ones at image left.
TEST(Sides, FacingThePatientAllFourQuadrants) {
  EXPECT_EQ(mesial_left("16", "A"), false);
  EXPECT_EQ(mesial_left("46", "A"), false);
  EXPECT_EQ(mesial_left("26", "P"), true);
  EXPECT_EQ(mesial_left("36", "P"), true);
  EXPECT_EQ(mesial_left("12", "L"), false);
  EXPECT_EQ(mesial_left("42", "L"), false);
  EXPECT_EQ(mesial_left("21", "L"), true);
  EXPECT_EQ(mesial_left("31", "L"), true);
}

TEST(Sides, AMirroredOrTurnedImageIsToldByItsOrientation) {
  EXPECT_EQ(mesial_left("36", "A"), false);
  EXPECT_EQ(mesial_left("36", "F", "P", {1, 0}), true);  // lying axis: left is smaller y
  EXPECT_EQ(mesial_left("36", "F", "A", {1, 0}), false);
}

TEST(Sides, NothingIsGuessed) {
  EXPECT_FALSE(mesial_left("36", ""));
  EXPECT_FALSE(mesial_left("36", "L"));  // says nothing about front and back
  EXPECT_FALSE(mesial_left("11", "A"));
  Analysis a = report_test::base_case("x").analysis;
  a.acquisition.teeth = {"36", "37"};  // which one the implant replaces is not told
  EXPECT_FALSE(mesial_is_left(a, a.implants[0]));
  EXPECT_EQ(side_names(a, a.implants[0], Language()).left, "image left");
}

TEST(Sides, TheReportsCrestLevelsCarryTheSideAsModifier) {  // TID 300 row 2
  const std::string text = report_test::printed_report(report_test::base_case("x"));
  const std::size_t left = text.find(codes::kCrestLeft.value);
  const std::size_t right = text.find(codes::kCrestRight.value);
  ASSERT_NE(left, std::string::npos);
  ASSERT_NE(right, std::string::npos);
  const std::size_t mesial = text.find(codes::kMesial.value);
  EXPECT_TRUE(left < mesial && mesial < right);
  EXPECT_NE(text.find(codes::kDistal.value, right), std::string::npos);
}

}  // namespace
}  // namespace crestgate
