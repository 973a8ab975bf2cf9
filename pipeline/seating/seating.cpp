#include "pipeline/seating/seating.h"
namespace crestgate {
JointMeasures measure_joint(const Frame&, const Acquisition&, const ImplantShape&,
                            const ProjectionMeasures&, const QualityMeasures&, const Scale&) {
  JointMeasures m;
  m.reason = "not measured";
  return m;
}
}  // namespace crestgate
