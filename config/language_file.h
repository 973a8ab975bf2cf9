// Language files: YAML text -> Language, as strict as the rules are, and the English file that is
// copied to begin a translation. Pure functions; thread-safe.
#pragma once
#include <string>

#include "config/language.h"
#include "config/load.h"

namespace crestgate {

/// Fatal: a key of the English table that is missing, a key it does not have, a repeated or empty
/// text, placeholders other than the English text's, a language code that is none.
Loaded<Language> load_language(const std::string& text, const std::string& file_name);

/// A language file with every key, in the order of the keys.
std::string language_yaml(const Language& language);

/// "en" for the compiled-in English; for any other words a digest of them all, whatever their
/// file's name, order and comments.
std::string language_identity(const Language& language);

}  // namespace crestgate
