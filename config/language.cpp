#include "config/language.h"

namespace crestgate {
namespace {

/// Length of the placeholder that starts at `at`, braces included; 0 if none does.
std::size_t placeholder_at(const std::string& text, std::size_t at) {
  if (text[at] != '{') return 0;
  const std::size_t end = text.find_first_not_of("abcdefghijklmnopqrstuvwxyz_", at + 1);
  return end == std::string::npos || text[end] != '}' || end == at + 1 ? 0 : end + 1 - at;
}

std::shared_ptr<const Language::Texts> shared_english() {
  static const auto texts = std::make_shared<const Language::Texts>(english_texts());
  return texts;
}

}  // namespace

Language::Language() : code_("en"), name_("English"), texts_(shared_english()) {}

Language::Language(std::string code, std::string name, Texts texts)
    : code_(std::move(code)),
      name_(std::move(name)),
      texts_(std::make_shared<const Texts>(std::move(texts))) {}

std::string Language::get(const std::string& key, Values values) const {
  const auto found = texts_->find(key);
  if (found == texts_->end()) return key;
  const std::string& text = found->second;
  std::string filled;
  for (std::size_t i = 0; i < text.size();) {
    const std::size_t length = placeholder_at(text, i);
    if (length == 0) {
      filled += text[i++];
      continue;
    }
    const std::string name = text.substr(i + 1, length - 2);
    std::string value = text.substr(i, length);
    for (const auto& [given, words] : values)
      if (name == given) value = words;
    filled += value;
    i += length;
  }
  return filled;
}

std::string sentence(std::string words) {
  const auto byte = [&](std::size_t i) { return static_cast<unsigned char>(words[i]); };
  if (words.empty()) return words;
  if (byte(0) >= 'a' && byte(0) <= 'z') words[0] = static_cast<char>(byte(0) - 0x20);
  const bool latin1 = words.size() > 1 && byte(0) == 0xC3 && byte(1) >= 0xA0 && byte(1) <= 0xBE;
  if (latin1 && byte(1) != 0xB7) words[1] = static_cast<char>(byte(1) - 0x20);
  return words;
}

std::set<std::string> placeholders_of(const std::string& text) {
  std::set<std::string> names;
  for (std::size_t i = 0; i < text.size(); ++i)
    if (const std::size_t length = placeholder_at(text, i); length > 0)
      names.insert(text.substr(i + 1, length - 2));
  return names;
}

}  // namespace crestgate
