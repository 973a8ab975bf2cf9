#include "tests/support/noise_field.h"

namespace crestgate::phantom {
namespace {
std::uint64_t rotate(std::uint64_t x, int k) { return (x << k) | (x >> (64 - k)); }

// Circular box blur along one direction; three passes come close to a Gaussian.
void blur_periodic(std::vector<float>* field, int side, int radius) {
  std::vector<float> line(side);
  const float scale = 1.0F / (2 * radius + 1);
  for (int direction = 0; direction < 2; ++direction) {
    const int along = direction == 0 ? 1 : side, across = direction == 0 ? side : 1;
    for (int pass = 0; pass < 3; ++pass) {
      for (int j = 0; j < side; ++j) {
        float* row = field->data() + j * across;
        float sum = 0.0F;
        for (int i = -radius; i <= radius; ++i) sum += row[((i + side) % side) * along];
        for (int i = 0; i < side; ++i) {
          line[i] = sum * scale;
          sum += row[((i + radius + 1) % side) * along] - row[((i - radius + side) % side) * along];
        }
        for (int i = 0; i < side; ++i) row[i * along] = line[i];
      }
    }
  }
}
}  // namespace

Random::Random(std::uint64_t seed) {
  for (std::uint64_t& word : s_) {
    seed += 0x9e3779b97f4a7c15ULL;
    std::uint64_t z = seed;
    z = (z ^ (z >> 30)) * 0xbf58476d1ce4e5b9ULL;
    z = (z ^ (z >> 27)) * 0x94d049bb133111ebULL;
    word = z ^ (z >> 31);
  }
}

std::uint64_t Random::next() {
  const std::uint64_t result = rotate(s_[0] + s_[3], 23) + s_[0], t = s_[1] << 17;
  s_[2] ^= s_[0];
  s_[3] ^= s_[1];
  s_[1] ^= s_[2];
  s_[0] ^= s_[3];
  s_[2] ^= t;
  s_[3] = rotate(s_[3], 45);
  return result;
}

double Random::normal() {
  if (has_spare_) {
    has_spare_ = false;
    return spare_;
  }
  double u, v, q;
  do {
    u = uniform(-1.0, 1.0);
    v = uniform(-1.0, 1.0);
    q = u * u + v * v;
  } while (q >= 1.0 || q == 0.0);
  const double k = std::sqrt(-2.0 * std::log(q) / q);
  spare_ = v * k;
  has_spare_ = true;
  return u * k;
}

NoiseTile::NoiseTile(std::uint64_t seed, double size_mm) : per_mm_(8.0 / size_mm) {
  Random random(seed);
  std::vector<float> fine(kSide * kSide), coarse;
  for (float& v : fine) v = static_cast<float>(random.normal());
  coarse = fine;
  blur_periodic(&fine, kSide, 1);
  blur_periodic(&coarse, kSide, 4);
  double sum = 0.0, squares = 0.0;
  values_.resize(fine.size());
  for (std::size_t i = 0; i < fine.size(); ++i) {
    // White noise keeps about 1/sqrt(area) of its sd: weigh the two bands to similar strength.
    values_[i] = 0.5F * (fine[i] - coarse[i]) / 0.2F + coarse[i] / 0.06F;
    sum += values_[i];
    squares += double(values_[i]) * values_[i];
  }
  const double n = static_cast<double>(values_.size()), mean = sum / n;
  const double sd = std::sqrt(squares / n - mean * mean);
  for (float& v : values_) v = static_cast<float>((v - mean) / sd);
}

float NoiseTile::at(double x_mm, double y_mm) const {
  // Shifted to stay positive: truncation is then the floor.
  const double x = x_mm * per_mm_ + 65536.0, y = y_mm * per_mm_ + 65536.0;
  const int x0 = static_cast<int>(x), y0 = static_cast<int>(y);
  const int ix = x0 & (kSide - 1), iy = y0 & (kSide - 1);
  const int jx = (ix + 1) & (kSide - 1), jy = (iy + 1) & (kSide - 1);
  const float fx = static_cast<float>(x - x0), fy = static_cast<float>(y - y0);
  const float top = values_[iy * kSide + ix] * (1 - fx) + values_[iy * kSide + jx] * fx;
  const float low = values_[jy * kSide + ix] * (1 - fx) + values_[jy * kSide + jx] * fx;
  return top * (1 - fy) + low * fy;
}

}  // namespace crestgate::phantom
