#include "config/yaml_tree.h"

#include <yaml-cpp/eventhandler.h>
#include <yaml-cpp/yaml.h>

#include <sstream>

namespace crestgate {
namespace {

Place place_of(const YAML::Mark& mark) { return {mark.line + 1, mark.column + 1}; }

/// Collects the parser's events; open containers wait on a stack until their end event.
class TreeBuilder : public YAML::EventHandler {
 public:
  explicit TreeBuilder(YamlTree& tree) : tree_(tree) {}

  void OnDocumentStart(const YAML::Mark&) override {}
  void OnDocumentEnd() override {}
  void OnNull(const YAML::Mark& mark, YAML::anchor_t anchor) override {
    refuse_anchor(mark, anchor);
    YamlNode node;
    node.place = place_of(mark);
    add(std::move(node));
  }
  void OnAlias(const YAML::Mark& mark, YAML::anchor_t) override {
    tree_.problems.push_back(
        {place_of(mark), "aliases (*name) are not used here: write the value"});
    YamlNode node;
    node.place = place_of(mark);
    add(std::move(node));
  }
  void OnScalar(const YAML::Mark& mark, const std::string& tag, YAML::anchor_t anchor,
                const std::string& value) override {
    refuse_anchor(mark, anchor);
    YamlNode node;
    node.kind = YamlNode::Kind::scalar;
    node.text = value;
    node.quoted = tag == "!";  // what yaml-cpp gives quoted and block scalars
    if (tag != "!" && tag != "?") refuse_tag(mark);
    node.place = place_of(mark);
    add(std::move(node));
  }
  void OnSequenceStart(const YAML::Mark& mark, const std::string& tag, YAML::anchor_t anchor,
                       YAML::EmitterStyle::value) override {
    open(YamlNode::Kind::list, mark, tag, anchor);
  }
  void OnSequenceEnd() override { close(); }
  void OnMapStart(const YAML::Mark& mark, const std::string& tag, YAML::anchor_t anchor,
                  YAML::EmitterStyle::value) override {
    open(YamlNode::Kind::map, mark, tag, anchor);
  }
  void OnMapEnd() override { close(); }

 private:
  struct Open {
    YamlNode node;
    YamlNode key;  ///< map only: the key waiting for its value
    bool has_key = false;
  };

  void open(YamlNode::Kind kind, const YAML::Mark& mark, const std::string& tag,
            YAML::anchor_t anchor) {
    refuse_anchor(mark, anchor);
    if (!tag.empty() && tag != "?") refuse_tag(mark);
    Open entry;
    entry.node.kind = kind;
    entry.node.place = place_of(mark);
    stack_.push_back(std::move(entry));
  }

  void close() {
    YamlNode node = std::move(stack_.back().node);
    stack_.pop_back();
    add(std::move(node));
  }

  void add(YamlNode node) {
    if (stack_.empty()) {
      tree_.root = std::move(node);
      return;
    }
    Open& top = stack_.back();
    if (top.node.kind == YamlNode::Kind::list) {
      top.node.items.push_back(std::move(node));
    } else if (!top.has_key) {
      if (node.kind != YamlNode::Kind::scalar) {
        tree_.problems.push_back({node.place, "expected a key (a plain word) before ':'"});
      }
      top.key = std::move(node);
      top.has_key = true;
    } else {
      top.node.entries.emplace_back(std::move(top.key), std::move(node));
      top.has_key = false;
    }
  }

  void refuse_anchor(const YAML::Mark& mark, YAML::anchor_t anchor) {
    if (anchor == 0) return;
    tree_.problems.push_back(
        {place_of(mark), "anchors (&name) are not used here: repeat the value"});
  }
  void refuse_tag(const YAML::Mark& mark) {
    tree_.problems.push_back(
        {place_of(mark), "type tags (!name) are not used here: write the value"});
  }

  YamlTree& tree_;
  std::vector<Open> stack_;
};

/// Length of the valid UTF-8 sequence at `i` (RFC 3629, table 3-7 of Unicode), 0 if there is none.
std::size_t utf8_length(const std::string& s, std::size_t i) {
  const auto byte = [&](std::size_t k) {
    return i + k < s.size() ? static_cast<unsigned char>(s[i + k]) : 0u;
  };
  const auto tail = [&](std::size_t k) { return (byte(k) & 0xC0u) == 0x80u; };
  const unsigned lead = byte(0);
  if (lead < 0x80) return 1;
  if (lead >= 0xC2 && lead <= 0xDF) return tail(1) ? 2 : 0;
  if (lead >= 0xE0 && lead <= 0xEF) {
    if (!tail(1) || !tail(2)) return 0;
    if (lead == 0xE0 && byte(1) < 0xA0) return 0;  // overlong
    if (lead == 0xED && byte(1) > 0x9F) return 0;  // surrogate
    return 3;
  }
  if (lead >= 0xF0 && lead <= 0xF4) {
    if (!tail(1) || !tail(2) || !tail(3)) return 0;
    if (lead == 0xF0 && byte(1) < 0x90) return 0;
    if (lead == 0xF4 && byte(1) > 0x8F) return 0;
    return 4;
  }
  return 0;
}

/// Finds the first byte a file of ours must not hold.
bool check_characters(const std::string& text, YamlTree& tree) {
  Place place{1, 1};
  bool indentation = true;
  for (std::size_t i = 0; i < text.size();) {
    const auto c = static_cast<unsigned char>(text[i]);
    const std::size_t length = utf8_length(text, i);
    if (length == 0) {
      tree.problems.push_back({place, "not UTF-8 text from here on: save the file as UTF-8"});
      return false;
    }
    if ((c < 0x20 && c != '\t' && c != '\n' && c != '\r') || c == 0x7F) {
      tree.problems.push_back({place, "control character in a text file"});
      return false;
    }
    if (indentation && c == '\t') {
      tree.problems.push_back({place, "a tab as indentation: YAML wants spaces"});
      return false;
    }
    indentation = c == '\n' || (indentation && c == ' ');
    i += length;
    place.column += static_cast<int>(length);
    if (c == '\n') place = {place.line + 1, 1};
  }
  return true;
}

}  // namespace

YamlTree parse_yaml(const std::string& text) {
  YamlTree tree;
  if (text.size() > kLargestYamlBytes) {
    tree.problems.push_back({{}, "larger than 1 MiB: this is not a file of ours"});
    return tree;
  }
  if (!check_characters(text, tree)) return tree;
  try {
    std::istringstream in(text);
    YAML::Parser parser(in);
    TreeBuilder builder(tree);
    parser.HandleNextDocument(builder);
    YamlTree rest;
    TreeBuilder rest_builder(rest);
    if (tree.problems.empty() && parser.HandleNextDocument(rest_builder)) {
      const Place place = rest.root.place.line > 0 ? rest.root.place : Place{};
      tree.problems.push_back({place, "a second document starts here: one file holds one ('---')"});
    }
  } catch (const YAML::Exception& e) {
    const Place place = e.mark.is_null() ? Place{} : place_of(e.mark);
    tree.problems.push_back({place, "not YAML: " + e.msg});
  }
  return tree;
}

}  // namespace crestgate
