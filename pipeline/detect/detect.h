// Stage detect: every implant in the picture, in any in-plane orientation, or none.
#pragma once
#include <vector>

#include "pipeline/image/acquisition.h"
#include "pipeline/image/analysis.h"
#include "pipeline/image/frame.h"

namespace crestgate {

/// Sorted by the platform's x. Uncertain ones are returned with their confidence, those below 0.45
/// not.
std::vector<ImplantShape> detect_implants(const Frame& frame, const Acquisition& acquisition);

struct EitherWay {
  std::vector<ImplantShape> shapes;
  bool in_negative = false;  ///< found in the negative: the grey scale is inverted, undeclared
};

/// The same, and where nothing as confident as `least_confidence` shows with both flanks, with the
/// upper greys spread (bone burnt out) and in the negative too: some exports turn the grey scale
/// without saying so.
EitherWay detect_either_way(const Frame& frame, const Acquisition& acquisition,
                            double least_confidence);

}  // namespace crestgate
