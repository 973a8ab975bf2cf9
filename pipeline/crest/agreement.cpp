#include "pipeline/crest/agreement.h"

#include <cmath>
#include <limits>
#include <stdexcept>

namespace crestgate {
namespace {

double mean(const std::vector<double>& x) {
  double sum = 0.0;
  for (const double v : x) sum += v;
  return sum / static_cast<double>(x.size());
}

double squares_about(const std::vector<double>& x, double centre) {
  double sum = 0.0;
  for (const double v : x) sum += (v - centre) * (v - centre);
  return sum;
}

std::vector<double> differences(const std::vector<double>& first,
                                const std::vector<double>& second) {
  if (first.size() != second.size())
    throw std::invalid_argument("paired readings of unequal number");
  std::vector<double> d(first.size());
  for (std::size_t i = 0; i < d.size(); ++i) d[i] = first[i] - second[i];
  return d;
}

}  // namespace

Agreement limits_of_agreement(const std::vector<double>& first, const std::vector<double>& second,
                              double multiple) {
  const std::vector<double> d = differences(first, second);
  if (d.size() < 2) throw std::invalid_argument("limits of agreement need two pairs");
  Agreement a;
  a.bias = mean(d);
  a.sd = std::sqrt(squares_about(d, a.bias) / static_cast<double>(d.size() - 1));
  a.lower = a.bias - multiple * a.sd;
  a.upper = a.bias + multiple * a.sd;
  return a;
}

double dahlberg(const std::vector<double>& first, const std::vector<double>& second) {
  const std::vector<double> d = differences(first, second);
  if (d.empty()) throw std::invalid_argument("method error needs a pair");
  return std::sqrt(squares_about(d, 0.0) / (2.0 * static_cast<double>(d.size())));
}

double within_subject_sd(const std::vector<std::vector<double>>& readings) {
  double squares = 0.0;
  std::size_t degrees = 0;
  for (const auto& subject : readings) {
    if (subject.size() < 2) continue;
    squares += squares_about(subject, mean(subject));
    degrees += subject.size() - 1;
  }
  if (degrees == 0) throw std::invalid_argument("no subject was read twice");
  return std::sqrt(squares / static_cast<double>(degrees));
}

double repeatability(double within_subject_sd) { return 1.96 * std::sqrt(2.0) * within_subject_sd; }

Icc intraclass_correlation(const std::vector<std::vector<double>>& readings) {
  const std::size_t n = readings.size(), k = n == 0 ? 0 : readings[0].size();
  if (n < 2 || k < 2) throw std::invalid_argument("needs two subjects and two raters");
  std::vector<double> subject_mean(n), rater_mean(k, 0.0);
  double within = 0.0;
  for (std::size_t i = 0; i < n; ++i) {
    if (readings[i].size() != k) throw std::invalid_argument("a subject lacks readings");
    subject_mean[i] = mean(readings[i]);
    within += squares_about(readings[i], subject_mean[i]);
    for (std::size_t j = 0; j < k; ++j) rater_mean[j] += readings[i][j] / static_cast<double>(n);
  }
  const double all = mean(subject_mean), nd = static_cast<double>(n), kd = static_cast<double>(k);
  const double bms = kd * squares_about(subject_mean, all) / (nd - 1);
  const double wms = within / (nd * (kd - 1));
  const double jms = nd * squares_about(rater_mean, all) / (kd - 1);
  const double ems = (within - jms * (kd - 1)) / ((nd - 1) * (kd - 1));
  Icc icc;
  icc.one_way = (bms - wms) / (bms + (kd - 1) * wms);
  icc.two_way_random = (bms - ems) / (bms + (kd - 1) * ems + kd * (jms - ems) / nd);
  icc.two_way_mixed = (bms - ems) / (bms + (kd - 1) * ems);
  return icc;
}

double combined_uncertainty(const std::vector<UncertaintyInput>& inputs) {
  double sum = 0.0;
  for (const auto& i : inputs) sum += i.standard_uncertainty * i.standard_uncertainty;
  return std::sqrt(sum);
}

double effective_degrees_of_freedom(const std::vector<UncertaintyInput>& inputs) {
  double sum = 0.0;
  for (const auto& i : inputs) {
    if (!(i.degrees_of_freedom > 0)) throw std::invalid_argument("degrees of freedom below 1");
    sum += std::pow(i.standard_uncertainty, 4) / i.degrees_of_freedom;
  }
  if (sum == 0.0) return std::numeric_limits<double>::infinity();
  return std::pow(combined_uncertainty(inputs), 4) / sum;
}

}  // namespace crestgate
