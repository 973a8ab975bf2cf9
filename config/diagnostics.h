// Messages about a text file that a person edits: file:line:column, what is wrong and what was
// expected, the offending line and a caret. Pure functions; no state.
#pragma once
#include <string>
#include <vector>

namespace crestgate {

/// Place in a text, both counted from 1; column counts bytes. Line 0: the file as a whole.
struct Place {
  int line = 0;
  int column = 0;
};

struct Diagnostic {
  Place place;
  std::string text;
};

/// All diagnostics in the order of their places, each as
///     file:line:column: text
///         offending line, cut around the caret if it is long
///               ^
/// The printed column counts characters (UTF-8 code points), as editors do. The first 50 are shown,
/// then how many more there are.
std::string render(std::vector<Diagnostic> diagnostics, const std::string& file_name,
                   const std::string& source);

/// The candidate nearest to `word` if it is near enough to be a slip of the keyboard
/// (edit distance with neighbouring letters swapped counting one), else an empty string.
std::string nearest(const std::string& word, const std::vector<std::string>& candidates);

/// A text from the file as quoted in a message: one line, at most 60 characters.
std::string excerpt_of(const std::string& text);

}  // namespace crestgate
