// The learned numbers of this folder. Private to it. How they were obtained: DEVELOPERS.md,
// 'Crest'.
#pragma once
#include "pipeline/crest/edge_view.h"
#include "pipeline/image/convolution.h"

namespace crestgate {

constexpr int kTrustBands = 6;  ///< equal parts of the height
constexpr int kTrustHidden = 16;
constexpr double kLeastSdMm = 0.02, kMostSdMm = 0.3;  // the sd lies between them

/// Looks at the grey values (0 outside the picture) and at what is inside (1 or 0):
///   y = three convolutions of them;  x = mean of y over each band, largest y, signs of the reading
///   out tanh(hidden x + bias) + linear signs + constant = logit of the sd's place between its
///   bounds (logarithmic), and log odds of a gross error
struct TrustNet {
  Convolution<2, 8, 5, 2> first;
  Convolution<8, 12, 3, 2> second;
  Convolution<12, 12, 3, 1> third;
  struct {
    float weight[kTrustHidden][12 * (kTrustBands + 1) + kEdgeSigns];
    float bias[kTrustHidden];
  } hidden;
  float out[2][kTrustHidden];
  float linear[2][kEdgeSigns];
  float constant[2];
};
extern const TrustNet kTrustNet;

}  // namespace crestgate
