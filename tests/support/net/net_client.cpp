#include "tests/support/net/net_client.h"

#include <dcmtk/config/osconfig.h>
#include <dcmtk/dcmdata/dctk.h>
#include <dcmtk/dcmnet/scu.h>
#include <poll.h>
#include <stdlib.h>

#include <chrono>
#include <filesystem>

namespace crestgate {
namespace {

bool connect(DcmSCU& scu, int port, const SendOptions& options, const std::string& sop_class) {
  scu.setAETitle(options.calling.c_str());
  scu.setPeerAETitle(options.called.c_str());
  scu.setPeerHostName("127.0.0.1");
  scu.setPeerPort(static_cast<Uint16>(port));
  scu.setConnectionTimeout(10);
  scu.setACSETimeout(20);
  scu.setDIMSEBlockingMode(DIMSE_NONBLOCKING);
  scu.setDIMSETimeout(30);
  OFList<OFString> syntaxes;
  syntaxes.push_back(options.transfer_syntax.c_str());
  scu.addPresentationContext(sop_class.c_str(), syntaxes);
  return scu.initNetwork().good() && scu.negotiateAssociation().good();
}

}  // namespace

int send(int port, DcmDataset& dataset, const SendOptions& options) {
  OFString sop_class;
  dataset.findAndGetOFString(DCM_SOPClassUID, sop_class);
  DcmSCU scu;
  if (!connect(scu, port, options, sop_class.c_str())) return kNoAnswer;
  Uint16 status = 0;
  const auto context = scu.findPresentationContextID(sop_class, options.transfer_syntax.c_str());
  const OFCondition sent =
      scu.sendSTORERequest(context, "", &dataset, status, options.move_originator.c_str(),
                           options.move_originator.empty() ? 0 : 1);
  scu.releaseAssociation();
  return sent.good() ? status : kNoAnswer;
}

namespace {
/// Gives access to the low-level message, where command and data set may disagree.
struct RawScu : DcmSCU {
  int store(const char* sop_class, const std::string& instance, DcmDataset& body,
            const std::string& syntax) {
    const auto context = findPresentationContextID(sop_class, syntax.c_str());
    T_DIMSE_Message message{};
    message.CommandField = DIMSE_C_STORE_RQ;
    T_DIMSE_C_StoreRQ& request = message.msg.CStoreRQ;
    request.MessageID = 7;
    request.DataSetType = DIMSE_DATASET_PRESENT;
    request.Priority = DIMSE_PRIORITY_MEDIUM;
    OFStandard::strlcpy(request.AffectedSOPClassUID, sop_class, sizeof request.AffectedSOPClassUID);
    OFStandard::strlcpy(request.AffectedSOPInstanceUID, instance.c_str(),
                        sizeof request.AffectedSOPInstanceUID);
    if (sendDIMSEMessage(context, &message, &body).bad()) return kNoAnswer;
    T_ASC_PresentationContextID answered = 0;
    T_DIMSE_Message response{};
    if (receiveDIMSECommand(&answered, &response, nullptr).bad()) return kNoAnswer;
    return response.msg.CStoreRSP.DimseStatus;
  }
};
}  // namespace

int send_announced(int port, DcmDataset& dataset, const std::string& sop_instance_uid,
                   DcmDataset& body, const SendOptions& options) {
  OFString sop_class;
  dataset.findAndGetOFString(DCM_SOPClassUID, sop_class);
  RawScu scu;
  if (!connect(scu, port, options, sop_class.c_str())) return kNoAnswer;
  const int status = scu.store(sop_class.c_str(), sop_instance_uid, body, options.transfer_syntax);
  scu.releaseAssociation();
  return status;
}

bool echo(int port, const SendOptions& options) {
  DcmSCU scu;
  if (!connect(scu, port, options, UID_VerificationSOPClass)) return false;
  const bool good = scu.sendECHORequest(0).good();
  scu.releaseAssociation();
  return good;
}

bool accepts_class(int port, const std::string& sop_class, const std::string& transfer_syntax) {
  SendOptions options;
  options.transfer_syntax = transfer_syntax;
  DcmSCU scu;
  if (!connect(scu, port, options, sop_class)) return false;
  scu.releaseAssociation();
  return true;
}

struct OpenAssociation::Scu : DcmSCU {
  /// Blocks until the peer says something unasked: an abort or the end of the connection.
  bool peer_ends(int limit_s) {
    T_DIMSE_Message message;
    T_ASC_PresentationContextID context = 0;
    setDIMSETimeout(static_cast<Uint32>(limit_s));
    return receiveDIMSECommand(&context, &message, nullptr, nullptr,
                               static_cast<Uint32>(limit_s)) != DIMSE_NODATAAVAILABLE;
  }
};

OpenAssociation::OpenAssociation(int port, const SendOptions& options)
    : scu_(std::make_unique<Scu>()) {
  open_ = connect(*scu_, port, options, UID_VerificationSOPClass);
}
OpenAssociation::~OpenAssociation() {
  if (open_) scu_->abortAssociation();
}
bool OpenAssociation::ended_within(int limit_s) { return scu_->peer_ends(limit_s); }

bool eventually(const std::function<bool()>& condition, int limit_s) {
  const auto deadline = std::chrono::steady_clock::now() + std::chrono::seconds(limit_s);
  while (!condition()) {
    if (std::chrono::steady_clock::now() > deadline) return false;
    poll(nullptr, 0, 5);
  }
  return true;
}

TempFolder::TempFolder() {
  std::string name = (std::filesystem::temp_directory_path() / "crestgate-test-XXXXXX").string();
  path_ = mkdtemp(name.data()) != nullptr ? name : "";
}

TempFolder::~TempFolder() {
  std::error_code ignored;
  if (!path_.empty()) std::filesystem::remove_all(path_, ignored);
}

}  // namespace crestgate
