// Theta -> words against the published rule: in a picture hung with the ceiling up, threads blurred
// on the right mean 'raise the beam' (towards the ceiling), on the left 'lower it' (towards the
// floor). Schropp L et al., Dentomaxillofac Radiol 2012;41:298-304 (abstract; evidence.md section
// 2).
#include <gtest/gtest.h>

#include <cmath>

#include "pipeline/judge/advice.h"

namespace crestgate {
namespace {

enum class Towards { ceiling, floor };

Point turned(Point p, int quarter_turns) {
  for (int i = 0; i < quarter_turns; ++i) p = {-p.y, p.x};
  return p;
}

struct Shot {
  Jaw jaw;
  int quarter_turns;  ///< of the picture, from ceiling up
  bool mirrored, left_handed, source_coronal;
};

// Where the image shows the blurred flank (unit vector from the axis), from design.md section 3:
// crown up, right-handed, unmirrored, the flank at image right is blurred if the source is coronal.
Point blurred_flank(const Shot& shot) {
  double side = shot.source_coronal ? 1 : -1;
  if (shot.mirrored) side = -side;
  if (shot.left_handed) side = -side;
  const int crown_down = shot.jaw == Jaw::maxilla ? 2 : 0;  // 180 degrees keep the handedness
  return turned({side, 0}, crown_down + shot.quarter_turns);
}

Point apical(const Shot& shot) {
  return turned({0, 1}, (shot.jaw == Jaw::maxilla ? 2 : 0) + shot.quarter_turns);
}

// What a reader with the published rule does: hang the picture ceiling up, look at the side.
Towards published_rule(const Shot& shot) {
  const Point hung = turned(blurred_flank(shot), 4 - shot.quarter_turns);
  return hung.x > 0 ? Towards::ceiling : Towards::floor;
}

// What the pipeline measures, taking the thread as right-handed and the image as unmirrored.
double measured_theta_deg(const Shot& shot) {
  AxisFrame axis;
  axis.apical = apical(shot);
  const Point right = axis.right(), blurred = blurred_flank(shot);
  return blurred.x * right.x + blurred.y * right.y > 0 ? 9.0 : -9.0;
}

ProjectionMeasures projection(double theta_deg, bool resolved = true) {
  ProjectionMeasures p;
  p.vertical_angle_deg = Quantity{theta_deg, 1.0};
  p.direction_resolved = resolved;
  return p;
}

TEST(Direction, AgreesWithThePublishedRuleInEveryPictureAndWithTheTruthWhereItCan) {
  int checked = 0;
  for (Jaw jaw : {Jaw::mandible, Jaw::maxilla})
    for (int turns = 0; turns < 4; ++turns)
      for (bool mirrored : {false, true})
        for (bool left_handed : {false, true})
          for (bool coronal : {false, true}) {
            const Shot shot{jaw, turns, mirrored, left_handed, coronal};
            const std::string text = movement_text(projection(measured_theta_deg(shot)), jaw, {});
            const bool up = text.find("ceiling") != std::string::npos;
            ASSERT_NE(up, text.find("floor") != std::string::npos) << text;
            EXPECT_EQ(up, published_rule(shot) == Towards::ceiling) << text;
            // Aiming up goes with a lower head, aiming down with a higher one.
            EXPECT_EQ(up, text.find("lower the tube head") != std::string::npos) << text;
            EXPECT_EQ(!up, text.find("raise the tube head") != std::string::npos) << text;
            // Truth: a source too high has to come down and aim up. Rule and pipeline are right
            // unless exactly one of mirror and left-handed thread turns the picture's sense.
            const bool source_high = (jaw == Jaw::mandible) == coronal;
            EXPECT_EQ(up == source_high, mirrored == left_handed);
            ++checked;
          }
  EXPECT_EQ(checked, 64);
}

TEST(Direction, UnknownJawIsWordedByRootAndCrown) {
  EXPECT_NE(movement_text(projection(9), Jaw::unknown, {}).find("towards the root end"),
            std::string::npos);
  EXPECT_NE(movement_text(projection(-9), Jaw::unknown, {}).find("towards the crown end"),
            std::string::npos);
}

TEST(Direction, UnresolvedDirectionIsNotWorded) {
  for (Jaw jaw : {Jaw::unknown, Jaw::maxilla, Jaw::mandible}) {
    const std::string text = movement_text(projection(9, false), jaw, {});
    EXPECT_NE(text.find("direction not resolved"), std::string::npos);
    for (const char* word : {"ceiling", "floor", "root", "raise", "lower"})
      EXPECT_EQ(text.find(word), std::string::npos) << text;
  }
}

}  // namespace
}  // namespace crestgate
