#include "pipeline/read/dataset.h"

#include <cmath>
#include <cstdio>

namespace crestgate {

std::string trimmed(std::string text) {
  const char* blank = " \t\r\n";
  text.erase(std::min(text.find('\0'), text.size()));
  const std::size_t first = text.find_first_not_of(blank);
  if (first == std::string::npos) return {};
  return text.substr(first, text.find_last_not_of(blank) - first + 1);
}

namespace {

// A damaged length field can claim gigabytes, which DCMTK would walk through byte by byte.
constexpr Uint32 kLongestText = 64 * 1024;

DcmElement* short_element(DcmItem& item, const DcmTagKey& key) {
  DcmElement* element = nullptr;
  if (item.findAndGetElement(key, element).bad() || !element) return nullptr;
  return element->getLengthField() <= kLongestText ? element : nullptr;
}

}  // namespace

std::string text_of(DcmItem& item, const DcmTagKey& key) {
  DcmElement* element = short_element(item, key);
  OFString value;
  if (!element || element->getOFStringArray(value).bad()) return {};
  return trimmed(std::string(value.c_str(), value.size()));
}

std::vector<double> numbers_of(DcmItem& item, const DcmTagKey& key) {
  DcmElement* element = short_element(item, key);
  if (!element) return {};
  const unsigned long count = std::min<unsigned long>(element->getVM(), 16);
  std::vector<double> values;
  for (unsigned long i = 0; i < count; ++i) {
    OFString part;
    if (element->getOFString(part, i).bad()) return {};
    OFBool ok = OFFalse;
    const double value = OFStandard::atof(trimmed(part.c_str()).c_str(), &ok);
    if (!ok || !std::isfinite(value)) return {};
    values.push_back(value);
  }
  return values;
}

std::optional<double> number_of(DcmItem& item, const DcmTagKey& key) {
  const std::vector<double> values = numbers_of(item, key);
  if (values.empty()) return {};
  return values.front();
}

std::string tag_text(const DcmTagKey& key) {
  char text[16];
  std::snprintf(text, sizeof text, "(%04x,%04x)", key.getGroup(), key.getElement());
  for (char& c : text) c = static_cast<char>(std::toupper(static_cast<unsigned char>(c)));
  return text;
}

}  // namespace crestgate
