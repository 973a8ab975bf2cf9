#include "pipeline/judge/words.h"

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

std::string mm_text(double mm) {
  const double size = std::abs(mm);
  return fixed(mm, size < 0.1 ? 3 : size < 1 ? 2 : 1) + " mm";
}

std::string gap_text(double mm) { return fixed_up(1000 * mm, 0) + " µm"; }

std::string angle_text(Quantity angle_deg) {
  return plus_minus({std::abs(angle_deg.value), angle_deg.expanded_uncertainty}, 1, "°");
}

std::string amount_text(Quantity angle_deg, const Language& text) {
  double step = 10;
  for (double candidate : {5.0, 2.0, 1.0})
    if (candidate >= angle_deg.expanded_uncertainty) step = candidate;
  const double amount = step * std::round(std::abs(angle_deg.value) / step);
  return amount > 0 ? text.get("move.about", {{"n", fixed(amount, 0)}}) : text.get("move.slightly");
}

}  // namespace crestgate
