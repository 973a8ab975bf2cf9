#include "pipeline/followup/baseline.h"

namespace crestgate {
namespace {

class Chooser {
 public:
  Chooser(const std::vector<std::optional<Intent>>& stated,
          const std::function<bool(std::size_t)>& shows_part, const Language& words)
      : stated_(stated), shows_part_(shows_part), words_(words) {
    for (std::size_t i = 0; i < stated.size(); ++i)
      (!stated[i] || asks_of_bone(*stated[i]) ? fit_ : others_).push_back(i);
  }

  BaselineChoice all() const {
    return {fit_.empty() ? others_ : fit_, complete(words_.get("baseline.all"))};
  }

  BaselineChoice first_after_loading() const {
    for (const std::size_t i : fit_)
      if (shows_part_(i)) return one(i, words_.get("baseline.first_loaded"));
    for (const std::size_t i : fit_)
      if (stated_[i]) return one(i, words_.get("baseline.first_asked"));
    if (!fit_.empty()) return one(fit_.front(), words_.get("baseline.first"));
    for (const std::size_t i : others_)
      if (shows_part_(i)) return one(i, words_.get("baseline.first_loaded"));
    return one(others_.front(), words_.get("baseline.first"));
  }

  BaselineChoice last() const {
    for (auto i = fit_.rbegin(); i != fit_.rend(); ++i) {
      if (stated_[*i]) return one(*i, words_.get("baseline.last_asked"));
      if (shows_part_(*i)) return one(*i, words_.get("baseline.last_loaded"));
    }
    return one(fit_.empty() ? others_.back() : fit_.back(), words_.get("baseline.last"));
  }

 private:
  BaselineChoice one(std::size_t i, const std::string& why) const {
    const std::string intent =
        words_.get(stated_[i] ? std::string("intent.") + intent_name(*stated_[i])
                              : std::string("baseline.not_stated"));
    return {{i}, complete(words_.get("baseline.taken_as", {{"why", why}, {"intent", intent}}))};
  }

  std::string complete(const std::string& why) const {
    if (others_.empty()) return why;
    if (fit_.empty()) return words_.get("baseline.nothing_else", {{"why", why}});
    return words_.get("baseline.left_aside", {{"why", why}, {"n", std::to_string(others_.size())}});
  }

  const std::vector<std::optional<Intent>>& stated_;
  const std::function<bool(std::size_t)>& shows_part_;
  const Language& words_;
  std::vector<std::size_t> fit_, others_;  ///< oldest first
};

}  // namespace

bool asks_of_bone(Intent intent) {
  return intent == Intent::seating || intent == Intent::follow_up;
}

BaselineChoice choose_baseline(const std::vector<std::optional<Intent>>& stated, Baseline rule,
                               const std::function<bool(std::size_t)>& shows_part,
                               const Language& words) {
  if (stated.empty()) return {};
  const Chooser chooser(stated, shows_part, words);
  switch (rule) {
    case Baseline::first_after_loading:
      return chooser.first_after_loading();
    case Baseline::last:
      return chooser.last();
    case Baseline::all:
      break;
  }
  return chooser.all();
}

}  // namespace crestgate
