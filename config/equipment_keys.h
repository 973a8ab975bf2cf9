// Rows of the rules' schema that describe what a site uses: implants, jig and step wedge, holders.
// Private to config/.
#pragma once
#include <vector>

#include "config/schema.h"

namespace crestgate {

std::vector<Key<Rules>> known_dimension_keys();
std::vector<Key<Rules>> jig_keys();
std::vector<Key<Rules>> positioning_keys();

}  // namespace crestgate
