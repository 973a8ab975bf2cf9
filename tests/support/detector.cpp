#include <algorithm>
#include <cmath>

#include "config/units.h"
#include "tests/support/image_ops.h"
#include "tests/support/noise_field.h"

namespace crestgate::phantom {
namespace {

// Smooth copy at a sixteenth of the size: scatter has no detail worth more.
Plane scatter_of(const Plane& t, double sigma_px) {
  constexpr int kShrink = 16;
  Plane small{(t.rows + kShrink - 1) / kShrink, (t.columns + kShrink - 1) / kShrink, {}};
  small.values.resize(static_cast<std::size_t>(small.rows) * small.columns);
  for (int y = 0; y < small.rows; ++y) {
    for (int x = 0; x < small.columns; ++x) {
      float sum = 0.0F;
      int n = 0;
      for (int j = y * kShrink; j < std::min(t.rows, (y + 1) * kShrink); ++j) {
        for (int i = x * kShrink; i < std::min(t.columns, (x + 1) * kShrink); ++i, ++n) {
          sum += t.at(i, j);
        }
      }
      small.at(x, y) = sum / static_cast<float>(n);
    }
  }
  gaussian_blur(&small, sigma_px / kShrink);
  return small;
}

float sample_small(const Plane& small, int x, int y) {
  const float fx = std::clamp((x + 0.5F) / 16 - 0.5F, 0.0F, small.columns - 1.0F);
  const float fy = std::clamp((y + 0.5F) / 16 - 0.5F, 0.0F, small.rows - 1.0F);
  const int x0 = static_cast<int>(fx), y0 = static_cast<int>(fy);
  const int x1 = std::min(x0 + 1, small.columns - 1), y1 = std::min(y0 + 1, small.rows - 1);
  const float ax = fx - x0, ay = fy - y0;
  return (small.at(x0, y0) * (1 - ax) + small.at(x1, y0) * ax) * (1 - ay) +
         (small.at(x0, y1) * (1 - ax) + small.at(x1, y1) * ax) * ay;
}

void add_noise(const Scene& scene, Plane* signal, Random* random) {
  const Exposure& e = scene.exposure;
  if (e.photons_per_pixel <= 0) return;
  // Photons for a full signal; quantum variance goes with the signal (Poisson, as a Gaussian).
  const double per_full = e.photons_per_pixel / std::max(e.level, 0.01);
  const double read = scene.detector.read_noise;
  for (float& v : signal->values) {
    const double sd = std::sqrt(std::max(0.0F, v) / per_full + read * read);
    v += static_cast<float>(sd * random->normal());
  }
}

void add_defects(const Scene& scene, Plane* s, Random* random) {
  const Detector& d = scene.detector;
  for (int i = 0; i < d.dead_pixels; ++i) {
    s->at(random->integer(0, s->columns - 1), random->integer(0, s->rows - 1)) =
        random->chance(0.5) ? 0.0F : 1.0F;
  }
  for (int i = 0; i < d.dead_lines; ++i) {
    const int x = random->integer(0, s->columns - 1);
    const float gain = static_cast<float>(random->uniform(0.6, 1.3));
    for (int y = 0; y < s->rows; ++y) s->at(x, y) *= gain;
  }
  for (int i = 0; i < d.scratches; ++i) {
    double x = random->uniform(0, s->columns), y = random->uniform(0, s->rows);
    double a = random->uniform(0, 2 * kPi);
    const int length = random->integer(40, 300);
    for (int k = 0; k < length; ++k) {
      a += 0.02 * random->normal();
      x += std::cos(a);
      y += std::sin(a);
      if (x < 0 || y < 0 || x >= s->columns || y >= s->rows) break;
      s->at(static_cast<int>(x), static_cast<int>(y)) *= 1.25F;
    }
  }
  for (int i = 0; i < d.dust; ++i) {
    const int cx = random->integer(0, s->columns - 1), cy = random->integer(0, s->rows - 1);
    const int r = random->integer(1, 3);
    for (int y = std::max(0, cy - r); y <= std::min(s->rows - 1, cy + r); ++y) {
      for (int x = std::max(0, cx - r); x <= std::min(s->columns - 1, cx + r); ++x) {
        if ((x - cx) * (x - cx) + (y - cy) * (y - cy) <= r * r) s->at(x, y) *= 0.55F;
      }
    }
  }
}
}  // namespace

void gaussian_blur(Plane* image, double sigma_px) {
  if (sigma_px < 0.15) return;
  const int reach = std::max(1, static_cast<int>(std::ceil(3.5 * sigma_px)));
  std::vector<float> kernel(2 * reach + 1);
  double sum = 0.0;
  for (int i = -reach; i <= reach; ++i) {
    // The rays already average over the pixel: plain samples of the Gaussian here.
    const double w = std::exp(-0.5 * i * i / (sigma_px * sigma_px));
    kernel[i + reach] = static_cast<float>(w);
    sum += w;
  }
  for (float& w : kernel) w = static_cast<float>(w / sum);
  const int columns = image->columns, rows = image->rows;
  std::vector<float> line(std::max(columns, rows) + 2 * reach), out(columns);
  for (int y = 0; y < rows; ++y) {
    float* row = &image->at(0, y);
    for (int x = -reach; x < columns + reach; ++x) {
      line[x + reach] = row[std::clamp(x, 0, columns - 1)];
    }
    std::fill(out.begin(), out.end(), 0.0F);
    for (int k = 0; k <= 2 * reach; ++k) {
      const float w = kernel[k];
      for (int x = 0; x < columns; ++x) out[x] += w * line[x + k];
    }
    std::copy(out.begin(), out.end(), row);
  }
  const std::vector<float> source = image->values;
  for (int y = 0; y < rows; ++y) {
    std::fill(out.begin(), out.end(), 0.0F);
    for (int k = -reach; k <= reach; ++k) {
      const float* row =
          &source[static_cast<std::size_t>(std::clamp(y + k, 0, rows - 1)) * columns];
      const float w = kernel[k + reach];
      for (int x = 0; x < columns; ++x) out[x] += w * row[x];
    }
    std::copy(out.begin(), out.end(), &image->at(0, y));
  }
}

void motion_blur(Plane* image, double length_px, double direction_deg) {
  if (length_px < 0.5) return;
  const int n = static_cast<int>(std::ceil(length_px * 2)) | 1;
  const double cx = std::cos(radians(direction_deg)), cy = std::sin(radians(direction_deg));
  const Plane source = *image;
  std::fill(image->values.begin(), image->values.end(), 0.0F);
  for (int k = 0; k < n; ++k) {
    const double s = length_px * (k / double(n - 1) - 0.5), dx = s * cx, dy = s * cy;
    const int ix = static_cast<int>(std::floor(dx)), iy = static_cast<int>(std::floor(dy));
    const float fx = static_cast<float>(dx - ix), fy = static_cast<float>(dy - iy);
    for (int y = 0; y < image->rows; ++y) {
      const int y0 = std::clamp(y + iy, 0, image->rows - 1);
      const int y1 = std::clamp(y + iy + 1, 0, image->rows - 1);
      for (int x = 0; x < image->columns; ++x) {
        const int x0 = std::clamp(x + ix, 0, image->columns - 1);
        const int x1 = std::clamp(x + ix + 1, 0, image->columns - 1);
        image->at(x, y) += ((source.at(x0, y0) * (1 - fx) + source.at(x1, y0) * fx) * (1 - fy) +
                            (source.at(x0, y1) * (1 - fx) + source.at(x1, y1) * fx) * fy) /
                           static_cast<float>(n);
      }
    }
  }
}

Plane detect(const Scene& scene, Plane t, double magnification) {
  const Exposure& e = scene.exposure;
  const Detector& d = scene.detector;
  Random random((d.noise_seed != 0 ? d.noise_seed : d.seed) * 104729 + 5);
  if (e.scatter_fraction > 0) {
    const Plane scatter = scatter_of(t, 4.0 / d.pixel_mm);
    const float s = static_cast<float>(e.scatter_fraction);
    for (int y = 0; y < t.rows; ++y) {
      for (int x = 0; x < t.columns; ++x) {
        t.at(x, y) = (1 - s) * t.at(x, y) + s * sample_small(scatter, x, y);
      }
    }
  }
  // Penumbra of a uniform square focal spot f: width f (M - 1), variance width^2 / 12.
  const double penumbra = e.focal_spot_mm * (magnification - 1.0) / std::sqrt(12.0);
  gaussian_blur(&t, std::hypot(penumbra, d.blur_sigma_mm) / d.pixel_mm);
  motion_blur(&t, e.motion_px, e.motion_direction_deg);
  if (d.plate_wear > 0) {
    const NoiseTile wear(d.seed * 17 + 3, 2.5);
    for (int y = 0; y < t.rows; ++y) {
      for (int x = 0; x < t.columns; ++x) {
        t.at(x, y) *=
            1.0F + static_cast<float>(d.plate_wear) * wear.at(x * d.pixel_mm, y * d.pixel_mm);
      }
    }
  }
  for (float& v : t.values) v *= static_cast<float>(e.level);
  add_noise(scene, &t, &random);
  add_defects(scene, &t, &random);
  for (float& v : t.values) v = std::clamp(v, 1e-4F, 1.0F);
  return t;
}

}  // namespace crestgate::phantom
