// Which period of which stretch of the body is the thread's: every one is a hypothesis, and what a
// thread explains of it decides.
#pragma once
#include <optional>
#include <vector>

#include "pipeline/projection/thread_consensus.h"

namespace crestgate {

inline constexpr double kWidestAngleDeg = 25.0;  ///< searched to both sides

/// Below: a thread too short to be read over parts of it, which would confirm what the whole says.
/// Its angle is less sure, and its pitch no ruler.
inline constexpr double kFewTurns = 4.0;

/// The stretches of the body that share the pitch a thread explains best, fitted, best first; none
/// if there is no thread. Half and double the pitch are rivals that are fitted too.
std::vector<ThreadReading> read_thread(const Frame& frame, const ImplantShape& shape,
                                       std::optional<double> blur_sigma_px);

}  // namespace crestgate
