#include "tests/support/net/net_fault_fs.h"

namespace crestgate {
namespace {

std::string parent(const std::string& path) { return path.substr(0, path.rfind('/')); }
bool is_below(const std::string& path, const std::string& folder) {
  return path.compare(0, folder.size() + 1, folder + "/") == 0;
}
Status dead() { return Status::error(Code::internal, "the process has stopped"); }
Status missing(const std::string& path) {
  return Status::error(Code::not_found, path + ": not there");
}

}  // namespace

class FaultFile : public WritableFile {
 public:
  FaultFile(FaultFs& fs, std::shared_ptr<FaultFs::Content> content)
      : fs_(fs), content_(std::move(content)) {}
  Status append(const void* data, std::size_t size) override {
    const auto* bytes = static_cast<const std::uint8_t*>(data);
    auto add = [&](std::size_t count) {
      content_->bytes.insert(content_->bytes.end(), bytes, bytes + count);
    };
    try {
      if (!fs_.alive()) return dead();
    } catch (const Stopped&) {
      add(size / 2);  // a write may be cut in the middle
      throw;
    }
    add(size);
    return {};
  }
  Status sync() override {
    if (!fs_.alive()) return dead();
    content_->synced = content_->bytes.size();
    return {};
  }

 private:
  FaultFs& fs_;
  std::shared_ptr<FaultFs::Content> content_;
};

bool FaultFs::alive() {
  if (stopped_) return false;
  if (left_ == 0) {
    stopped_ = true;
    throw Stopped{};
  }
  if (left_ > 0) --left_;
  return true;
}

void FaultFs::apply(const Change& c, Tree& tree) {
  switch (c.kind) {
    case Change::Kind::add:
      tree[c.path] = c.node;
      return;
    case Change::Kind::remove:
      tree.erase(c.path);
      return;
    case Change::Kind::rename: {
      Tree moved;
      for (auto it = tree.begin(); it != tree.end();) {
        if (it->first == c.path || is_below(it->first, c.path)) {
          moved[c.to + it->first.substr(c.path.size())] = it->second;
          it = tree.erase(it);
        } else {
          ++it;
        }
      }
      for (auto& [path, node] : moved) tree[path] = node;
    }
  }
}

void FaultFs::change(Change c) {
  apply(c, now_);
  pending_.push_back(std::move(c));
}

void FaultFs::restart(Survives survives) {
  const std::size_t kept = survives == Survives::nothing ? 0
                           : survives == Survives::half  ? pending_.size() / 2
                                                         : pending_.size();
  for (std::size_t i = 0; i < kept; ++i) apply(pending_[i], durable_);
  pending_.clear();
  for (auto& [path, node] : durable_) {
    if (!node.content) continue;
    Content& content = *node.content;
    const std::size_t lost = content.bytes.size() - content.synced;
    const std::size_t drop = survives == Survives::nothing ? lost
                             : survives == Survives::half  ? lost / 2
                                                           : 0;
    content.bytes.resize(content.bytes.size() - drop);
    content.synced = content.bytes.size();
  }
  now_ = durable_;
  stopped_ = false;
  left_ = -1;
}

std::vector<std::string> FaultFs::files() const {
  std::vector<std::string> paths;
  for (const auto& [path, node] : now_) {
    if (node.content) paths.push_back(path);
  }
  return paths;
}

Status FaultFs::make_dirs(const std::string& path) {
  if (!alive()) return dead();
  for (std::size_t at = path.find('/', 1);; at = path.find('/', at + 1)) {
    const std::string folder = path.substr(0, at);
    if (now_.count(folder) == 0) change({Change::Kind::add, folder, "", {}});
    if (at == std::string::npos) return {};
  }
}

Result<std::unique_ptr<WritableFile>> FaultFs::create(const std::string& path) {
  if (!alive()) return dead();
  if (now_.count(path) != 0) return Status::error(Code::internal, path + ": exists");
  if (now_.count(parent(path)) == 0) return missing(parent(path));
  Node node{std::make_shared<Content>()};
  change({Change::Kind::add, path, "", node});
  return std::unique_ptr<WritableFile>(new FaultFile(*this, node.content));
}

Result<Bytes> FaultFs::read(const std::string& path) const {
  const auto it = now_.find(path);
  if (stopped_) return dead();
  if (it == now_.end() || !it->second.content) return missing(path);
  return it->second.content->bytes;
}

Result<std::vector<std::string>> FaultFs::list(const std::string& folder) const {
  if (stopped_) return dead();
  if (now_.count(folder) == 0) return missing(folder);
  std::vector<std::string> names;
  for (const auto& [path, node] : now_) {
    if (is_below(path, folder) && parent(path) == folder) {
      names.push_back(path.substr(folder.size() + 1));
    }
  }
  return names;
}

bool FaultFs::exists(const std::string& path) const { return !stopped_ && now_.count(path) != 0; }

Status FaultFs::rename(const std::string& from, const std::string& to) {
  if (!alive()) return dead();
  const auto it = now_.find(from);
  if (it == now_.end()) return missing(from);
  if (!it->second.content && now_.count(to) != 0) {
    return Status::error(Code::internal, to + ": folder exists");
  }
  change({Change::Kind::rename, from, to, {}});
  return {};
}

Status FaultFs::remove(const std::string& path) {
  if (!alive()) return dead();
  if (now_.count(path) == 0) return {};
  const auto inside = list(path);
  if (inside.ok() && !inside.value().empty()) {
    return Status::error(Code::internal, path + ": folder not empty");
  }
  change({Change::Kind::remove, path, "", {}});
  return {};
}

Status FaultFs::sync_dir(const std::string& folder) {
  if (!alive()) return dead();
  std::size_t upto = 0;
  for (std::size_t i = 0; i < pending_.size(); ++i) {
    if (parent(pending_[i].path) == folder || parent(pending_[i].to) == folder) upto = i + 1;
  }
  for (std::size_t i = 0; i < upto; ++i) apply(pending_[i], durable_);
  pending_.erase(pending_.begin(), pending_.begin() + static_cast<std::ptrdiff_t>(upto));
  return {};
}

Result<std::uint64_t> FaultFs::free_bytes(const std::string&) const { return free_space; }

}  // namespace crestgate
