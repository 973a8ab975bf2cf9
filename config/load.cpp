#include "config/load.h"

#include <filesystem>
#include <fstream>
#include <map>
#include <sstream>

#include "config/canonical.h"
#include "config/consistency.h"
#include "config/language_file.h"
#include "config/scalar.h"
#include "config/schema.h"
#include "config/yaml_tree.h"

namespace crestgate {
namespace {

/// Walks one tree along the schema and fills one T.
template <class T>
class Loader {
 public:
  Loader(const Schema<T>& schema, std::vector<Diagnostic>& problems)
      : schema_(schema), problems_(problems) {}

  void load(const YamlNode& root, T& values) {
    if (root.kind == YamlNode::Kind::null) {
      read_map(YamlNode{}, "", 0, values);  // an empty file: every default, and what is required
    } else if (root.kind != YamlNode::Kind::map) {
      problems_.push_back({root.place, "expected keys and values ('key: value')"});
    } else {
      read_map(root, "", 0, values);
    }
  }

  Place place_of(const std::string& path, std::size_t index) const {
    const auto found = places_.find({path, index});
    return found == places_.end() ? Place{} : found->second;
  }

 private:
  using Form = typename Group<T>::Form;

  void read_map(const YamlNode& map, const std::string& group, std::size_t index, T& values) {
    std::map<std::string, int> lines;
    for (const auto& [key, value] : map.entries) {
      const auto [first, fresh] = lines.emplace(key.text, key.place.line);
      if (!fresh) {
        problems_.push_back({key.place, "'" + excerpt_of(key.text) +
                                            "' stands here twice, first in line " +
                                            std::to_string(first->second)});
        continue;
      }
      const std::string path = group.empty() ? key.text : group + "." + key.text;
      if (const Key<T>* known = schema_.key(path)) {
        read_key(*known, value, key, index, values);
      } else if (const Group<T>* inner = group.empty() ? schema_.group(key.text) : nullptr) {
        read_group(*inner, key, value, values);
      } else {
        problems_.push_back({key.place, unknown(key.text, group)});
      }
    }
    for (const Key<T>& key : schema_.keys) {
      if (key.presence != Presence::required || group_of(key.path) != group) continue;
      if (lines.count(leaf_of(key.path)) == 0) report_missing(key, map);
    }
    if (group.empty()) report_missing_groups(lines);
  }

  void read_key(const Key<T>& key, const YamlNode& node, const YamlNode& name, std::size_t index,
                T& values) {
    places_[{key.path, index}] = node.place.line > 0 ? node.place : name.place;
    const Expected expected{key.kind, key.unit, key.least, key.most, key.choices};
    // A value left out has no place of its own worth pointing at: point at its key.
    YamlNode placed = node;
    if (node.kind == YamlNode::Kind::null) placed.place = name.place;
    Value value;
    if (read_value(placed, leaf_of(key.path), expected, value, problems_)) {
      key.set(values, index, value);
    }
  }

  void read_group(const Group<T>& group, const YamlNode& name, const YamlNode& node, T& values) {
    if (group.form == Form::list) {
      if (node.kind != YamlNode::Kind::list) {
        problems_.push_back(
            {name.place, "'" + group.name + "': expected a list ('- key: value', or [])"});
        return;
      }
      group.resize(values, node.items.size());
      for (std::size_t i = 0; i < node.items.size(); ++i) {
        if (node.items[i].kind != YamlNode::Kind::map) {
          problems_.push_back({node.items[i].place, "'" + group.name +
                                                        "': each element holds the keys " +
                                                        joined(schema_.names_in(group.name))});
          continue;
        }
        read_map(node.items[i], group.name, i, values);
      }
      return;
    }
    if (node.kind != YamlNode::Kind::map) {
      problems_.push_back({name.place, "'" + group.name + "': expected a block with the keys " +
                                           joined(schema_.names_in(group.name))});
      return;
    }
    if (group.form == Form::optional) group.resize(values, 1);
    YamlNode placed = node;
    placed.place = name.place;  // where a missing key is reported
    read_map(placed, group.name, 0, values);
  }

  /// A required key of a block that is absent altogether.
  void report_missing_groups(const std::map<std::string, int>& lines) {
    for (const Group<T>& group : schema_.groups) {
      if (group.form != Form::single || lines.count(group.name) > 0) continue;
      for (const Key<T>& key : schema_.keys) {
        if (group_of(key.path) == group.name && key.presence == Presence::required) {
          report_missing(key, YamlNode{});
        }
      }
    }
  }

  void report_missing(const Key<T>& key, const YamlNode& map) {
    const std::string group = group_of(key.path);
    const Place place = group.empty() ? Place{} : map.place;
    const Expected expected{key.kind, key.unit, key.least, key.most, key.choices};
    problems_.push_back({place, "'" + key.path + "' is missing: " + describe(expected)});
  }

  std::string unknown(const std::string& name, const std::string& group) const {
    std::string text =
        "unknown key '" + excerpt_of(name) + "'" + (group.empty() ? "" : " in '" + group + "'");
    const std::string near = nearest(name, schema_.names_in(group));
    if (!near.empty()) return text + "; did you mean '" + near + "'?";
    for (const Key<T>& key : schema_.keys) {
      if (leaf_of(key.path) != name) continue;
      const std::string home = group_of(key.path);
      return text + "; it belongs " + (home.empty() ? "at the top level" : "in '" + home + "'");
    }
    return text + "; known here: " + joined(schema_.names_in(group));
  }

