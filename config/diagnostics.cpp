#include "config/diagnostics.h"

#include <algorithm>
#include <sstream>

namespace crestgate {
namespace {

constexpr std::size_t kShownColumns = 90;
constexpr std::size_t kMostShown = 50;  // more is another kind of file, and each looks for its line

bool starts_character(char c) { return (static_cast<unsigned char>(c) & 0xC0) != 0x80; }

std::size_t characters(const std::string& text) {
  return static_cast<std::size_t>(std::count_if(text.begin(), text.end(), starts_character));
}

std::string line_of(const std::string& source, int line) {
  std::istringstream in(source);
  std::string text;
  for (int i = 0; i < line; ++i) {
    if (!std::getline(in, text)) return "";
  }
  if (!text.empty() && text.back() == '\r') text.pop_back();
  return text;
}

/// Drops `count` characters from the front and says how many bytes those were.
std::size_t bytes_of_characters(const std::string& text, std::size_t count) {
  std::size_t i = 0;
  while (i < text.size() && count > 0) {
    ++i;
    while (i < text.size() && !starts_character(text[i])) ++i;
    --count;
  }
  return i;
}

/// The line cut to a readable width around the character `column` (from 0), and the caret's line.
std::string excerpt(const std::string& line, std::size_t column) {
  const std::size_t first = column > kShownColumns * 2 / 3 ? column - kShownColumns / 2 : 0;
  std::string shown = line.substr(bytes_of_characters(line, first));
  const bool cut = characters(shown) > kShownColumns;
  shown = shown.substr(0, bytes_of_characters(shown, kShownColumns));
  const std::string lead = first > 0 ? "..." : "";
  std::string pad;
  for (std::size_t i = 0, seen = 0; i < shown.size() && seen < column - first; ++i) {
    if (!starts_character(shown[i])) continue;
    pad += shown[i] == '\t' ? '\t' : ' ';
    ++seen;
  }
  return "    " + lead + shown + (cut ? "..." : "") + "\n    " + std::string(lead.size(), ' ') +
         pad + "^\n";
}

std::size_t edit_distance(const std::string& a, const std::string& b) {
  // Optimal string alignment: insert, delete, replace, swap neighbours; one row per letter of a.
  std::vector<std::vector<std::size_t>> d(a.size() + 1, std::vector<std::size_t>(b.size() + 1));
  for (std::size_t i = 0; i <= a.size(); ++i) {
    for (std::size_t j = 0; j <= b.size(); ++j) {
      if (i == 0 || j == 0) {
        d[i][j] = i + j;
        continue;
      }
      d[i][j] = std::min(
          {d[i - 1][j] + 1, d[i][j - 1] + 1, d[i - 1][j - 1] + (a[i - 1] == b[j - 1] ? 0 : 1)});
      if (i > 1 && j > 1 && a[i - 1] == b[j - 2] && a[i - 2] == b[j - 1]) {
        d[i][j] = std::min(d[i][j], d[i - 2][j - 2] + 1);
      }
    }
  }
  return d[a.size()][b.size()];
}

}  // namespace

std::string render(std::vector<Diagnostic> diagnostics, const std::string& file_name,
                   const std::string& source) {
  std::stable_sort(diagnostics.begin(), diagnostics.end(),
                   [](const Diagnostic& a, const Diagnostic& b) {
                     return a.place.line != b.place.line ? a.place.line < b.place.line
                                                         : a.place.column < b.place.column;
                   });
  std::string out;
  std::size_t shown = 0;
  for (const Diagnostic& d : diagnostics) {
    if (shown++ == kMostShown) {
      return out + file_name + ": and " + std::to_string(diagnostics.size() - kMostShown) +
             " more mistakes\n";
    }
    if (d.place.line <= 0) {
      out += file_name + ": " + d.text + "\n";
      continue;
    }
    const std::string line = line_of(source, d.place.line);
    const auto bytes = static_cast<std::size_t>(std::max(0, d.place.column - 1));
    const std::size_t column = characters(line.substr(0, std::min(bytes, line.size())));
    out += file_name + ":" + std::to_string(d.place.line) + ":" + std::to_string(column + 1) +
           ": " + d.text + "\n" + excerpt(line, column);
  }
  return out;
}

std::string excerpt_of(const std::string& text) {
  const std::size_t length = bytes_of_characters(text, 60);
  std::string out = text.substr(0, std::min(length, text.find_first_of("\r\n")));
  return out.size() < text.size() ? out + "..." : out;
}

std::string nearest(const std::string& word, const std::vector<std::string>& candidates) {
  if (word.size() > 64) return "";  // not a slip of a key of ours, and the table grows with it
  std::string best;
  std::size_t best_distance = std::max<std::size_t>(1, word.size() / 3) + 1;
  for (const std::string& candidate : candidates) {
    const std::size_t distance = edit_distance(word, candidate);
    if (distance < best_distance) {
      best_distance = distance;
      best = candidate;
    }
  }
  return best;
}

}  // namespace crestgate
