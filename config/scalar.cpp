#include "config/scalar.h"

#include <algorithm>
#include <array>
#include <charconv>
#include <regex>
#include <set>

namespace crestgate {
namespace {

// Longer than any number or date; std::regex recurses per character, so a bound is needed anyway.
constexpr std::size_t kLongestNumber = 48;

const char* kind_of(const YamlNode& node) {
  switch (node.kind) {
    case YamlNode::Kind::null:
      return "nothing";
    case YamlNode::Kind::scalar:
      return "a value";
    case YamlNode::Kind::list:
      return "a list";
    case YamlNode::Kind::map:
      return "a block of keys";
  }
  return "nothing";
}

bool refuse(const YamlNode& node, const std::string& name, const Expected& expected,
            std::vector<Diagnostic>& problems, const std::string& hint = "") {
  std::string got = kind_of(node);
  if (node.kind == YamlNode::Kind::scalar) {
    got = (node.quoted ? "the text '" : "'") + excerpt_of(node.text) + "'";
  }
  problems.push_back({node.place, "'" + name + "': expected " + describe(expected) + ", got " +
                                      got + (hint.empty() ? "" : "; " + hint)});
  return false;
}

bool read_number(const YamlNode& node, const std::string& name, const Expected& expected,
                 Value& value, std::vector<Diagnostic>& problems) {
  static const std::regex whole("-?(0|[1-9][0-9]*)");
  static const std::regex decimal("-?(0|[1-9][0-9]*)(\\.[0-9]+)?([eE][+-]?[0-9]{1,3})?");
  static const std::regex leading_zero("-?0[0-9]+(\\..*)?");
  const std::string& text = node.text;
  if (text.size() > kLongestNumber) return refuse(node, name, expected, problems);
  if (node.quoted) return refuse(node, name, expected, problems, "leave out the quotes");
  if (std::regex_match(text, leading_zero)) {
    return refuse(node, name, expected, problems,
                  "a leading zero can be read as octal: leave it out");
  }
  const bool integer = expected.kind == Kind::integer;
  if (!std::regex_match(text, integer ? whole : decimal)) {
    return refuse(node, name, expected, problems);
  }
  double number = 0.0;
  const auto [end, error] = std::from_chars(text.data(), text.data() + text.size(), number);
  if (error != std::errc() || end != text.data() + text.size() || number < expected.least ||
      number > expected.most) {
    return refuse(node, name, expected, problems);
  }
  if (integer) {
    value = static_cast<int>(number);
  } else {
    value = number == 0.0 ? 0.0 : number;  // -0 is 0: one canonical form
  }
  return true;
}

bool valid_date(const std::string& text) {
  static const std::regex form("([0-9]{4})-([0-9]{2})-([0-9]{2})");
  std::smatch part;
  if (text.size() > kLongestNumber || !std::regex_match(text, part, form)) return false;
  const int year = std::stoi(part[1]), month = std::stoi(part[2]), day = std::stoi(part[3]);
  if (year < 1990 || month < 1 || month > 12 || day < 1) return false;
  const bool leap = (year % 4 == 0 && year % 100 != 0) || year % 400 == 0;  // Gregorian calendar
  const std::array<int, 12> days{31, leap ? 29 : 28, 31, 30, 31, 30, 31, 31, 30, 31, 30, 31};
  return day <= days[static_cast<std::size_t>(month - 1)];
}

/// PS3.5 table 6.2-1, AE: 1-16 characters of the default repertoire, no backslash, no control
/// characters, not only spaces; leading and trailing spaces are not significant, so refused here.
bool valid_ae_title(const std::string& text) {
  if (text.empty() || text.size() > 16 || text.front() == ' ' || text.back() == ' ') return false;
  return std::all_of(text.begin(), text.end(),
                     [](char c) { return c >= 0x20 && c < 0x7F && c != '\\'; });
}

bool read_texts(const YamlNode& node, const std::string& name, const Expected& expected,
                Value& value, std::vector<Diagnostic>& problems) {
  if (node.kind != YamlNode::Kind::list) return refuse(node, name, expected, problems);
  Expected element = expected;
  element.kind = expected.kind == Kind::ae_titles ? Kind::ae_title : Kind::text;
  std::vector<std::string> texts;
  bool good = true;
  for (const YamlNode& item : node.items) {
    Value text;
    if (!read_value(item, name, element, text, problems)) {
      good = false;
    } else if (std::find(texts.begin(), texts.end(), std::get<std::string>(text)) != texts.end()) {
      problems.push_back(
          {item.place, "'" + name + "': '" + excerpt_of(item.text) + "' stands here twice"});
      good = false;
    } else {
      texts.push_back(std::get<std::string>(text));
    }
  }
  value = texts;
  return good;
}

bool read_word(const YamlNode& node, const std::string& name, const Expected& expected,
               Value& value, std::vector<Diagnostic>& problems) {
  const auto& words = expected.choices;
  if (std::find(words.begin(), words.end(), node.text) == words.end()) {
    const std::string near = nearest(node.text, words);
    return refuse(node, name, expected, problems,
                  near.empty() ? "" : "did you mean '" + near + "'?");
  }
  value = node.text;
  return true;
}

}  // namespace

std::string number_text(double value) {
  std::array<char, 32> buffer{};
  const auto result = std::to_chars(buffer.data(), buffer.data() + buffer.size(), value);
  return std::string(buffer.data(), result.ptr);
}

std::string describe(const Expected& expected) {
  const auto plain = [&](double v) {
    return expected.kind == Kind::integer ? std::to_string(static_cast<int>(v)) : number_text(v);
  };
  const auto range = [&] {
    return (expected.unit.empty() ? "" : " in " + expected.unit) + " from " +
           plain(expected.least) + " to " + plain(expected.most);
  };
  switch (expected.kind) {
    case Kind::boolean:
      return "true or false";
    case Kind::integer:
      return "a whole number" + range();
    case Kind::number:
      return "a number" + range();
    case Kind::text:
      return "a text";
    case Kind::date:
      return "a date of the calendar as YYYY-MM-DD";
    case Kind::ae_title:
      return "an AE title of 1 to 16 plain characters without backslash";
    case Kind::texts:
      return "a list of texts, as in [a, b]";
    case Kind::ae_titles:
      return "a list of AE titles, as in [A, B]";
    case Kind::choice:
      break;
  }
  std::string text = "one of: ";
  for (const std::string& word : expected.choices) {
    text += (&word == &expected.choices.front() ? "" : ", ") + word;
  }
  return text;
}

bool read_value(const YamlNode& node, const std::string& name, const Expected& expected,
                Value& value, std::vector<Diagnostic>& problems) {
  if (expected.kind == Kind::texts || expected.kind == Kind::ae_titles) {
    return read_texts(node, name, expected, value, problems);
  }
  if (node.kind != YamlNode::Kind::scalar) return refuse(node, name, expected, problems);
  switch (expected.kind) {
    case Kind::integer:
    case Kind::number:
      return read_number(node, name, expected, value, problems);
    case Kind::choice:
      return read_word(node, name, expected, value, problems);
    case Kind::boolean:
      if (node.quoted || (node.text != "true" && node.text != "false")) break;
      value = node.text == "true";
      return true;
    case Kind::date:
      if (!valid_date(node.text)) break;
      value = node.text;
      return true;
    case Kind::ae_title:
      if (!valid_ae_title(node.text)) break;
      value = node.text;
      return true;
    default:
      if (node.text.find_first_not_of(" \t\r\n") == std::string::npos) break;
      value = node.text;
      return true;
  }
  return refuse(node, name, expected, problems);
}

}  // namespace crestgate
