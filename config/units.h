// Units and measured quantities. House rule: the unit stands in the name of every field and
// parameter (_mm, _px, _deg, _um); no unit-less length or angle crosses a file.
#pragma once

namespace crestgate {

constexpr double kPi = 3.14159265358979323846;
constexpr double radians(double angle_deg) { return angle_deg * kPi / 180.0; }
constexpr double degrees(double angle_rad) { return angle_rad * 180.0 / kPi; }

/// A measured value with its expanded uncertainty U = k u_c, k = 2 (about 95 %),
/// JCGM 100:2008 (GUM) clause 6. Both in the unit named by the field that holds it.
struct Quantity {
  double value = 0.0;
  double expanded_uncertainty = 0.0;
};

}  // namespace crestgate
