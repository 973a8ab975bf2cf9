#include "config/language_file.h"

#include <algorithm>

#include "config/canonical.h"
#include "config/schema.h"
#include "config/yaml_tree.h"

namespace crestgate {
namespace {

using Problems = std::vector<Diagnostic>;
using Names = std::vector<std::string>;

std::string in_quotes(const std::string& text) {
  std::string out = "\"";
  for (const char c : text) {
    if (c == '\n') {
      out += "\\n";
      continue;
    }
    if (c == '"' || c == '\\') out += '\\';
    out += c;
  }
  return out + "\"";
}

/// "groups" of the table, or the keys within one.
Names names_in(const std::string& group) {
  Names names;
  for (const auto& [key, text] : english_texts()) {
    if (group.empty() && (names.empty() || names.back() != group_of(key)))
      names.push_back(group_of(key));
    if (!group.empty() && group_of(key) == group) names.push_back(leaf_of(key));
  }
  return names;
}

std::string did_you_mean(const std::string& name, const Names& candidates) {
  const std::string near = nearest(name, candidates);
  return near.empty() ? "" : "; did you mean '" + near + "'?";
}

/// Remembers a map's keys; false, and said, for one that stands there twice.
class Seen {
 public:
  bool first(const YamlNode& key, Problems& problems) {
    const auto [at, fresh] = lines_.emplace(key.text, key.place.line);
    if (!fresh)
      problems.push_back({key.place, "'" + excerpt_of(key.text) +
                                         "' stands here twice, first in line " +
                                         std::to_string(at->second)});
    return fresh;
  }
  bool has(const std::string& name) const { return lines_.count(name) > 0; }

 private:
  std::map<std::string, int> lines_;
};

void check_placeholders(const std::string& key, const YamlNode& node, Problems& problems) {
  const std::set<std::string> wanted = placeholders_of(english_texts().at(key));
  const std::set<std::string> found = placeholders_of(node.text);
  const Names names(wanted.begin(), wanted.end());
  for (const std::string& name : found)
    if (wanted.count(name) == 0)
      problems.push_back({node.place, "'" + key + "' has no placeholder {" + excerpt_of(name) +
                                          "}" + did_you_mean(name, names)});
  for (const std::string& name : names)
    if (found.count(name) == 0)
      problems.push_back(
          {node.place, "'" + key + "': the placeholder {" + name +
                           "} is missing; in English: " + in_quotes(english_texts().at(key))});
}

void read_text(const std::string& key, const YamlNode& name, const YamlNode& node,
               Language::Texts& texts, Problems& problems) {
  const bool control = std::any_of(node.text.begin(), node.text.end(), [](unsigned char c) {
    return (c < 0x20 && c != '\n') || c == 0x7F;
  });
  if (node.kind != YamlNode::Kind::scalar || node.text.empty()) {
    problems.push_back({name.place, "'" + key + "': expected a text; in English: " +
                                        in_quotes(english_texts().at(key))});
  } else if (control) {
    problems.push_back({node.place, "'" + key + "': a control character other than \\n"});
  } else {
    check_placeholders(key, node, problems);
    texts[key] = node.text;
  }
}

void read_group(const YamlNode& name, const YamlNode& node, Language::Texts& texts,
                Problems& problems) {
  const Names known = names_in(name.text);
  if (node.kind != YamlNode::Kind::map) {
    problems.push_back({name.place, "'" + name.text + "': expected a block of texts"});
    return;
  }
  Seen seen;
  for (const auto& [key, value] : node.entries) {
    if (!seen.first(key, problems)) continue;
    if (std::find(known.begin(), known.end(), key.text) == known.end())
      problems.push_back({key.place, "unknown key '" + excerpt_of(key.text) + "' in '" + name.text +
                                         "'" + did_you_mean(key.text, known)});
    else
      read_text(name.text + "." + key.text, key, value, texts, problems);
  }
  for (const std::string& leaf : known) {
    if (seen.has(leaf)) continue;
    const std::string key = name.text + "." + leaf;
    problems.push_back({name.place, "'" + key + "' is missing; in English: " +
                                        in_quotes(english_texts().at(key))});
  }
}

/// RFC 5646 as far as a practice needs it: "de", "pt-BR", "zh-Hant".
bool is_language_code(const std::string& text) {
  const auto letters = [](const std::string& part, std::size_t least, std::size_t most) {
    return part.size() >= least && part.size() <= most &&
           std::all_of(part.begin(), part.end(), [](unsigned char c) {
             return (c >= 'a' && c <= 'z') || (c >= 'A' && c <= 'Z');
           });
  };
  const std::size_t dash = text.find('-');
  return letters(text.substr(0, dash), 2, 3) &&
         (dash == std::string::npos || letters(text.substr(dash + 1), 2, 8));
}

}  // namespace

Loaded<Language> load_language(const std::string& text, const std::string& file_name) {
  Loaded<Language> loaded;
  Problems& problems = loaded.problems;
  const YamlTree tree = parse_yaml(text);
  problems = tree.problems;
  std::string code, name;
  Language::Texts texts;
  Seen seen;
  if (problems.empty() && tree.root.kind != YamlNode::Kind::map)
    problems.push_back(
        {tree.root.place, "expected the texts of a language ('group:' and 'key: text')"});
  Names groups = names_in("");
  for (const auto& [key, value] : tree.root.entries) {
    if (!tree.problems.empty() || !seen.first(key, problems)) continue;
    if (key.text == "language") {
      code = value.text;
      if (!is_language_code(code))
        problems.push_back({key.place, "'language': expected a code like de or pt-BR (RFC 5646)"});
    } else if (key.text == "name") {
      name = value.text;
      if (name.empty() || name.size() > 64)
        problems.push_back(
            {key.place, "'name': expected the language's English name, at most 64 bytes"});
    } else if (std::find(groups.begin(), groups.end(), key.text) == groups.end()) {
      problems.push_back({key.place, "unknown key '" + excerpt_of(key.text) + "'" +
                                         did_you_mean(key.text, groups)});
    } else {
      read_group(key, value, texts, problems);
    }
  }
  if (problems.empty()) {
    groups.insert(groups.begin(), {"language", "name"});
    for (const std::string& wanted : groups)
      if (!seen.has(wanted)) problems.push_back({{}, "'" + wanted + "' is missing"});
  }
  if (problems.empty()) loaded.value = Language(code, name, std::move(texts));
  loaded.report = render(problems, file_name, text);
  return loaded;
}

std::string language_yaml(const Language& language) {
  std::string out =
      "# The words a clinician reads. To translate: copy this file, translate what stands in "
      "quotes,\n"
      "# keep every {placeholder}, and name the copy by 'language:' in the rules. UTF-8.\n";
  out += "language: " + language.code() + "\nname: " + language.name() + "\n";
  std::string group;
  for (const auto& [key, text] : language.texts()) {
    if (group != group_of(key)) out += "\n" + group_of(key) + ":\n";
    group = group_of(key);
    out += "  " + leaf_of(key) + ": " + in_quotes(text) + "\n";
  }
  return out;
}

std::string language_identity(const Language& language) {
  const Language english;
  if (language.code() == english.code() && language.texts() == english.texts()) return "en";
  return sha256_hex(language_yaml(language));
}

}  // namespace crestgate
