#include "config/canonical.h"

#include <openssl/evp.h>

#include <array>
#include <sstream>

#include "config/language_file.h"
#include "config/scalar.h"

namespace crestgate {
namespace {

std::string quoted(const std::string& text) {
  std::string out = "\"";
  for (char c : text) {
    if (c == '"' || c == '\\') out += '\\';
    out += c;
  }
  return out + "\"";
}

struct ToText {
  bool always_quote;

  std::string text(const std::string& v) const {
    const bool plain = !v.empty() && v.find_first_of(" :#[]{},&*!|>'\"%@`") == std::string::npos;
    return !always_quote && plain ? v : quoted(v);
  }
  std::string operator()(bool v) const { return v ? "true" : "false"; }
  std::string operator()(int v) const { return std::to_string(v); }
  std::string operator()(double v) const { return number_text(v); }
  std::string operator()(const std::string& v) const { return text(v); }
  std::string operator()(const std::vector<std::string>& v) const {
    std::string out = "[";
    for (std::size_t i = 0; i < v.size(); ++i) out += (i == 0 ? "" : ", ") + text(v[i]);
    return out + "]";
  }
};

std::string folded(const std::string& text, const std::string& lead) {
  std::istringstream in(text);
  std::string word, line = lead, out;
  while (in >> word) {
    if (line.size() + word.size() + 1 > 98 && line != lead) {
      out += line + "\n";
      line = lead;
    }
    line += " " + word;
  }
  return line == lead ? out : out + line + "\n";
}

std::string commented_out(const std::string& text) {
  std::istringstream in(text);
  std::string line, out;
  while (std::getline(in, line)) out += "#     " + line + "\n";
  return out;
}

template <class T>
Expected expected_of(const Key<T>& key) {
  return {key.kind, key.unit, key.least, key.most, key.choices};
}

template <class T>
std::string about(const Key<T>& key, const std::string& indent) {
  const bool required = key.presence == Presence::required;
  std::string out = folded(key.meaning, indent + "#");
  out += folded("Allowed: " + describe(expected_of(key)) + (required ? "; must be given" : ""),
                indent + "#");
  return key.reason.empty() ? out : out + folded("Why: " + key.reason, indent + "#");
}

}  // namespace

std::string sha256_hex(const std::string& text) {
  std::array<unsigned char, EVP_MAX_MD_SIZE> hash{};
  unsigned int length = 0;
  if (EVP_Digest(text.data(), text.size(), hash.data(), &length, EVP_sha256(), nullptr) != 1) {
    return "";
  }
  std::string hex;
  for (unsigned int i = 0; i < length; ++i) {
    constexpr const char* digits = "0123456789abcdef";
    hex += digits[hash[i] >> 4];
    hex += digits[hash[i] & 15];
  }
  return hex;
}

std::string rules_digest(const Rules& rules) {
  const Schema<Rules>& schema = rules_schema();
  const ToText to_text{true};
  std::string all = "crestgate rules 1\n";
  for (const Key<Rules>& key : schema.keys) {
    const Group<Rules>* group = schema.group(group_of(key.path));
    const bool counted = group != nullptr && group->form != Group<Rules>::Form::single;
    const std::size_t count = counted ? group->count(rules) : 1;
    for (std::size_t i = 0; i < count; ++i) {
      const Value value =
          key.path == "language" ? Value(language_identity(rules.words)) : key.get(rules, i);
      all += key.path + "[" + std::to_string(i) + "]=" + std::visit(to_text, value) + "\n";
    }
  }
  return sha256_hex(all);
}

template <class T>
std::string commented_yaml(const Schema<T>& schema) {
  using Form = typename Group<T>::Form;
  const T defaults;
  const ToText to_text{false};
  std::string out =
      "# " + schema.title + "\n" +
      "# Every key is here with its default. An unknown, repeated or ill-valued key is an "
      "error.\n";
  for (const Key<T>& key : schema.keys) {
    if (!group_of(key.path).empty()) continue;
    out +=
        "\n" + about(key, "") + key.path + ": " + std::visit(to_text, key.get(defaults, 0)) + "\n";
  }
  for (const Group<T>& group : schema.groups) {
    out += "\n" + folded(group.meaning, "#");
    const bool open = group.form == Form::single;
    if (open) out += group.name + ":\n";
    if (!open) out += "# For example:\n" + commented_out(group.example) + "# where\n";
    for (const Key<T>& key : schema.keys) {
      if (group_of(key.path) != group.name) continue;
      if (open) {
        out += about(key, "  ") + "  " + leaf_of(key.path) + ": " +
               std::visit(to_text, key.get(defaults, 0)) + "\n";
      } else {
        const std::string text = leaf_of(key.path) + ": " + key.meaning + " Allowed: ";
        out += folded(text + describe(expected_of(key)), "#  ");
      }
    }
    if (group.form == Form::list) out += group.name + ": []\n";
  }
  return out;
}

template std::string commented_yaml(const Schema<Rules>&);
template std::string commented_yaml(const Schema<Settings>&);

}  // namespace crestgate
