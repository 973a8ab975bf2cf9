// Validates a document against the committed node/inspect.schema.json.
#pragma once
#include <fstream>
#include <nlohmann/json.hpp>
#include <string>
#include <valijson/adapters/nlohmann_json_adapter.hpp>
#include <valijson/schema.hpp>
#include <valijson/schema_parser.hpp>
#include <valijson/validation_results.hpp>
#include <valijson/validator.hpp>

namespace crestgate {

/// Empty if the document fits the committed schema, else what does not.
inline std::string schema_complaints(const nlohmann::json& document) {
  std::ifstream file(SOURCE_DIR "/node/inspect.schema.json");
  const nlohmann::json schema_json = nlohmann::json::parse(file);
  valijson::Schema schema;
  valijson::SchemaParser parser;
  parser.populateSchema(valijson::adapters::NlohmannJsonAdapter(schema_json), schema);
  valijson::Validator validator;
  valijson::ValidationResults results;
  if (validator.validate(schema, valijson::adapters::NlohmannJsonAdapter(document), &results)) {
    return "";
  }
  std::string text;
  valijson::ValidationResults::Error error;
  while (results.popError(error)) {
    for (const std::string& part : error.context) text += part;
    text += ": " + error.description + "\n";
  }
  return text.empty() ? "does not fit" : text;
}

}  // namespace crestgate
