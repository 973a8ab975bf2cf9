#include "tests/support/net/net_counting_scp.h"

#include <arpa/inet.h>
#include <dcmtk/config/osconfig.h>
#include <dcmtk/dcmdata/dctk.h>
#include <dcmtk/dcmnet/scp.h>
#include <netinet/in.h>
#include <sys/socket.h>
#include <unistd.h>

#include <atomic>
#include <chrono>

#include "node/accepted.h"
#include "node/hash.h"

namespace crestgate {

int free_port() {
  const int fd = socket(AF_INET, SOCK_STREAM | SOCK_CLOEXEC, 0);
  sockaddr_in where{};
  where.sin_family = AF_INET;
  where.sin_addr.s_addr = htonl(INADDR_LOOPBACK);
  bind(fd, reinterpret_cast<const sockaddr*>(&where), sizeof where);
  socklen_t size = sizeof where;
  getsockname(fd, reinterpret_cast<sockaddr*>(&where), &size);
  close(fd);
  return ntohs(where.sin_port);
}

class CountingScp::Server : public DcmSCP {
 public:
  explicit Server(CountingScp& owner) : owner_(owner) {
    OFList<OFString> syntaxes;
    syntaxes.push_back(UID_LittleEndianExplicitTransferSyntax);
    syntaxes.push_back(UID_LittleEndianImplicitTransferSyntax);
    addPresentationContext(UID_VerificationSOPClass, syntaxes);
    for (const auto* list : {&image_classes(), &report_classes()}) {
      for (const std::string& uid : *list) {
        if (owner.classes_not_accepted.count(uid) == 0) {
          addPresentationContext(uid.c_str(), syntaxes);
        }
      }
    }
    setAETitle("ARCHIVE");
    setRespondWithCalledAETitle(OFTrue);
    setConnectionBlockingMode(DUL_NOBLOCK);
    setConnectionTimeout(1);
    setDIMSEBlockingMode(DIMSE_NONBLOCKING);
    setDIMSETimeout(10);
    setACSETimeout(10);
    setHostLookupEnabled(OFFalse);
  }
  std::atomic<bool> stop{false};

 protected:
  OFCondition handleIncomingCommand(T_DIMSE_Message* message,
                                    const DcmPresentationContextInfo& context) override {
    if (message->CommandField == DIMSE_C_ECHO_RQ) {
      return handleECHORequest(message->msg.CEchoRQ, context.presentationContextID);
    }
    if (message->CommandField != DIMSE_C_STORE_RQ) return DIMSE_BADCOMMANDTYPE;
    DcmDataset* dataset = nullptr;
    OFCondition got =
        receiveSTORERequest(message->msg.CStoreRQ, context.presentationContextID, dataset);
    if (got.bad()) return got;
    const Uint16 status = owner_.take(*dataset);
    got = sendSTOREResponse(context.presentationContextID, message->msg.CStoreRQ, status);
    if (status == 0 && owner_.on_stored) owner_.on_stored(*dataset);
    delete dataset;
    return got;
  }
  OFBool stopAfterConnectionTimeout() override { return stop ? OFTrue : OFFalse; }
  OFBool stopAfterCurrentAssociation() override { return stop ? OFTrue : OFFalse; }

 private:
  CountingScp& owner_;
};

CountingScp::CountingScp() = default;
CountingScp::~CountingScp() { down(); }

void CountingScp::up() {
  for (int tries = 0; tries < 20; ++tries) {
    server_ = std::make_unique<Server>(*this);
    if (port_ == 0 || tries > 0) port_ = port_ != 0 && tries < 10 ? port_ : free_port();
    server_->setPort(static_cast<Uint16>(port_));
    if (server_->openListenPort().good()) break;
  }
  thread_ = std::thread([this] { server_->acceptAssociations(); });
}

void CountingScp::down() {
  if (!thread_.joinable()) return;
  server_->stop = true;
  thread_.join();
  server_.reset();
}

void CountingScp::answer(
    std::function<std::uint16_t(const std::string&, const std::string&)> rule) {
  const std::lock_guard<std::mutex> lock(mutex_);
  rule_ = std::move(rule);
}

std::uint16_t CountingScp::take(DcmDataset& dataset) {
  OFString sop_class, instance, source;
  dataset.findAndGetOFString(DCM_SOPClassUID, sop_class);
  dataset.findAndGetOFString(DCM_SOPInstanceUID, instance);
  dataset.findAndGetOFString(DCM_ReferencedSOPInstanceUID, source, 0, OFTrue);
  std::ostringstream dump;
  dataset.print(dump);
  const std::lock_guard<std::mutex> lock(mutex_);
  const std::uint16_t status = rule_ ? rule_(sop_class.c_str(), instance.c_str()) : 0;
  if (status != 0) {
    ++refused_;
  } else {
    const std::string hash = short_hash(dump.str());
    const auto [first, added] = first_hash_.emplace(instance.c_str(), hash);
    if (!added && first->second != hash) ++changed_instances_;
    stored_.push_back({sop_class.c_str(), instance.c_str(), source.c_str(), hash});
  }
  changed_.notify_all();
  return status;
}

std::vector<CountingScp::Stored> CountingScp::stored() const {
  const std::lock_guard<std::mutex> lock(mutex_);
  return stored_;
}

std::set<std::string> CountingScp::instances() const {
  std::set<std::string> uids;
  for (const Stored& s : stored()) uids.insert(s.sop_instance_uid);
  return uids;
}

int CountingScp::changed_instances() const {
  const std::lock_guard<std::mutex> lock(mutex_);
  return changed_instances_;
}

int CountingScp::refused() const {
  const std::lock_guard<std::mutex> lock(mutex_);
  return refused_;
}

bool CountingScp::wait_for(const std::function<bool(const CountingScp&)>& condition, int limit_s) {
  const auto deadline = std::chrono::steady_clock::now() + std::chrono::seconds(limit_s);
  for (;;) {
    const std::size_t before = stored().size() + static_cast<std::size_t>(refused());
    if (condition(*this)) return true;
    std::unique_lock<std::mutex> lock(mutex_);
    const bool more = changed_.wait_until(lock, deadline, [&] {
      return stored_.size() + static_cast<std::size_t>(refused_) != before;
    });
    if (!more) return false;
  }
}

}  // namespace crestgate
