// The words clinicians read, in one table per language, so that a language file can replace them.
// Values are UTF-8 and may hold {name} placeholders. English is complete; another language falls
// back to English key by key.
#pragma once
#include <initializer_list>
#include <map>
#include <string>
#include <utility>

#include "config/number_text.h"

namespace crestgate {

class TextTable {
 public:
  /// `words` override English; keys English does not have are ignored.
  explicit TextTable(std::map<std::string, std::string> words = {}) : words_(std::move(words)) {}

  using Values = std::initializer_list<std::pair<const char*, std::string>>;
  /// The text of a key with its placeholders filled. A key nobody has comes back as itself, so that
  /// a slip is seen rather than lost.
  std::string get(const std::string& key, Values values = {}) const;

  /// Every key of the English table with its text: what a language file has to translate.
  static const std::map<std::string, std::string>& english();

 private:
  std::map<std::string, std::string> words_;
};

/// The table of a language ("en"); unknown languages get English.
const TextTable& table_for(const std::string& language);

/// UTF-8 to ASCII for data sets whose character set cannot hold our signs: um, +/-, deg, -.
std::string ascii_fold(const std::string& utf8);

}  // namespace crestgate
