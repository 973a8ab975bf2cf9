#include "node/rules_holder.h"

#include "config/load.h"
#include "node/fs.h"

namespace crestgate {

Status RulesHolder::reload() {
  const auto bytes = PosixFs().read(path_);
  if (!bytes.ok()) return Status::error(Code::invalid_input, bytes.status().text);
  auto next = std::make_shared<RulesText>();
  next->text.assign(bytes.value().begin(), bytes.value().end());
  next->name = path_;
  const Loaded<Rules> rules = load_rules(next->text, path_);
  if (!rules.ok()) return Status::error(Code::invalid_input, rules.report);
  next->digest = rules.value.digest;
  next->mode = rules.value.mode == Mode::live ? "live" : "trial";
  const std::lock_guard<std::mutex> lock(mutex_);
  current_ = std::move(next);
  return {};
}

std::shared_ptr<const RulesText> RulesHolder::current() const {
  const std::lock_guard<std::mutex> lock(mutex_);
  return current_;
}

}  // namespace crestgate
