// How a row of the schema table is written: binds a field, whatever its type, to a Value.
// Private to config/ (rules_schema.cpp, settings_schema.cpp).
#pragma once
#include <string>
#include <utility>
#include <vector>

#include "config/schema.h"

namespace crestgate {

inline Value to_value(bool v) { return v; }
inline Value to_value(int v) { return v; }
inline Value to_value(double v) { return v; }
inline Value to_value(const std::string& v) { return v; }
inline Value to_value(const std::vector<std::string>& v) { return v; }
inline Value to_value(Intent v) { return std::string(intent_name(v)); }
inline Value to_value(Mode v) { return std::string(v == Mode::live ? "live" : "trial"); }
inline Value to_value(Baseline v) { return std::string(baseline_name(v)); }
inline Value to_value(Compare v) { return std::string(compare_name(v)); }

template <class F>
void from_value(const Value& value, F& field) {
  field = std::get<F>(value);
}
inline void from_value(const Value& value, Intent& field) {
  for (Intent i :
       {Intent::seating, Intent::placement, Intent::follow_up, Intent::constancy, Intent::other}) {
    if (std::get<std::string>(value) == intent_name(i)) field = i;
  }
}
inline void from_value(const Value& value, Mode& field) {
  field = std::get<std::string>(value) == "live" ? Mode::live : Mode::trial;
}
inline void from_value(const Value& value, Baseline& field) {
  for (Baseline b : {Baseline::first_after_loading, Baseline::last, Baseline::all}) {
    if (std::get<std::string>(value) == baseline_name(b)) field = b;
  }
}
inline void from_value(const Value& value, Compare& field) {
  for (Compare c : {Compare::follow_up, Compare::always, Compare::never}) {
    if (std::get<std::string>(value) == compare_name(c)) field = c;
  }
}

struct Range {
  double least, most;
};

/// What a value may be: its kind with unit, range and words.
struct Domain {
  Kind kind;
  std::string unit;
  Range range{0.0, 0.0};
  std::vector<std::string> choices;
};
inline Domain number(const char* unit, double least, double most) {
  return {Kind::number, unit, {least, most}, {}};
}
inline Domain integer(const char* unit, double least, double most) {
  return {Kind::integer, unit, {least, most}, {}};
}
inline Domain choice(std::vector<std::string> words) {
  return {Kind::choice, "", {0.0, 0.0}, std::move(words)};
}
inline Domain plain(Kind kind) { return {kind, "", {0.0, 0.0}, {}}; }

/// `field` is a generic lambda (auto& values, std::size_t index) -> auto& that names the field.
template <class T, class F>
Key<T> row(const char* path, Domain domain, F field, const char* meaning, const char* reason,
           Presence presence = Presence::optional) {
  Key<T> key;
  key.path = path;
  key.kind = domain.kind;
  key.unit = domain.unit;
  key.least = domain.range.least;
  key.most = domain.range.most;
  key.choices = std::move(domain.choices);
  key.presence = presence;
  key.meaning = meaning;
  key.reason = reason;
  key.get = [field](const T& values, std::size_t index) { return to_value(field(values, index)); };
  key.set = [field](T& values, std::size_t index, const Value& value) {
    from_value(value, field(values, index));
  };
  return key;
}

// Body of the lambda every row needs: names the field once, for reading and for writing.
#define CRESTGATE_FIELD(name) \
  [](auto& values, std::size_t) -> auto& { return values.name; }
#define CRESTGATE_ELEMENT(list, name) \
  [](auto& values, std::size_t index) -> auto& { return values.list[index].name; }

}  // namespace crestgate
