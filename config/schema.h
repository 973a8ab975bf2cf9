// The one table of everything that can be configured: key, kind, unit, range, default, meaning and
// reason, bound to the fields of config/rules.h and config/settings.h. Loading, the digest, the
// shipped YAML and its test all walk it, so a key exists in one place only.
// The default of a key is what a default-constructed Rules/Settings holds. Immutable; thread-safe.
#pragma once
#include <functional>
#include <string>
#include <variant>
#include <vector>

#include "config/rules.h"
#include "config/settings.h"

namespace crestgate {

enum class Kind { boolean, integer, number, text, choice, date, ae_title, texts, ae_titles };

using Value = std::variant<bool, int, double, std::string, std::vector<std::string>>;

/// Whether a key must be written out.
enum class Presence { optional, required };

template <class T>
struct Key {
  std::string path;  ///< "mode" or "seating.largest_vertical_angle_deg"
  Kind kind = Kind::text;
  std::string unit;                  ///< "" for none
  double least = 0.0, most = 0.0;    ///< integer, number: inclusive range
  std::vector<std::string> choices;  ///< choice: the words allowed
  Presence presence = Presence::optional;
  std::string meaning;
  std::string reason;  ///< why this default or range
  /// `index`: element of a list group, else 0.
  std::function<Value(const T&, std::size_t index)> get;
  std::function<void(T&, std::size_t index, const Value&)> set;
};

/// A block of keys. `single` is always there, `optional` may be absent, `list` holds any number.
template <class T>
struct Group {
  enum class Form { single, optional, list };
  std::string name;
  Form form = Form::single;
  std::string meaning;
  std::string example;  ///< shown as a comment in the shipped file; optional and list only
  std::function<std::size_t(const T&)> count;         ///< optional and list only
  std::function<void(T&, std::size_t count)> resize;  ///< optional and list only
};

template <class T>
struct Schema {
  std::string title;  ///< head of the shipped file
  std::vector<Group<T>> groups;
  std::vector<Key<T>> keys;  ///< in the order of the shipped file and of the digest

  const Group<T>* group(const std::string& name) const;
  const Key<T>* key(const std::string& path) const;
  /// Names allowed inside `group` ("" = top level, groups included).
  std::vector<std::string> names_in(const std::string& group) const;
};

const Schema<Rules>& rules_schema();
const Schema<Settings>& settings_schema();

/// "seating" of "seating.largest_...", "" of "mode".
std::string group_of(const std::string& path);
/// "largest_..." of "seating.largest_...".
std::string leaf_of(const std::string& path);

template <class T>
const Group<T>* Schema<T>::group(const std::string& name) const {
  for (const Group<T>& g : groups) {
    if (g.name == name) return &g;
  }
  return nullptr;
}

template <class T>
const Key<T>* Schema<T>::key(const std::string& path) const {
  for (const Key<T>& k : keys) {
    if (k.path == path) return &k;
  }
  return nullptr;
}

template <class T>
std::vector<std::string> Schema<T>::names_in(const std::string& group) const {
  std::vector<std::string> names;
  for (const Key<T>& k : keys) {
    if (group_of(k.path) == group) names.push_back(leaf_of(k.path));
  }
  if (group.empty()) {
    for (const Group<T>& g : groups) names.push_back(g.name);
  }
  return names;
}

}  // namespace crestgate
