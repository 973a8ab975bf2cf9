// What is looked at to tell how far a reading of a bone's edge can be believed (trust.h). Private
// to this folder.
#pragma once
#include <array>
#include <vector>

#include "pipeline/crest/flank_reading.h"

namespace crestgate {

/// The picture about a contact, in cells of 0.1 mm: rows from 2.4 mm coronal of it to 2.4 mm
/// apical, columns from 0.5 mm inside the flank line to 1.9 mm outside.
struct EdgeView {
  static constexpr int kRows = 48, kColumns = 24;
  static constexpr double kCellMm = 0.1, kInsideMm = 0.5;
  /// Grey over the strip's largest step, 0 at the edge, -4 to 4. NaN: outside the picture.
  std::vector<float> grey;
};

EdgeView view_edge(const Frame& frame, const ImplantShape& shape, int side,
                   const FlankSetting& setting, const FlankReading& reading);

constexpr int kEdgeSigns = 28;
/// Numbers of the reading itself, all of order 1; what is not known is 0.
using EdgeSigns = std::array<float, kEdgeSigns>;

EdgeSigns edge_signs(const ImplantShape& shape, const FlankSetting& setting,
                     const FlankReading& reading);

}  // namespace crestgate
