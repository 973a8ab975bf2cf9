// One written value -> Value, strictly: what YAML 1.1 would read leniently (010, .nan, yes, 1_000)
// is refused with what was expected. Pure; no state.
#pragma once
#include <string>

#include "config/schema.h"
#include "config/yaml_tree.h"

namespace crestgate {

/// What a key may hold, without its name.
struct Expected {
  Kind kind = Kind::text;
  std::string unit;
  double least = 0.0, most = 0.0;
  std::vector<std::string> choices;
};

/// "a number in mm from 0.0127 to 1", "one of: trial, live", ...
std::string describe(const Expected& expected);

/// The value; on failure appends diagnostics at the offending places and returns false.
bool read_value(const YamlNode& node, const std::string& name, const Expected& expected,
                Value& value, std::vector<Diagnostic>& problems);

/// Shortest decimal text that reads back as the same double; no locale.
std::string number_text(double value);

}  // namespace crestgate
