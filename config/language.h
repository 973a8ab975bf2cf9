// The words a clinician reads, in one language: UTF-8 texts under keys ("headline.no_gap"), with
// {placeholders} for what is filled in. English is compiled in, so nothing depends on a file being
// found; another language comes from a file (config/language_file.h) that has every key. What a
// machine reads is no text: the names design section 7 lists, coded values, rule keys. A plain
// value: cheap to copy, immutable, free to share between threads.
#pragma once
#include <initializer_list>
#include <map>
#include <memory>
#include <set>
#include <string>
#include <utility>

namespace crestgate {

class Language {
 public:
  using Texts = std::map<std::string, std::string>;
  using Values = std::initializer_list<std::pair<const char*, std::string>>;

  Language();  ///< English
  /// `code`: RFC 5646 ("de"); `name`: in English ("German").
  Language(std::string code, std::string name, Texts texts);

  /// The text of a key with its placeholders filled. A key that is not there comes back as itself,
  /// so that a slip is seen rather than lost.
  std::string get(const std::string& key, Values values = {}) const;

  const std::string& code() const { return code_; }
  const std::string& name() const { return name_; }
  const Texts& texts() const { return *texts_; }

 private:
  std::string code_, name_;
  std::shared_ptr<const Texts> texts_;
};

/// First letter as a capital (ASCII and the Latin-1 letters).
std::string sentence(std::string words);

/// What a language has to have: every key with its English text.
const Language::Texts& english_texts();

/// Names in braces; a name is of small letters and '_'. A brace that opens no name is plain text.
std::set<std::string> placeholders_of(const std::string& text);

}  // namespace crestgate
