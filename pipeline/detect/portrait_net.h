// The learned numbers of this folder. Private to it. How they were obtained: DEVELOPERS.md,
// 'Detection'.
#pragma once
#include "pipeline/detect/portrait.h"
#include "pipeline/detect/signs.h"
#include "pipeline/image/convolution.h"

namespace crestgate {

constexpr int kBands = 4;  ///< equal parts of the height
constexpr int kHidden = 24;

/// Looks at the grey values (0.3 where nothing is exposed) and at what is exposed (1 or 0):
///   y = four convolutions of them;  x = mean of y over each band, largest y, signs of the evidence
///   log odds = out tanh(hidden x + bias) + linear signs + constant
struct PortraitNet {
  Convolution<2, 8, 5, 2> first;
  Convolution<8, 16, 3, 2> second;
  Convolution<16, 24, 3, 2> third;
  Convolution<24, 24, 3, 1> fourth;
  struct {
    float weight[kHidden][24 * (kBands + 1) + kSigns];
    float bias[kHidden];
  } hidden;
  float out[kHidden];
  float linear[kSigns];
  float constant;
};
extern const PortraitNet kPortraitNet;

}  // namespace crestgate
