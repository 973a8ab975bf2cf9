#include "pipeline/projection/projection.h"
namespace crestgate {
ProjectionMeasures measure_projection(const Frame&, const Acquisition&, const ImplantShape&,
                                      const QualityMeasures&, const Scale&) {
  ProjectionMeasures m;
  m.reason = "not measured";
  return m;
}
}  // namespace crestgate
