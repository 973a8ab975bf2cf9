#include "pipeline/projection/thread_reading.h"

#include <algorithm>
#include <cmath>
#include <utility>

#include "config/units.h"
#include "pipeline/projection/thread_extent.h"

namespace crestgate {
namespace {

// A thread explains most of what repeats with its pitch, and more than chance does: other patterns
// (texture, a harmonic of a pitch too long to be searched) reach 230, threads seldom fall below 700
// (ours, over rendered scenes).
constexpr double kLeastExplained = 0.6;
constexpr double kLeastEvidence = 300.0;
constexpr double kFewestPitches = 3.0;      // in all
constexpr double kFewestPitchesPart = 3.2;  // a part of fewer repeats what the whole says

using Hypotheses = std::vector<std::pair<double, ThreadSignal>>;  ///< coarse evidence, signal

bool same_pitch(double a, double b) { return std::abs(a - b) < 0.04 * b; }

/// Double the pitch shows the thread as its second harmonic: in a clean picture its coarse evidence
/// is no reason to leave out the pitch itself.
bool half_of(double a, double b) { return std::abs(2 * a - b) < 0.06 * b; }

/// Every period of every stretch of the body. Stretches: all of it, or what is left where another
/// pitch (micro-thread neck), a smooth neck or a mounted part disturbs the rest.
Hypotheses hypotheses_of(const Frame& frame, const ImplantShape& shape,
                         std::optional<double> blur_sigma_px) {
  constexpr double kSpans[][2] = {{0.15, 0.88}, {0.4, 0.9}};
  Hypotheses all;
  for (const auto& span : kSpans)
    for (ThreadSignal& signal :
         thread_signals(frame, shape, span[0] * shape.length_px, span[1] * shape.length_px)) {
      const double evidence = thread_evidence(signal, radians(kWidestAngleDeg), blur_sigma_px);
      all.emplace_back(evidence, std::move(signal));
    }
  std::sort(all.begin(), all.end(), [](const auto& a, const auto& b) { return a.first > b.first; });
  return all;
}

/// Fit of one signal. Where white is reached the columns are clipped there, or the tone merely
/// flattens: the likelihood says which.
ThreadReading fitted(ThreadSignal signal, std::optional<double> blur_sigma_px) {
  const double widest = radians(kWidestAngleDeg);
  ThreadReading reading{std::move(signal), {}};
  reading.fit = fit_thread(reading.signal, widest, blur_sigma_px);
  if (reading.signal.clip_x > 0) {
    ThreadReading straight{reading.signal, {}};
    straight.signal.clip_x = 0;
    straight.fit = fit_thread(straight.signal, widest, blur_sigma_px);
    if (straight.fit.evidence > reading.fit.evidence) return straight;
  }
  return reading;
}

/// The signal over all of the thread it belongs to; as it is if that cannot be told.
ThreadSignal whole_thread(const Frame& frame, const ImplantShape& shape, ThreadSignal signal) {
  const auto extent = thread_extent(frame, shape, signal.crest_px, signal.pitch_px,
                                    signal.v_begin_px, signal.v_end_px);
  if (!extent) return signal;
  auto whole =
      thread_signal(frame, shape, extent->begin_px, extent->end_px, signal.pitch_px, Pitch::near);
  return whole && same_pitch(whole->pitch_px, signal.pitch_px) ? std::move(*whole) : signal;
}

/// The same thread over parts of it that are long enough: what they say apart tells disturbances.
std::vector<ThreadSignal> parts_of(const Frame& frame, const ImplantShape& shape,
                                   const ThreadSignal& whole) {
  constexpr double kParts[][2] = {{0.0, 0.6}, {0.2, 0.8}, {0.4, 1.0}};
  const double length = whole.v_end_px - whole.v_begin_px;
  std::vector<ThreadSignal> parts;
  for (const auto& part : kParts) {
    const double begin = whole.v_begin_px + part[0] * length;
    const double end = whole.v_begin_px + part[1] * length;
    if (end - begin < kFewestPitchesPart * whole.pitch_px) continue;
    auto signal = thread_signal(frame, shape, begin, end, whole.pitch_px, Pitch::exact);
    if (signal) parts.push_back(std::move(*signal));
  }
  return parts;
}

}  // namespace

std::vector<ThreadReading> read_thread(const Frame& frame, const ImplantShape& shape,
                                       std::optional<double> blur_sigma_px) {
  const Hypotheses all = hypotheses_of(frame, shape, blur_sigma_px);
  std::vector<ThreadReading> by_pitch;
  for (const auto& [evidence, signal] : all) {
    const double pitch_px = signal.pitch_px;
    if (evidence < 0.4 * all.front().first && !half_of(pitch_px, all.front().second.pitch_px))
      continue;
    if (std::none_of(by_pitch.begin(), by_pitch.end(), [pitch_px](const ThreadReading& r) {
          return same_pitch(pitch_px, r.signal.pitch_px);
        }))
      by_pitch.push_back(fitted(whole_thread(frame, shape, signal), blur_sigma_px));
  }
  if (by_pitch.empty()) return {};
  // In units of what the fit leaves: where the noise is small, a pattern half understood (double
  // the pitch) takes off more of it than it explains.
  const auto weight = [](const ThreadReading& r) {
    return r.fit.evidence / std::max(1.0, r.fit.residual_variance);
  };
  const auto more_evident = [&](const ThreadReading& a, const ThreadReading& b) {
    return weight(a) > weight(b);
  };
  std::sort(by_pitch.begin(), by_pitch.end(), more_evident);
  const ThreadSignal& first = by_pitch.front().signal;
  // One flank, or two beside a white core, do not tell the pitch from its double.
  const bool half_seen = first.white_x > 0 || !shape.both_flanks_in_view();
  if (first.turns() < (half_seen ? kFewTurns : kFewestPitches)) return {};
  std::vector<ThreadReading> result{std::move(by_pitch.front())};
  for (ThreadSignal& part : parts_of(frame, shape, result.front().signal))
    result.push_back(fitted(std::move(part), blur_sigma_px));
  result.erase(std::remove_if(result.begin(), result.end(),
                              [](const ThreadReading& r) {
                                return r.fit.modes.empty() || r.fit.explained < kLeastExplained;
                              }),
               result.end());
  std::sort(result.begin(), result.end(), more_evident);
  if (!result.empty() && result.front().fit.evidence < kLeastEvidence) result.clear();
  return result;
}

}  // namespace crestgate
