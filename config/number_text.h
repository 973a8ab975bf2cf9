// Numbers and dates as text: fixed decimals, '.' whatever the locale, and one rule for
// uncertainties, which are rounded up, never down (JCGM 100:2008, 7.2.6). Everything a reader sees
// is written with these.
#pragma once
#include <charconv>
#include <cmath>
#include <string>

#include "config/units.h"

namespace crestgate {

/// Never "-0.0".
inline std::string fixed(double value, int decimals) {
  char digits[400];
  const auto end =
      std::to_chars(digits, digits + sizeof digits, value, std::chars_format::fixed, decimals);
  std::string text(digits, end.ptr);
  if (text.front() == '-' && text.find_first_not_of("-0.") == std::string::npos) text.erase(0, 1);
  return text;
}

/// An uncertainty, its last decimal rounded up.
inline std::string fixed_up(double uncertainty, int decimals) {
  const double scale = std::pow(10.0, decimals);
  return fixed(std::ceil(uncertainty * scale - 1e-6) / scale, decimals);
}

/// "1.2 ± 0.4 mm" (`unit` with its own space before it, if any).
inline std::string plus_minus(Quantity q, int decimals, const std::string& unit) {
  return fixed(q.value, decimals) + " ± " + fixed_up(q.expanded_uncertainty, decimals) + unit;
}

/// "2024-01-10" from DICOM's YYYYMMDD; anything else as it is.
inline std::string date_text(const std::string& date) {
  if (date.size() != 8) return date;
  return date.substr(0, 4) + "-" + date.substr(4, 2) + "-" + date.substr(6);
}

}  // namespace crestgate
