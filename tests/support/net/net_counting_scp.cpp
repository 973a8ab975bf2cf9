#include "tests/support/net/net_counting_scp.h"

#include <arpa/inet.h>
#include <dcmtk/config/osconfig.h>
#include <dcmtk/dcmdata/dctk.h>
#include <dcmtk/dcmnet/scp.h>
#include <dcmtk/dcmnet/scu.h>
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
    if (owner.commitment != CommitmentMode::not_offered) {
      addPresentationContext(UID_StorageCommitmentPushModelSOPClass, syntaxes);
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
    if (message->CommandField == DIMSE_N_ACTION_RQ) {
      return commit(message->msg.NActionRQ, context.presentationContextID);
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
  OFCondition commit(T_DIMSE_N_ActionRQ& request, T_ASC_PresentationContextID context) {
    DcmDataset* data = nullptr;
    Uint16 action = 0;
    OFCondition got = receiveACTIONRequest(request, context, data, action);
    const std::unique_ptr<DcmDataset> owned(data);
    if (got.bad()) return got;
    DcmDataset report;
    Uint16 event = 0;
    owner_.fill_report(*data, report, event);
    got = sendACTIONResponse(context, request.MessageID, request.RequestedSOPClassUID,
                             request.RequestedSOPInstanceUID, 0);
    if (got.bad()) return got;
    if (owner_.commitment == CommitmentMode::same_association) {
      Uint16 status = 0;
      const OFCondition sent = sendEVENTREPORTRequest(
          context, UID_StorageCommitmentPushModelSOPInstance, 1, event, &report, status);
      owner_.note_report(sent.good() ? status : 0x10000);
    } else if (owner_.commitment == CommitmentMode::separate_association) {
      owner_.note_report(report_apart(owner_.report_port, event, report));
    } else {
      owner_.note_report(-1);
    }
    return got;
  }
  /// As SCP of the class on an association of its own (PS3.4 J.3.3): role selection.
  static int report_apart(int port, Uint16 event, DcmDataset& report) {
    DcmSCU scu;
    scu.setAETitle("ARCHIVE");
    scu.setPeerAETitle("CRESTGATE");
    scu.setPeerHostName("127.0.0.1");
    scu.setPeerPort(static_cast<Uint16>(port));
    scu.setDIMSEBlockingMode(DIMSE_NONBLOCKING);
    scu.setDIMSETimeout(10);
    OFList<OFString> syntaxes;
    syntaxes.push_back(UID_LittleEndianImplicitTransferSyntax);
    scu.addPresentationContext(UID_StorageCommitmentPushModelSOPClass, syntaxes, ASC_SC_ROLE_SCP);
    if (scu.initNetwork().bad() || scu.negotiateAssociation().bad()) return 0x10000;
    Uint16 status = 0;
    const OFCondition sent = scu.sendEVENTREPORTRequest(
        scu.findAnyPresentationContextID(UID_StorageCommitmentPushModelSOPClass, ""),
        UID_StorageCommitmentPushModelSOPInstance, event, &report, status);
    scu.releaseAssociation();
    return sent.good() ? status : 0x10000;
  }
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

void CountingScp::commit_rule(std::function<std::uint16_t(const std::string&)> rule) {
  const std::lock_guard<std::mutex> lock(mutex_);
  commit_rule_ = std::move(rule);
}

void CountingScp::fill_report(DcmDataset& request, DcmDataset& report, std::uint16_t& event) {
  const std::set<std::string> held = instances();
  const std::lock_guard<std::mutex> lock(mutex_);
  OFString transaction;
  request.findAndGetOFString(DCM_TransactionUID, transaction);
  report.putAndInsertString(DCM_TransactionUID, transaction.c_str());
  event = 1;
  DcmItem* asked = nullptr;
  for (long i = 0; request.findAndGetSequenceItem(DCM_ReferencedSOPSequence, asked, i).good();
       ++i) {
    OFString sop_class, instance;
    asked->findAndGetOFString(DCM_ReferencedSOPClassUID, sop_class);
    asked->findAndGetOFString(DCM_ReferencedSOPInstanceUID, instance);
    std::uint16_t reason = held.count(instance.c_str()) == 0 ? 0x0112 : 0;
    if (reason == 0 && commit_rule_) reason = commit_rule_(instance.c_str());
    if (reason != 0) event = 2;
    DcmItem* told = nullptr;
    report.findOrCreateSequenceItem(reason == 0 ? DCM_ReferencedSOPSequence : DCM_FailedSOPSequence,
                                    told, -2);
    told->putAndInsertString(DCM_ReferencedSOPClassUID, sop_class.c_str());
    told->putAndInsertString(DCM_ReferencedSOPInstanceUID, instance.c_str());
    if (reason != 0) told->putAndInsertUint16(DCM_FailureReason, reason);
  }
}

void CountingScp::note_report(int answer) {
  const std::lock_guard<std::mutex> lock(mutex_);
  ++commitment_requests_;
  last_report_answer_ = answer;
  changed_.notify_all();
}

int CountingScp::commitment_requests() const {
  const std::lock_guard<std::mutex> lock(mutex_);
  return commitment_requests_;
}

int CountingScp::last_report_answer() const {
  const std::lock_guard<std::mutex> lock(mutex_);
  return last_report_answer_;
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
    const std::size_t before = stored().size() + static_cast<std::size_t>(refused()) +
                               static_cast<std::size_t>(commitment_requests());
    if (condition(*this)) return true;
    std::unique_lock<std::mutex> lock(mutex_);
    const bool more = changed_.wait_until(lock, deadline, [&] {
      return stored_.size() + static_cast<std::size_t>(refused_) +
                 static_cast<std::size_t>(commitment_requests_) !=
             before;
    });
    if (!more) return false;
  }
}

}  // namespace crestgate
