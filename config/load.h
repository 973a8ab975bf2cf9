// YAML text -> Rules/Settings. All mistakes of a file are collected in one pass. No exceptions come
// out; no state; thread-safe.
#pragma once
#include <string>

#include "config/diagnostics.h"
#include "config/rules.h"
#include "config/settings.h"
#include "config/status.h"

namespace crestgate {

template <class T>
struct Loaded {
  T value;                           ///< to be used only if ok()
  std::vector<Diagnostic> problems;  ///< in the order of the file
  std::string report;  ///< the problems as text for a person: file:line:column, line, caret

  bool ok() const { return problems.empty(); }
};

/// A rule file and the language file it names, as text: what a worker child is given, so that it
/// opens no file.
struct RulesText {
  std::string text;
  std::string name;           ///< for messages only
  std::string language_text;  ///< empty where the rules say 'language: en'
};

/// Rules; `digest` and `words` are set.
/// Fatal: unknown, repeated and missing keys, values of the wrong kind or out of range, values that
/// contradict each other, mode: live without a commissioning record, a mistake in the language
/// file.
Loaded<Rules> load_rules(const RulesText& given);
/// The same where no language file is at hand.
Loaded<Rules> load_rules(const std::string& text, const std::string& file_name);

/// Settings, by the same strictness. `rules_file` is as written: see beside().
Loaded<Settings> load_settings(const std::string& text, const std::string& file_name);

/// The same from disk, with the language file; a rule file that cannot be read is the one problem
/// reported. `as_read`, if given, gets the texts.
Loaded<Rules> load_rules_file(const std::string& path, RulesText* as_read = nullptr);
/// A relative `rules_file` is made to start at the settings file's folder.
Loaded<Settings> load_settings_file(const std::string& path);

}  // namespace crestgate