  static std::string joined(const std::vector<std::string>& names) {
    std::string out;
    for (const std::string& name : names) out += (out.empty() ? "" : ", ") + name;
    return out;
  }

  const Schema<T>& schema_;
  std::vector<Diagnostic>& problems_;
  std::map<std::pair<std::string, std::size_t>, Place> places_;
};

/// `settle` looks at values that are all good by themselves, and may add problems.
template <class T, class Settle>
Loaded<T> load_text(const Schema<T>& schema, const std::string& text, const std::string& file_name,
                    Settle settle) {
  Loaded<T> loaded;
  const YamlTree tree = parse_yaml(text);
  loaded.problems = tree.problems;
  if (tree.problems.empty()) {
    Loader<T> loader(schema, loaded.problems);
    loader.load(tree.root, loaded.value);
    // Rejected values still hold their defaults, so contradictions would be about values nobody
    // wrote.
    if (loaded.problems.empty()) {
      const auto place_of = [&](const std::string& path, std::size_t i) {
        return loader.place_of(path, i);
      };
      loaded.problems = contradictions(loaded.value, place_of);
      settle(loaded, place_of("language", 0));
    }
  }
  loaded.report = render(loaded.problems, file_name, text) + loaded.report;
  return loaded;
}

template <class T>
Loaded<T> unreadable(const std::string& path, const std::string& why) {
  Loaded<T> loaded;
  loaded.problems.push_back({{}, why});
  loaded.report = render(loaded.problems, path, "");
  return loaded;
}

Result<std::string> read_text(const std::string& path) {
  std::error_code error;
  if (!std::filesystem::is_regular_file(path, error))
    return Status::error(Code::invalid_input,
                         error ? "cannot be read: " + error.message() : "not a file");
  std::ifstream in(path, std::ios::binary);
  std::string text(kLargestYamlBytes + 1, '\0');
  in.read(text.data(), static_cast<std::streamsize>(text.size()));
  if (!in.is_open() || in.bad()) return Status::error(Code::invalid_input, "cannot be read");
  text.resize(static_cast<std::size_t>(in.gcount()));
  return text;
}

/// A path written in a file starts at that file's folder.
std::string beside(const std::string& file, const std::string& path) {
  return (std::filesystem::path(file).parent_path() / path).string();
}

/// The words of the language the rules name; `read` gives the text of its file.
template <class Read>
void settle_language(Loaded<Rules>& loaded, const Place& place, Read read) {
  const std::string& file = loaded.value.language;
  if (file == Language().code()) return;
  const Result<std::string> text = read(file);
  if (!text.ok()) {
    loaded.problems.push_back(
        {place, "'language': the language file '" + excerpt_of(file) + "' " + text.status().text});
    return;
  }
  const Loaded<Language> language = load_language(text.value(), file);
  loaded.value.words = language.value;
  if (language.ok()) return;
  loaded.problems.push_back({place, "'language': the language file has mistakes, see below"});
  loaded.report = language.report;
}

template <class Read>
Loaded<Rules> load_rules_with(const std::string& text, const std::string& name, Read read) {
  Loaded<Rules> loaded = load_text(
      rules_schema(), text, name,
      [&](Loaded<Rules>& rules, const Place& place) { settle_language(rules, place, read); });
  if (loaded.ok()) loaded.value.digest = rules_digest(loaded.value);
  return loaded;
}

}  // namespace

Loaded<Rules> load_rules(const RulesText& given) {
  return load_rules_with(given.text, given.name, [&](const std::string&) {
    if (given.language_text.empty())
      return Result<std::string>(Status::error(Code::invalid_input, "is not at hand"));
    return Result<std::string>(given.language_text);
  });
}

Loaded<Rules> load_rules(const std::string& text, const std::string& file_name) {
  return load_rules(RulesText{text, file_name, ""});
}

Loaded<Settings> load_settings(const std::string& text, const std::string& file_name) {
  return load_text(settings_schema(), text, file_name, [](Loaded<Settings>&, const Place&) {});
}

Loaded<Rules> load_rules_file(const std::string& path, RulesText* as_read) {
  const Result<std::string> text = read_text(path);
  if (!text.ok()) return unreadable<Rules>(path, text.status().text);
  RulesText found{text.value(), path, ""};
  Loaded<Rules> loaded = load_rules_with(found.text, path, [&](const std::string& file) {
    Result<std::string> language = read_text(beside(path, file));
    if (language.ok()) found.language_text = language.value();
    return language;
  });
  if (as_read) *as_read = std::move(found);
  return loaded;
}

Loaded<Settings> load_settings_file(const std::string& path) {
  const Result<std::string> text = read_text(path);
  if (!text.ok()) return unreadable<Settings>(path, text.status().text);
  Loaded<Settings> loaded = load_settings(text.value(), path);
  if (loaded.ok()) loaded.value.rules_file = beside(path, loaded.value.rules_file);
  return loaded;
}

}  // namespace crestgate
