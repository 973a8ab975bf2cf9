// The picture at reduced resolution, on which candidates are searched: exposed field only, grey
// values scaled to the picture's own range.
#pragma once
#include <cstdint>
#include <vector>

#include "pipeline/image/frame.h"

namespace crestgate {

/// Rectangle of rows and columns that carry image content (inclusive); constant frame lines, as
/// exports and readers add them, are outside.
struct Field {
  int x0 = 0, y0 = 0, x1 = -1, y1 = -1;
  bool contains(Point p, double margin = 0.0) const {
    return p.x >= x0 + margin && p.x <= x1 - margin && p.y >= y0 + margin && p.y <= y1 - margin;
  }
};

Field find_field(const Frame& frame);

struct Survey {
  int rows = 0, columns = 0;
  int factor = 1;                ///< full-resolution pixels per survey pixel, each direction
  Field field;                   ///< at full resolution
  double low = 0.0, high = 1.0;  ///< stored values mapped to 0 and 1
  double noise = 0.0;            ///< robust sd of neighbour differences / sqrt(2), survey units
  std::vector<float> values;     ///< row-major, NaN where nothing is exposed or stored
  float at(int x, int y) const { return values[static_cast<std::size_t>(y) * columns + x]; }
  /// Survey pixel centre -> full-resolution coordinates.
  Point to_full(Point p) const {
    return {field.x0 + (p.x + 0.5) * factor - 0.5, field.y0 + (p.y + 0.5) * factor - 0.5};
  }
};

/// Block means so that sqrt(rows * columns) is about `size_px`.
Survey make_survey(const Frame& frame, double size_px = 300.0);

}  // namespace crestgate
