// Time as a seam: the node asks a Clock, tests turn one by hand. Thread-safe.
#pragma once
#include <cstdint>
#include <ctime>

namespace crestgate {

class Clock {
 public:
  virtual ~Clock() = default;
  /// Seconds since 1970-01-01 UTC.
  virtual std::int64_t now_s() const = 0;
};

class SystemClock : public Clock {
 public:
  std::int64_t now_s() const override { return static_cast<std::int64_t>(std::time(nullptr)); }
};

}  // namespace crestgate
