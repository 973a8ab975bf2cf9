#include "node/entry_names.h"

#include <cstdio>

namespace crestgate {
namespace {

constexpr std::size_t kSequenceDigits = 16;
constexpr std::size_t kHashDigits = 32;

bool is_digits(const std::string& s) {
  return !s.empty() && s.find_first_not_of("0123456789") == std::string::npos;
}
bool is_hash(const std::string& s) {
  return s.size() == kHashDigits && s.find_first_not_of("0123456789abcdef") == std::string::npos;
}
std::string padded(std::uint64_t sequence) {
  char text[24];
  std::snprintf(text, sizeof text, "%016llu", static_cast<unsigned long long>(sequence));
  return text;
}
bool ends_with(const std::string& s, const std::string& end) {
  return s.size() >= end.size() && s.compare(s.size() - end.size(), end.size(), end) == 0;
}

}  // namespace

std::string EntryName::file() const {
  return folder() + "-" + content_hash + "-" + std::to_string(starts) + ".dcm";
}

std::string EntryName::folder() const { return padded(sequence) + "-" + uid_hash; }

std::optional<EntryName> parse_entry_folder(const std::string& name) {
  if (name.size() != kSequenceDigits + 1 + kHashDigits) return {};
  const std::string sequence = name.substr(0, kSequenceDigits);
  if (!is_digits(sequence) || name[kSequenceDigits] != '-') return {};
  EntryName entry;
  entry.sequence = std::stoull(sequence);
  entry.uid_hash = name.substr(kSequenceDigits + 1);
  if (!is_hash(entry.uid_hash)) return {};
  return entry;
}

std::optional<EntryName> parse_entry_file(const std::string& name) {
  const std::size_t folder_size = kSequenceDigits + 1 + kHashDigits;
  if (name.size() != folder_size + 1 + kHashDigits + 2 + 4) return {};
  auto entry = parse_entry_folder(name.substr(0, folder_size));
  if (!entry || name[folder_size] != '-') return {};
  entry->content_hash = name.substr(folder_size + 1, kHashDigits);
  const char starts = name[name.size() - 5];
  if (!is_hash(entry->content_hash) || name[name.size() - 6] != '-' || starts < '0' ||
      starts > '9' || !ends_with(name, ".dcm")) {
    return {};
  }
  entry->starts = starts - '0';
  return entry;
}

std::string part_file(std::uint64_t sequence) { return padded(sequence) + ".part"; }

bool is_part_file(const std::string& name) {
  return name.size() == kSequenceDigits + 5 && ends_with(name, ".part") &&
         is_digits(name.substr(0, kSequenceDigits));
}

std::string object_file(int number, const std::string& kind) {
  char text[8];
  std::snprintf(text, sizeof text, "%02d-", number % 100);
  std::string name = text;
  for (const char c : kind) {
    if ((c >= 'a' && c <= 'z') || c == '-') name += c;
  }
  return name + ".dcm";
}

bool is_object_file(const std::string& name) {
  return name.size() >= 7 && is_digits(name.substr(0, 2)) && name[2] == '-' &&
         ends_with(name, ".dcm") &&
         name.substr(3, name.size() - 7).find_first_not_of("abcdefghijklmnopqrstuvwxyz-") ==
             std::string::npos;
}

std::string sent_file(const std::string& object_name) {
  return object_name.substr(0, object_name.size() - 4) + ".sent";
}

std::string object_of_sent(const std::string& sent_name) {
  return sent_name.substr(0, sent_name.size() - 5) + ".dcm";
}

bool is_sent_file(const std::string& name) {
  return ends_with(name, ".sent") && is_object_file(object_of_sent(name));
}

std::string dead_file(const std::string& entry_folder, const std::string& object_name) {
  return entry_folder + "-" + object_name;
}

std::string reason_file(const std::string& name) { return name + ".json"; }
bool is_reason_file(const std::string& name) { return ends_with(name, ".dcm.json"); }

}  // namespace crestgate
