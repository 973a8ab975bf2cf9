// Seeded random numbers and smooth random fields.
#pragma once
#include <cmath>
#include <cstdint>
#include <vector>

namespace crestgate::phantom {

/// xoshiro256++ (Blackman, Vigna 2019), seeded by splitmix64: same numbers on every platform,
/// which std::normal_distribution does not promise.
class Random {
 public:
  explicit Random(std::uint64_t seed);
  std::uint64_t next();
  double uniform() { return static_cast<double>(next() >> 11) * 0x1.0p-53; }
  double uniform(double low, double high) { return low + (high - low) * uniform(); }
  bool chance(double share) { return uniform() < share; }
  int integer(int low, int high) {  ///< both ends possible
    return low + static_cast<int>(next() % static_cast<std::uint64_t>(high - low + 1));
  }
  double normal();  ///< mean 0, sd 1 (Marsaglia's polar method)

 private:
  std::uint64_t s_[4];
  double spare_ = 0.0;
  bool has_spare_ = false;
};

/// Periodic field, mean 0, sd 1, a band of sizes around `size_mm`.
class NoiseTile {
 public:
  NoiseTile() = default;
  NoiseTile(std::uint64_t seed, double size_mm);
  float at(double x_mm, double y_mm) const;  ///< bilinear

 private:
  static constexpr int kSide = 256;
  double per_mm_ = 1.0;
  std::vector<float> values_;
};

}  // namespace crestgate::phantom
