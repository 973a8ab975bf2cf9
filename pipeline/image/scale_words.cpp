#include "pipeline/image/scale_words.h"

#include <algorithm>
#include <utility>

namespace crestgate {

std::string scale_source_text(const std::string& source, const Language& text) {
  const std::pair<std::string, const char*> known[] = {
      {"known pitch of ", "scale.known_pitch"}, {"known diameter of ", "scale.known_diameter"}};
  for (const auto& [start, key] : known)
    if (source.rfind(start, 0) == 0) return text.get(key, {{"type", source.substr(start.size())}});
  std::string words;
  for (std::size_t from = 0; from < source.size();) {
    const std::size_t comma = std::min(source.find(", ", from), source.size());
    words += (from == 0 ? "" : ", ") + text.get("spacing." + source.substr(from, comma - from));
    from = comma + 2;
  }
  return words;
}

}  // namespace crestgate
