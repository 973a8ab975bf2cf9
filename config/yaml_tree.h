// YAML text as a tree that remembers where everything stood: what config/load walks. Built from the
// parser's events instead of YAML::Node, because yaml-cpp 0.7 lets a repeated key pass (first
// wins), gives a nested map its first child's mark, and does not tell quoted from plain text. Pure
// functions; no state.
#pragma once
#include <string>
#include <utility>
#include <vector>

#include "config/diagnostics.h"

namespace crestgate {

struct YamlNode {
  enum class Kind { null, scalar, list, map };
  Kind kind = Kind::null;
  std::string text;     ///< scalar only
  bool quoted = false;  ///< scalar written in quotes or as a block: always text, never a number
  Place place;          ///< where it starts
  std::vector<YamlNode> items;                         ///< list only
  std::vector<std::pair<YamlNode, YamlNode>> entries;  ///< map only, repeated keys kept
};

struct YamlTree {
  YamlNode root;                     ///< null if the text holds nothing but comments
  std::vector<Diagnostic> problems;  ///< empty: the tree is complete
};

/// Largest text accepted; a rule file is a few kB.
constexpr std::size_t kLargestYamlBytes = 1 << 20;

/// Reads exactly one document. Refused with a place: invalid UTF-8, control characters, syntax
/// errors, anchors, aliases, explicit tags, a second document, keys that are not plain words.
YamlTree parse_yaml(const std::string& text);

}  // namespace crestgate
