// The rules in force: text as loaded (the worker children get exactly that text) and digest.
// Thread-safe; a reload that fails leaves the old rules in force.
#pragma once
#include <memory>
#include <mutex>
#include <optional>
#include <string>
#include <vector>

#include "config/load.h"
#include "config/status.h"

namespace crestgate {

struct RulesInForce {
  RulesText given;
  std::string digest, mode;
  std::vector<IntentRule> intents;
  std::optional<Positioning> positioning;
  int most_compared = 0;  ///< follow_up.most_compared
};

class RulesHolder {
 public:
  explicit RulesHolder(std::string path) : path_(std::move(path)) {}
  /// Reads the file and the language file it names again. Not ok: the report of everything wrong
  /// with it.
  Status reload();
  std::shared_ptr<const RulesInForce> current() const;

 private:
  std::string path_;
  mutable std::mutex mutex_;
  std::shared_ptr<const RulesInForce> current_;
};

}  // namespace crestgate
