#include "node/report/text.h"

#include <glib.h>

#include <memory>
#include <string_view>
#include <utility>

namespace crestgate {

std::string ascii_fold(const std::string& utf8) {
  static const std::pair<std::string_view, std::string_view> kSigns[] = {
      {"µ", "u"},  {"μ", "u"},  {"±", "+/-"}, {"°", " deg"}, {"·", "-"},  {"–", "-"},
      {"—", "-"},  {"→", "->"}, {"×", "x"},   {"≤", "<="},   {"≥", ">="}, {"’", "'"},
      {"“", "\""}, {"”", "\""}, {"„", "\""},  {"θ", "theta"}};
  std::string text;
  for (std::size_t i = 0; i < utf8.size();) {
    std::string_view plain = std::string_view(utf8).substr(i, 1);
    std::size_t length = 1;
    for (const auto& [sign, words] : kSigns)
      if (std::string_view(utf8).substr(i, sign.size()) == sign)
        plain = words, length = sign.size();
    text += plain;
    i += length;
  }
  // "C": the general table, the same under every locale of the machine.
  const std::unique_ptr<gchar, decltype(&g_free)> valid(
      g_utf8_make_valid(text.c_str(), static_cast<gssize>(text.size())), g_free);
  const std::unique_ptr<gchar, decltype(&g_free)> ascii(g_str_to_ascii(valid.get(), "C"), g_free);
  return ascii.get();
}

}  // namespace crestgate
