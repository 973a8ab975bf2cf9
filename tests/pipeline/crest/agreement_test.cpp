// Printed worked examples, from their raw data.
#include "pipeline/crest/agreement.h"

#include <gtest/gtest.h>

#include <cmath>
#include <limits>
#include <stdexcept>

namespace crestgate {
namespace {

// Peak expiratory flow, l/min, first and second reading: Bland JM, Altman DG. Lancet
// 1986;1:307-310. Raw data as on J. M. Bland's page at the University of York.
const std::vector<double> kLargeFirst{494, 395, 516, 434, 476, 557, 413, 442, 650,
                                      433, 417, 656, 267, 478, 178, 423, 427};
const std::vector<double> kLargeSecond{490, 397, 512, 401, 470, 611, 415, 431, 638,
                                       429, 420, 633, 275, 492, 165, 372, 421};
const std::vector<double> kMiniFirst{512, 430, 520, 428, 500, 600, 364, 380, 658,
                                     445, 432, 626, 260, 477, 259, 350, 451};
const std::vector<double> kMiniSecond{525, 415, 508, 444, 500, 625, 460, 390, 642,
                                      432, 420, 605, 227, 467, 268, 370, 443};

std::vector<std::vector<double>> pairs(const std::vector<double>& a, const std::vector<double>& b) {
  std::vector<std::vector<double>> rows;
  for (std::size_t i = 0; i < a.size(); ++i) rows.push_back({a[i], b[i]});
  return rows;
}

TEST(Agreement, LimitsOfAgreementReproduceThePeakFlowPaper) {
  const Agreement a = limits_of_agreement(kLargeFirst, kMiniFirst, 2.0);
  EXPECT_NEAR(a.bias, -2.1, 0.05);  // printed
  EXPECT_NEAR(a.sd, 38.8, 0.05);    // printed
  // Printed -79.7 and 75.5 (from memory) come from the rounded figures above.
  EXPECT_NEAR(a.lower, -79.7, 0.1);
  EXPECT_NEAR(a.upper, 75.5, 0.1);
  const Agreement today = limits_of_agreement(kLargeFirst, kMiniFirst);
  EXPECT_NEAR(today.lower, -78.097, 0.001);  // computed apart, evidence.md section 8
  EXPECT_NEAR(today.upper, 73.862, 0.001);
}

TEST(Agreement, DahlbergIsTheWithinSubjectSdOfDuplicates) {
  EXPECT_NEAR(dahlberg(kLargeFirst, kLargeSecond), 15.3067, 1e-4);
  EXPECT_NEAR(dahlberg(kMiniFirst, kMiniSecond), 19.9108, 1e-4);
  EXPECT_NEAR(within_subject_sd(pairs(kLargeFirst, kLargeSecond)), 15.3067, 1e-4);
  EXPECT_NEAR(within_subject_sd(pairs(kMiniFirst, kMiniSecond)), 19.9108, 1e-4);
  EXPECT_NEAR(repeatability(15.3067), 42.428, 0.001);
  EXPECT_NEAR(repeatability(19.9108), 55.190, 0.001);
}

TEST(Agreement, ChildrensPeakFlowGivesThePrintedMeasurementError) {
  // 20 children, four readings each: Bland JM, Altman DG. Measurement error. BMJ 1996;313:744.
  const std::vector<std::vector<double>> children{
      {190, 220, 200, 200}, {220, 200, 240, 230}, {260, 260, 240, 280}, {210, 300, 280, 265},
      {270, 265, 280, 270}, {280, 280, 270, 275}, {260, 280, 280, 300}, {275, 275, 275, 305},
      {280, 290, 300, 290}, {320, 290, 300, 290}, {300, 300, 310, 300}, {270, 250, 330, 370},
      {320, 330, 330, 330}, {335, 320, 335, 375}, {350, 320, 340, 365}, {360, 320, 350, 345},
      {330, 340, 380, 390}, {335, 385, 360, 370}, {400, 420, 425, 420}, {430, 460, 480, 470}};
  const double sd = within_subject_sd(children);
  EXPECT_NEAR(sd, 21.5, 0.05);  // printed
  EXPECT_NEAR(sd * sd, 460.5208, 1e-4);
  EXPECT_NEAR(repeatability(sd), 60, 0.6);  // printed (from memory), with 2.77 and rounding
  const Icc icc = intraclass_correlation(children);
  EXPECT_NEAR(icc.one_way, 0.88767, 1e-5);
  EXPECT_NEAR(icc.two_way_random, 0.88821, 1e-5);
  EXPECT_NEAR(icc.two_way_mixed, 0.90587, 1e-5);
}

TEST(Agreement, IntraclassCorrelationsReproduceSixTargetsFourJudges) {
  // Shrout PE, Fleiss JL. Psychol Bull 1979;86:420-428; printed .17, .29, .71.
  const Icc icc = intraclass_correlation(
      {{9, 2, 5, 8}, {6, 1, 3, 2}, {8, 4, 6, 8}, {7, 1, 2, 6}, {10, 5, 6, 9}, {6, 2, 4, 7}});
  EXPECT_NEAR(icc.one_way, 0.17, 0.005);
  EXPECT_NEAR(icc.two_way_random, 0.29, 0.005);
  EXPECT_NEAR(icc.two_way_mixed, 0.71, 0.006);
}

TEST(Agreement, EndGaugeBudgetHasSixteenDegreesOfFreedom) {
  // JCGM 100:2008 H.1, table H.1, nm (from memory): standard with its certificate, comparison
  // (repeated readings, random and systematic effects of the comparator), and the two temperature
  // terms. Printed: u_c 32 nm, 16 degrees of freedom.
  const std::vector<UncertaintyInput> budget{{25, 18}, {5.8, 24}, {3.9, 5},
                                             {6.7, 8}, {2.9, 50}, {16.6, 2}};
  EXPECT_NEAR(combined_uncertainty(budget), 32, 0.5);
  EXPECT_EQ(std::floor(effective_degrees_of_freedom(budget)), 16);
  EXPECT_TRUE(
      std::isinf(effective_degrees_of_freedom({{3.0, std::numeric_limits<double>::infinity()}})));
}

TEST(Agreement, ReadingsThatDetermineNothingAreRefused) {
  EXPECT_THROW(limits_of_agreement({1, 2}, {1}), std::invalid_argument);
  EXPECT_THROW(limits_of_agreement({1}, {1}), std::invalid_argument);
  EXPECT_THROW(dahlberg({}, {}), std::invalid_argument);
  EXPECT_THROW(within_subject_sd({{1}, {2}}), std::invalid_argument);
  EXPECT_THROW(intraclass_correlation({{1, 2}, {1}}), std::invalid_argument);
  EXPECT_THROW(effective_degrees_of_freedom({{1.0, 0.0}}), std::invalid_argument);
}

}  // namespace
}  // namespace crestgate
