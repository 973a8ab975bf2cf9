// Values that are each in range but contradict each other. Private to config/.
#pragma once
#include <functional>
#include <string>
#include <vector>

#include "config/diagnostics.h"
#include "config/rules.h"
#include "config/settings.h"

namespace crestgate {

/// Where a key was written ("intents.contains", element 2); the file as a whole if it was not.
using PlaceOf = std::function<Place(const std::string& path, std::size_t index)>;

std::vector<Diagnostic> contradictions(const Rules& rules, const PlaceOf& place_of);
std::vector<Diagnostic> contradictions(const Settings& settings, const PlaceOf& place_of);

}  // namespace crestgate
