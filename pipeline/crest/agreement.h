// Agreement of repeated readings, and degrees of freedom of a combined uncertainty: what crest
// levels are judged with. Pure arithmetic; functions throw std::invalid_argument on inputs that do
// not determine the result (unequal lengths, too few readings). All results are in the unit of
// the readings.
#pragma once
#include <vector>

namespace crestgate {

/// Limits of agreement of two methods: Bland JM, Altman DG. Lancet 1986;1:307-310.
struct Agreement {
  double bias = 0.0;  ///< mean of first - second
  double sd = 0.0;    ///< of the differences, n - 1
  double lower = 0.0, upper = 0.0;
};
/// `multiple` of the sd: 2 in the 1986 paper, 1.96 today.
Agreement limits_of_agreement(const std::vector<double>& first, const std::vector<double>& second,
                              double multiple = 1.96);

/// Method error of duplicate readings, sqrt(sum d^2 / 2n) (Dahlberg 1940); equals the
/// within-subject standard deviation of duplicates.
double dahlberg(const std::vector<double>& first, const std::vector<double>& second);

/// Within-subject standard deviation: root of the mean within-subject variance of a one-way
/// analysis of variance. Bland JM, Altman DG. BMJ 1996;313:744. Subjects may have unequal numbers
/// of readings; those with one reading add nothing.
double within_subject_sd(const std::vector<std::vector<double>>& readings);

/// Largest difference to be expected between two readings of one subject, 1.96 sqrt(2) s_w.
double repeatability(double within_subject_sd);

/// Intraclass correlations of one reading (Shrout PE, Fleiss JL. Psychol Bull 1979;86:420-428):
/// subjects in rows, raters in columns, no gaps.
struct Icc {
  double one_way = 0.0;         ///< ICC(1,1)
  double two_way_random = 0.0;  ///< ICC(2,1)
  double two_way_mixed = 0.0;   ///< ICC(3,1)
};
Icc intraclass_correlation(const std::vector<std::vector<double>>& readings);

/// One input of an uncertainty budget: its share c_i u_i of the combined uncertainty and its
/// degrees of freedom (infinity where known exactly).
struct UncertaintyInput {
  double standard_uncertainty = 0.0;
  double degrees_of_freedom = 0.0;
};
/// u_c of uncorrelated inputs, JCGM 100:2008, 5.1.2.
double combined_uncertainty(const std::vector<UncertaintyInput>& inputs);
/// Welch-Satterthwaite, JCGM 100:2008, G.4.1, formula G.2b.
double effective_degrees_of_freedom(const std::vector<UncertaintyInput>& inputs);

}  // namespace crestgate
