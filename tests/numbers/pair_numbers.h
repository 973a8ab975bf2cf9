// Pairs of exposures of one site with a known change of the crest: how often a change is called
// that is not there, how often one is missed, how often U is too small.
#pragma once
#include <cstdint>
#include <ostream>
#include <string>
#include <vector>

namespace crestgate::numbers {

/// One flank of one pair.
struct PairSite {
  std::uint64_t seed = 0;
  std::string setting;  ///< "jig", "freehand", "other detector"
  double true_mm = 0.0;
  double angle_difference_deg = 0.0;  ///< true
  bool both_found = false, compared = false, given = false, resolved = false;
  double change_mm = 0.0, u_mm = 0.0, k = 0.0;
  double likeness = 0.0;
  int pair = 0;  ///< number of the image pair: patients count once
  std::string why;
  std::vector<std::pair<std::string, double>> budget;
};

/// Per seed one baseline and follow-ups: jig-like (angles +-1 deg) with 0, 0.1/0.3, 0.2/0.6,
/// 0.3/1.0 mm, freehand (+-8 deg) with 0 and 0.3/0.6 mm, another detector.
std::vector<PairSite> pair_sites(std::uint64_t first, int count);
void write_pair_table(std::ostream& out, const std::vector<PairSite>& sites);

}  // namespace crestgate::numbers
