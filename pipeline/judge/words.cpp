#include "pipeline/judge/words.h"

#include <charconv>
#include <cmath>

namespace crestgate {

std::optional<double> known(const std::optional<double>& value) {
  if (value && std::isfinite(*value)) return value;
  return {};
}

std::optional<Quantity> known(const std::optional<Quantity>& quantity) {
  if (quantity && std::isfinite(quantity->value) && std::isfinite(quantity->expanded_uncertainty))
    return Quantity{quantity->value, std::abs(quantity->expanded_uncertainty)};
  return {};
}

std::string fixed_text(double value, int decimals) {
  char buffer[400];
  const auto end =
      std::to_chars(buffer, buffer + sizeof buffer, value, std::chars_format::fixed, decimals);
  return {buffer, end.ptr};
}

std::string mm_text(double mm) {
  const double size = std::abs(mm);
  return fixed_text(mm, size < 0.1 ? 3 : size < 1 ? 2 : 1) + " mm";
}

std::string angle_text(Quantity angle_deg) {
  // Two digits of U while it is small; U is rounded up, never down (GUM 7.2.6).
  const int decimals = angle_deg.expanded_uncertainty < 3 ? 1 : 0;
  const double unit = decimals == 1 ? 0.1 : 1.0;
  const double u = unit * std::ceil(angle_deg.expanded_uncertainty / unit - 1e-9);
  return fixed_text(std::abs(angle_deg.value), decimals) + "° ± " + fixed_text(u, decimals) + "°";
}

std::string amount_text(Quantity angle_deg) {
  double step = 10;
  for (double candidate : {5.0, 2.0, 1.0})
    if (candidate >= angle_deg.expanded_uncertainty) step = candidate;
  const double amount = step * std::round(std::abs(angle_deg.value) / step);
  return amount > 0 ? "about " + fixed_text(amount, 0) + "°" : "slightly";
}

}  // namespace crestgate
