#include "node/commitment_net.h"

#include <dcmtk/config/osconfig.h>
#include <dcmtk/dcmdata/dcistrmb.h>
#include <dcmtk/dcmdata/dcostrmb.h>
#include <dcmtk/dcmdata/dctk.h>
#include <dcmtk/dcmnet/scu.h>
#include <dcmtk/ofstd/ofuuid.h>
#include <spdlog/spdlog.h>

#include <memory>

#include "node/log.h"
#include "node/store_scu.h"

namespace crestgate {
namespace {

constexpr int kSameAssociation_s = 3;  ///< wait for a report on the association it was asked on
constexpr Uint16 kActionRequestCommitment = 1;
/// A report on 100 objects takes some 20 kB; a peer that sends more is not listened to.
constexpr std::size_t kMostReportBytes = 1024 * 1024;
constexpr Uint16 kInvalidArgument = 0x0115, kNoSuchEvent = 0x0113;

std::string text_of(DcmItem& item, const DcmTagKey& tag) {
  OFString text;
  item.findAndGetOFString(tag, text);
  return text.c_str();
}

Status unavailable(const std::string& text) {
  return Status::error(Code::unavailable, "storage commitment: " + text);
}

void fill_request(DcmDataset& request, const std::string& transaction_uid,
                  const std::vector<Instance>& instances) {
  request.putAndInsertString(DCM_TransactionUID, transaction_uid.c_str());
  for (const Instance& instance : instances) {
    DcmItem* item = nullptr;
    if (request.findOrCreateSequenceItem(DCM_ReferencedSOPSequence, item, -2).bad()) return;
    item->putAndInsertString(DCM_ReferencedSOPClassUID, instance.sop_class_uid.c_str());
    item->putAndInsertString(DCM_ReferencedSOPInstanceUID, instance.sop_instance_uid.c_str());
  }
}

std::optional<CommitmentReport> report_on_same_association(DcmSCU& scu) {
  DcmDataset* information = nullptr;
  Uint16 event = 0;
  const OFCondition got = scu.handleEVENTREPORTRequest(information, event, kSameAssociation_s);
  const std::unique_ptr<DcmDataset> owner(information);
  if (got.bad() || information == nullptr) return {};
  return parse_commitment_report(*information);
}

}  // namespace

std::string random_uid() {
  OFString uid;
  OFUUID().toString(uid, OFUUID::ER_RepresentationOID);
  return uid.c_str();
}

Result<Instance> instance_of(const Bytes& object) {
  DcmInputBufferStream stream;
  stream.setBuffer(object.data(), static_cast<offile_off_t>(object.size()));
  stream.setEos();
  DcmFileFormat file;
  file.transferInit();
  // Large values stay unread: only the identity is wanted.
  const OFCondition got = file.readUntilTag(stream, EXS_Unknown, EGL_noChange, 4096, DCM_StudyDate);
  file.transferEnd();
  Instance instance{text_of(*file.getDataset(), DCM_SOPClassUID),
                    text_of(*file.getDataset(), DCM_SOPInstanceUID)};
  if (instance.sop_instance_uid.empty() || instance.sop_class_uid.empty()) {
    return Status::error(Code::invalid_input,
                         std::string("outbox file is not a DICOM object: ") + got.text());
  }
  return instance;
}

CommitmentReport parse_commitment_report(DcmItem& information) {
  CommitmentReport report;
  report.transaction_uid = text_of(information, DCM_TransactionUID);
  DcmItem* item = nullptr;
  for (long i = 0; information.findAndGetSequenceItem(DCM_ReferencedSOPSequence, item, i).good();
       ++i) {
    report.committed.push_back(text_of(*item, DCM_ReferencedSOPInstanceUID));
  }
  for (long i = 0; information.findAndGetSequenceItem(DCM_FailedSOPSequence, item, i).good(); ++i) {
    Uint16 reason = 0;
    item->findAndGetUint16(DCM_FailureReason, reason);
    report.failed[text_of(*item, DCM_ReferencedSOPInstanceUID)] = reason;
  }
  return report;
}

Result<std::optional<CommitmentReport>> request_commitment(const Peer& archive,
                                                           const std::string& own_ae_title,
                                                           const std::string& transaction_uid,
                                                           const std::vector<Instance>& instances) {
  DcmSCU scu;
  configure_scu(scu, archive, own_ae_title);
  OFList<OFString> syntaxes;
  syntaxes.push_back(UID_LittleEndianExplicitTransferSyntax);
  syntaxes.push_back(UID_LittleEndianImplicitTransferSyntax);
  scu.addPresentationContext(UID_StorageCommitmentPushModelSOPClass, syntaxes);
  if (Status s = connect_scu(scu, archive); !s.ok()) return s;
  const auto context = scu.findAnyPresentationContextID(UID_StorageCommitmentPushModelSOPClass, "");
  if (context == 0) {
    scu.releaseAssociation();
    return unavailable("archive does not offer it (delivery.commitment)");
  }
  DcmDataset request;
  fill_request(request, transaction_uid, instances);
  Uint16 status = 0;
  const OFCondition sent = scu.sendACTIONRequest(context, UID_StorageCommitmentPushModelSOPInstance,
                                                 kActionRequestCommitment, &request, status);
  if (sent.bad()) {
    scu.abortAssociation();
    return unavailable(sent.text());
  }
  if (status != 0) {
    scu.releaseAssociation();
    return unavailable("archive answered the request with status " + std::to_string(status));
  }
  auto report = report_on_same_association(scu);
  scu.releaseAssociation();
  return report;
}

bool serve_commitment_report(T_ASC_Association* association, T_DIMSE_N_EventReportRQ& request,
                             unsigned char presentation_context, int timeout_s,
                             const CommitmentSink& sink) {
  T_ASC_PresentationContext context;
  ASC_findAcceptedPresentationContext(association->params, presentation_context, &context);
  Bytes buffer(kMostReportBytes);
  DcmOutputBufferStream stream(buffer.data(), static_cast<offile_off_t>(buffer.size()));
  T_ASC_PresentationContextID data_context = 0;
  if (request.DataSetType == DIMSE_DATASET_NULL ||
      DIMSE_receiveDataSetInFile(association, DIMSE_NONBLOCKING, timeout_s, &data_context, &stream,
                                 nullptr, nullptr)
          .bad()) {
    return false;
  }
  void* bytes = nullptr;
  offile_off_t size = 0;
  stream.flushBuffer(bytes, size);
  DcmInputBufferStream input;
  input.setBuffer(bytes, size);
  input.setEos();
  DcmDataset information;
  information.transferInit();
  const OFCondition read =
      information.read(input, DcmXfer(context.acceptedTransferSyntax).getXfer());
  information.transferEnd();

  Uint16 status = 0;
  if (read.bad()) {
    status = kInvalidArgument;
  } else if (request.EventTypeID != 1 && request.EventTypeID != 2) {
    status = kNoSuchEvent;
  } else {
    const CommitmentReport report = parse_commitment_report(information);
    const bool ours = sink(report);
    // A transaction from before a restart is not ours any more; the objects are asked for again.
    spdlog::info("commitment-report transaction={} committed={} failed={} ours={}",
                 log_value(report.transaction_uid), report.committed.size(), report.failed.size(),
                 ours);
  }
  T_DIMSE_Message message{};
  message.CommandField = DIMSE_N_EVENT_REPORT_RSP;
  T_DIMSE_N_EventReportRSP& response = message.msg.NEventReportRSP;
  response.MessageIDBeingRespondedTo = request.MessageID;
  response.DimseStatus = status;
  response.DataSetType = DIMSE_DATASET_NULL;
  response.EventTypeID = request.EventTypeID;
  OFStandard::strlcpy(response.AffectedSOPClassUID, request.AffectedSOPClassUID,
                      sizeof response.AffectedSOPClassUID);
  OFStandard::strlcpy(response.AffectedSOPInstanceUID, request.AffectedSOPInstanceUID,
                      sizeof response.AffectedSOPInstanceUID);
  response.opts = O_NEVENTREPORT_AFFECTEDSOPCLASSUID | O_NEVENTREPORT_AFFECTEDSOPINSTANCEUID |
                  O_NEVENTREPORT_EVENTTYPEID;
  return DIMSE_sendMessageUsingMemoryData(association, presentation_context, &message, nullptr,
                                          nullptr, nullptr, nullptr)
      .good();
}

}  // namespace crestgate
