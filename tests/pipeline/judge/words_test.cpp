#include "pipeline/judge/words.h"

#include <gtest/gtest.h>

#include <cmath>

namespace crestgate {
namespace {

TEST(Words, AnAmountIsNeverFinerThanItsUncertainty) {
  const struct {
    double angle, u;
    const char* text;
  } cases[] = {{9.0, 0.5, "about 9°"},   {-9.4, 1.0, "about 9°"}, {9.4, 1.1, "about 10°"},
               {9.0, 2.0, "about 10°"},  {7.4, 2.1, "about 5°"},  {7.6, 5.0, "about 10°"},
               {12.0, 5.1, "about 10°"}, {3.0, 8.0, "slightly"},  {0.4, 0.2, "slightly"}};
  for (const auto& c : cases)
    EXPECT_EQ(amount_text({c.angle, c.u}, {}), c.text) << c.angle << " +/- " << c.u;
}

TEST(Words, NumbersAreShort) {
  EXPECT_EQ(gap_text(0.0395), "40 µm");
  EXPECT_EQ(gap_text(0.0401), "41 µm");
  EXPECT_EQ(mm_text(0.0454), "0.045 mm");
  EXPECT_EQ(mm_text(0.454), "0.45 mm");
  EXPECT_EQ(mm_text(2.04), "2.0 mm");
  EXPECT_EQ(angle_text({-8.96, 1.5}), "9.0 ± 1.5°");
}

TEST(Words, AnUncertaintyIsRoundedUpAndNoZeroIsNegative) {
  EXPECT_EQ(fixed_up(1.11, 1), "1.2");
  EXPECT_EQ(fixed_up(1.1, 1), "1.1");
  EXPECT_EQ(fixed_up(0.1 + 0.2, 1), "0.3");  // not 0.4 for what is stored as 0.30000000000000004
  EXPECT_EQ(fixed_up(0.001, 2), "0.01");
  EXPECT_EQ(fixed(-0.04, 1), "0.0");
  EXPECT_EQ(fixed(-0.06, 1), "-0.1");
  EXPECT_EQ(plus_minus({0.185, 0.041}, 2, " mm"), fixed(0.185, 2) + " ± 0.05 mm");
}

TEST(Words, KnownIsFinite) {
  EXPECT_FALSE(known(std::optional<double>(std::nan(""))));
  EXPECT_FALSE(known(std::optional<double>()));
  EXPECT_FALSE(known(std::optional<Quantity>(Quantity{1, INFINITY})));
  EXPECT_EQ(known(std::optional<Quantity>(Quantity{1, -2}))->expanded_uncertainty, 2);
}

}  // namespace
}  // namespace crestgate
