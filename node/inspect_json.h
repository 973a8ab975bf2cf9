// The JSON contract of `crestgate inspect --json` (design section 7, node/inspect.schema.json): one
// element per file. Unknown is null; NaN and infinity become null. Pure functions.
#pragma once
#include <nlohmann/json.hpp>
#include <string>

#include "node/report/build.h"
#include "pipeline/image/analysis.h"

namespace crestgate {

/// `visit`: repeat and views of the visit, where they are known; null where not. Sentences are in
/// the language of `text`; every other string is of the contract and never translated.
nlohmann::ordered_json inspect_json(const Analysis& analysis, const std::string& file,
                                    const std::string& software,
                                    const ReportContext* visit = nullptr,
                                    const Language& text = {});

/// JSON text; invalid UTF-8 from hostile input is replaced, never thrown over.
std::string json_text(const nlohmann::ordered_json& json, int indent = 1);

}  // namespace crestgate
