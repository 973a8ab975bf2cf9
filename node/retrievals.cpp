#include "node/retrievals.h"

namespace crestgate {

int Retrievals::expect(const std::set<std::string>& sop_instance_uids) {
  const std::lock_guard<std::mutex> lock(mutex_);
  requests_[++last_].wanted = sop_instance_uids;
  return last_;
}

std::vector<Bytes> Retrievals::finish(int request) {
  const std::lock_guard<std::mutex> lock(mutex_);
  std::vector<Bytes> got = std::move(requests_[request].got);
  requests_.erase(request);
  return got;
}

bool Retrievals::wanted(const std::string& sop_instance_uid) const {
  const std::lock_guard<std::mutex> lock(mutex_);
  for (const auto& [number, request] : requests_)
    if (request.wanted.count(sop_instance_uid) > 0) return true;
  return false;
}

void Retrievals::deliver(const std::string& sop_instance_uid, const Bytes& file) {
  const std::lock_guard<std::mutex> lock(mutex_);
  for (auto& [number, request] : requests_)
    if (request.wanted.erase(sop_instance_uid) > 0) request.got.push_back(file);
}

}  // namespace crestgate
