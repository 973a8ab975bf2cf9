// Which earlier images of a site a follow-up is compared with. Bone is asked of seating and
// follow-up views; a view taken for another question (placement, constancy, other) is a baseline
// only where there is nothing else. Pure.
#pragma once
#include <cstddef>
#include <functional>
#include <optional>
#include <string>
#include <vector>

#include "config/language.h"
#include "config/rules.h"

namespace crestgate {

struct BaselineChoice {
  std::vector<std::size_t> chosen;  ///< oldest first; empty if there is no earlier image
  std::string why;                  ///< in words, what was left aside included
};

/// True for questions a baseline of the bone is taken from: seating, follow-up.
bool asks_of_bone(Intent intent);

/// `stated`: why each earlier image was taken, oldest first, as a rule makes of its request; empty
/// where none says. `shows_part`: whether an image shows a part mounted on an implant; asked only
/// where it decides.
BaselineChoice choose_baseline(const std::vector<std::optional<Intent>>& stated, Baseline rule,
                               const std::function<bool(std::size_t)>& shows_part,
                               const Language& words);

}  // namespace crestgate
