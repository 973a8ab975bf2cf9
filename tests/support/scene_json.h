// Scenes as JSON: keys are the field names of scene.h; a missing key keeps its default.
// Errors (std::invalid_argument) name the full key: unknown, wrong type, unknown word, out of
// range.
#pragma once
#include <nlohmann/json.hpp>
#include <string>

#include "tests/support/scene.h"

namespace crestgate::phantom {

nlohmann::json scene_to_json(const Scene& scene);
Scene scene_from_json(const nlohmann::json& json);
/// Reads one scene from a file; messages start with the file's name.
Scene read_scene(const std::string& path);
/// Throws if the scene cannot be rendered (e.g. pixel_mm <= 0).
void check(const Scene& scene);

}  // namespace crestgate::phantom
