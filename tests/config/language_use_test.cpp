// The code and the table of texts fit together: every key the sources name is in the table, every
// key of the table is named, and whoever asks for a text gives all its placeholders. Read from the
// sources, so that a sentence nobody has seen yet is checked too.
#include <gtest/gtest.h>

#include <algorithm>
#include <filesystem>
#include <fstream>
#include <regex>
#include <sstream>

#include "config/language.h"
#include "config/schema.h"

namespace crestgate {
namespace {

namespace fs = std::filesystem;

/// All of pipeline/ and node/, comments taken out.
std::map<std::string, std::string> sources() {
  std::map<std::string, std::string> all;
  for (const char* folder : {"pipeline", "node"})
    for (const auto& entry : fs::recursive_directory_iterator(fs::path(SOURCE_DIR) / folder)) {
      if (entry.path().extension() != ".cpp" && entry.path().extension() != ".h") continue;
      std::ifstream in(entry.path());
      std::string text;
      for (std::string line; std::getline(in, line);) {
        const std::size_t comment = line.find("//");
        text += (comment == std::string::npos ? line : line.substr(0, comment)) + "\n";
      }
      all[fs::relative(entry.path(), SOURCE_DIR).string()] = text;
    }
  return all;
}

std::vector<std::string> literals_in(const std::string& code) {
  static const std::regex literal("\"((?:[^\"\\\\]|\\\\.)*)\"");
  std::vector<std::string> found;
  for (auto i = std::sregex_iterator(code.begin(), code.end(), literal);
       i != std::sregex_iterator(); ++i)
    found.push_back((*i)[1]);
  return found;
}

/// Keys of the table a literal stands for: itself, or all that begin with "group.".
std::vector<std::string> keys_of(const std::string& literal) {
  if (english_texts().count(literal) > 0) return {literal};
  std::vector<std::string> keys;
  if (literal.empty() || literal.back() != '.') return keys;
  for (const auto& [key, text] : english_texts())
    if (key.rfind(literal, 0) == 0) keys.push_back(key);
  return keys;
}

bool is_of_a_group(const std::string& literal) {
  const std::string group = group_of(literal);
  const auto& texts = english_texts();
  return !group.empty() && rules_schema().group(group) == nullptr &&
         std::any_of(texts.begin(), texts.end(),
                     [&](const auto& entry) { return group_of(entry.first) == group; });
}

struct Request {
  std::string keys;    ///< first argument
  std::string values;  ///< the rest
};

/// The arguments of every .get(...) of a language.
std::vector<Request> requests_in(const std::string& code) {
  static const std::regex start("\\b(text|words|text_)\\.get\\(");
  std::vector<Request> found;
  for (auto i = std::sregex_iterator(code.begin(), code.end(), start); i != std::sregex_iterator();
       ++i) {
    Request request;
    int depth = 0;
    bool first = true, quoted = false;
    for (std::size_t at = static_cast<std::size_t>(i->position() + i->length()); at < code.size();
         ++at) {
      const char c = code[at];
      if (c == '"' && code[at - 1] != '\\') quoted = !quoted;
      if (!quoted) {
        if (c == '(' || c == '{' || c == '[') ++depth;
        if (c == ')' || c == '}' || c == ']') --depth;
        if (depth < 0) break;
        if (c == ',' && depth == 0) first = false;
      }
      (first ? request.keys : request.values) += c;
    }
    found.push_back(request);
  }
  return found;
}

TEST(LanguageUse, EveryKeyTheSourcesNameIsInTheTable) {
  for (const auto& [file, code] : sources())
    for (const std::string& literal : literals_in(code)) {
      // Names of measures and codes have no blank after the dot, file names end in one.
      static const std::regex like_a_key("[a-z_]+\\.[a-z][a-z_]*");
      if (!std::regex_match(literal, like_a_key) || !is_of_a_group(literal)) continue;
      EXPECT_EQ(english_texts().count(literal), 1U) << file << ": \"" << literal << '"';
    }
}

TEST(LanguageUse, EveryKeyOfTheTableIsNamedInTheSources) {
  std::set<std::string> named;
  for (const auto& [file, code] : sources())
    for (const std::string& literal : literals_in(code))
      for (const std::string& key : keys_of(literal)) named.insert(key);
  for (const auto& [key, text] : english_texts()) EXPECT_EQ(named.count(key), 1U) << key;
}

TEST(LanguageUse, WhoeverAsksForATextGivesItsPlaceholders) {
  static const std::regex name("\\{\\s*\"([a-z_]+)\"\\s*,");
  int checked = 0;
  for (const auto& [file, code] : sources())
    for (const Request& request : requests_in(code)) {
      std::set<std::string> given;
      for (auto i = std::sregex_iterator(request.values.begin(), request.values.end(), name);
           i != std::sregex_iterator(); ++i)
        given.insert((*i)[1]);
      for (const std::string& literal : literals_in(request.keys))
        for (const std::string& key : keys_of(literal)) {
          EXPECT_EQ(placeholders_of(english_texts().at(key)), given) << file << ": " << key;
          ++checked;
        }
    }
  EXPECT_GT(checked, 200);
}

}  // namespace
}  // namespace crestgate
