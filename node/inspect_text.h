// The text that `crestgate inspect` prints for a person: verdict and findings first, then why, then
// what was measured. Made from the JSON element, so that both say the same. Pure.
#pragma once
#include <nlohmann/json.hpp>
#include <string>

namespace crestgate {

std::string inspect_text(const nlohmann::ordered_json& element);

}  // namespace crestgate
