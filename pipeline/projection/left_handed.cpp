#include "pipeline/projection/left_handed.h"

#include <algorithm>
#include <cmath>
#include <utility>

namespace crestgate {
namespace {

template <class T>
void mirror_rows(std::vector<T>& pixels, int columns) {
  for (auto row = pixels.begin(); row != pixels.end(); row += columns)
    std::reverse(row, row + columns);
}

Frame mirrored(Frame frame) {
  mirror_rows(frame.values, frame.columns);
  mirror_rows(frame.padding, frame.columns);
  return frame;
}

std::vector<double> negated(std::vector<double> edge) {
  for (double& u : edge) u = -u;
  return edge;
}

ImplantShape mirrored(const ImplantShape& shape, int columns) {
  ImplantShape result = shape;
  result.axis.origin.x = columns - 1 - shape.axis.origin.x;
  result.axis.apical.x = -shape.axis.apical.x;
  result.minus_edge_px = negated(shape.plus_edge_px);
  result.plus_edge_px = negated(shape.minus_edge_px);
  std::swap(result.minus_flank_in_view, result.plus_flank_in_view);
  return result;
}

}  // namespace

ProjectionMeasures measure_left_handed(const Frame& frame, const Acquisition& acquisition,
                                       const ImplantShape& shape, const QualityMeasures& quality,
                                       const Scale& scale) {
  ProjectionMeasures result = measure_projection(mirrored(frame), acquisition,
                                                 mirrored(shape, frame.columns), quality, scale);
  // An axis that lies rather horizontally names its flanks by y, which the mirror keeps.
  const Point right = shape.axis.right();
  if (std::abs(right.x) >= std::abs(right.y))
    std::swap(result.flank_edge_ratio.left, result.flank_edge_ratio.right);
  return result;
}

}  // namespace crestgate
