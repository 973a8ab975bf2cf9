#include "node/rules_holder.h"

namespace crestgate {

Status RulesHolder::reload() {
  auto next = std::make_shared<RulesInForce>();
  const Loaded<Rules> rules = load_rules_file(path_, &next->given);
  if (!rules.ok()) return Status::error(Code::invalid_input, rules.report);
  next->digest = rules.value.digest;
  next->mode = rules.value.mode == Mode::live ? "live" : "trial";
  next->intents = rules.value.intents;
  next->positioning = rules.value.positioning;
  next->most_compared = rules.value.follow_up.most_compared;
  const std::lock_guard<std::mutex> lock(mutex_);
  current_ = std::move(next);
  return {};
}

std::shared_ptr<const RulesInForce> RulesHolder::current() const {
  const std::lock_guard<std::mutex> lock(mutex_);
  return current_;
}

}  // namespace crestgate
