// Follow-up pairs with a jig, rendered with known truth: a law over random sites, not a rate (rates
// and their bounds are the accuracy report's).
#include <gtest/gtest.h>

#include <algorithm>
#include <cmath>

#include "tests/numbers/pair_numbers.h"
#include "tests/numbers/statistics.h"

namespace crestgate::numbers {
namespace {

TEST(Pairs, WithAJigChangesLieInsideAUncertaintyThatIsNotBought) {
  const std::uint64_t first = 780000;
  std::vector<double> us;
  int outside = 0;
  for (const PairSite& s : pair_sites(first, 4)) {
    if (s.setting != "jig" || !s.given) continue;
    us.push_back(s.u_mm);
    outside += std::abs(s.change_mm - s.true_mm) > s.u_mm;
    EXPECT_FALSE(s.resolved && std::abs(s.true_mm) < 0.01)
        << "seed " << s.seed << ": " << s.change_mm << " +- " << s.u_mm;
  }
  ASSERT_GE(us.size(), 8U) << "seeds from " << first;
  // 5 % are expected outside; more than this many has less than 1 % probability.
  const double n = static_cast<double>(us.size());
  EXPECT_LE(outside, 0.05 * n + 2.6 * std::sqrt(0.0475 * n)) << "of " << us.size();
  EXPECT_LE(quantile(us, 0.5), 0.2);
}

}  // namespace
}  // namespace crestgate::numbers
