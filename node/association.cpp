#include "node/association.h"

#include <dcmtk/config/osconfig.h>
#include <dcmtk/dcmnet/assoc.h>
#include <dcmtk/dcmnet/dimse.h>
#include <spdlog/spdlog.h>

#include <algorithm>
#include <cstring>

#include "node/accepted.h"
#include "node/clock.h"
#include "node/log.h"
#include "node/receive.h"

namespace crestgate {
namespace {

void reject(T_ASC_Association* association, T_ASC_RejectParametersResult result,
            T_ASC_RejectParametersSource source, T_ASC_RejectParametersReason reason,
            const char* text) {
  spdlog::warn("association rejected caller={} reason={}",
               log_value(association->params->DULparams.callingAPTitle), log_value(text));
  const T_ASC_RejectParameters parameters = {result, source, reason};
  ASC_rejectAssociation(association, &parameters);
}

/// Accepts every context whose class we know, with the first proposed transfer syntax we decode:
/// the sender's first choice, so that it need not re-encode.
/// Storage commitment, where wanted, in whatever role the archive asks for: it reports as SCP.
void accept_contexts(T_ASC_Parameters* parameters, bool with_commitment) {
  const auto& syntaxes = transfer_syntaxes();
  for (int i = 0; i < ASC_countPresentationContexts(parameters); ++i) {
    T_ASC_PresentationContext context;
    if (ASC_getPresentationContext(parameters, i, &context).bad()) continue;
    const std::string abstract = context.abstractSyntax;
    const bool commitment = with_commitment && abstract == UID_StorageCommitmentPushModelSOPClass;
    if (abstract != UID_VerificationSOPClass && !is_image_class(abstract) &&
        !is_report_class(abstract) && !commitment) {
      ASC_refusePresentationContext(parameters, context.presentationContextID,
                                    ASC_P_ABSTRACTSYNTAXNOTSUPPORTED);
      continue;
    }
    bool accepted = false;
    for (int k = 0; k < context.transferSyntaxCount && !accepted; ++k) {
      const char* proposed = context.proposedTransferSyntaxes[k];
      if (std::find(syntaxes.begin(), syntaxes.end(), proposed) == syntaxes.end()) continue;
      accepted =
          ASC_acceptPresentationContext(parameters, context.presentationContextID, proposed,
                                        commitment ? context.proposedRole : ASC_SC_ROLE_DEFAULT)
              .good();
    }
    if (!accepted) {
      ASC_refusePresentationContext(parameters, context.presentationContextID,
                                    ASC_P_TRANSFERSYNTAXESNOTSUPPORTED);
    }
  }
}

bool negotiate(T_ASC_Association* association, const Settings& settings, bool with_commitment,
               bool busy) {
  const auto& listen = settings.listen;
  T_ASC_Parameters* parameters = association->params;
  const std::string caller = parameters->DULparams.callingAPTitle;
  const std::string called = parameters->DULparams.calledAPTitle;
  if (busy) {
    reject(association, ASC_RESULT_REJECTEDTRANSIENT,
           ASC_SOURCE_SERVICEPROVIDER_PRESENTATION_RELATED, ASC_REASON_SP_PRES_LOCALLIMITEXCEEDED,
           "listen.max_associations reached");
    return false;
  }
  char application[DUL_LEN_NAME + 1] = "";
  ASC_getApplicationContextName(parameters, application, sizeof application);
  if (std::strcmp(application, DICOM_STDAPPLICATIONCONTEXT) != 0) {
    reject(association, ASC_RESULT_REJECTEDPERMANENT, ASC_SOURCE_SERVICEUSER,
           ASC_REASON_SU_APPCONTEXTNAMENOTSUPPORTED, "application context");
    return false;
  }
  if (called != listen.ae_title) {
    reject(association, ASC_RESULT_REJECTEDPERMANENT, ASC_SOURCE_SERVICEUSER,
           ASC_REASON_SU_CALLEDAETITLENOTRECOGNIZED, ("called as " + called).c_str());
    return false;
  }
  const auto& allowed = listen.allowed_callers;
  if (!allowed.empty() && std::find(allowed.begin(), allowed.end(), caller) == allowed.end()) {
    reject(association, ASC_RESULT_REJECTEDPERMANENT, ASC_SOURCE_SERVICEUSER,
           ASC_REASON_SU_CALLINGAETITLENOTRECOGNIZED, "not in listen.allowed_callers");
    return false;
  }
  accept_contexts(parameters, with_commitment);
  return ASC_acknowledgeAssociation(association).good();
}

/// False: the association cannot go on.
bool handle_store(T_ASC_Association* association, const T_DIMSE_C_StoreRQ& request,
                  T_ASC_PresentationContextID context, const Settings& settings, Spool& spool,
                  Retrievals* retrievals) {
  const ReceiveLimits limits{static_cast<std::uint64_t>(settings.listen.max_object_mb) << 20,
                             settings.listen.idle_timeout_s};
  const Received received = receive_object(association, request, context, spool,
                                           settings.listen.ae_title, retrievals, limits);
  const std::string line =
      fmt::format("received state={} sop={} class={} caller={}{}{}", log_value(received.state),
                  log_value(request.AffectedSOPInstanceUID), log_value(request.AffectedSOPClassUID),
                  log_value(association->params->DULparams.callingAPTitle),
                  received.status.ok() ? "" : " reason=" + log_value(received.status.text),
                  received.status.tag ? " tag=" + *received.status.tag : "");
  if (received.status.ok()) {
    spdlog::info(line);
  } else {
    spdlog::warn(line);
  }
  if (!received.connection_good) return false;
  T_DIMSE_C_StoreRSP response{};
  response.MessageIDBeingRespondedTo = request.MessageID;
  response.DimseStatus = received.answer;
  response.DataSetType = DIMSE_DATASET_NULL;
  OFStandard::strlcpy(response.AffectedSOPClassUID, request.AffectedSOPClassUID,
                      sizeof response.AffectedSOPClassUID);
  OFStandard::strlcpy(response.AffectedSOPInstanceUID, request.AffectedSOPInstanceUID,
                      sizeof response.AffectedSOPInstanceUID);
  response.opts = O_STORE_AFFECTEDSOPCLASSUID | O_STORE_AFFECTEDSOPINSTANCEUID;
  return DIMSE_sendStoreResponse(association, context, &request, &response, nullptr).good();
}

/// False when the association is over.
bool handle_command(T_ASC_Association* association, const Settings& settings, Spool& spool,
                    const CommitmentSink& commitments, Retrievals* retrievals) {
  T_ASC_PresentationContextID context = 0;
  T_DIMSE_Message message;
  const OFCondition got = DIMSE_receiveCommand(
      association, DIMSE_NONBLOCKING, settings.listen.idle_timeout_s, &context, &message, nullptr);
  if (got == DUL_PEERREQUESTEDRELEASE) {
    ASC_acknowledgeRelease(association);
    return false;
  }
  if (got == DUL_PEERABORTEDASSOCIATION) return false;
  bool good = got.good();
  if (good && message.CommandField == DIMSE_C_ECHO_RQ) {
    good = DIMSE_sendEchoResponse(association, context, &message.msg.CEchoRQ, STATUS_ECHO_Success,
                                  nullptr)
               .good();
  } else if (good && message.CommandField == DIMSE_C_STORE_RQ) {
    good = handle_store(association, message.msg.CStoreRQ, context, settings, spool, retrievals);
  } else if (good && commitments && message.CommandField == DIMSE_N_EVENT_REPORT_RQ) {
    good = serve_commitment_report(association, message.msg.NEventReportRQ, context,
                                   settings.listen.idle_timeout_s, commitments);
  } else {
    good = false;
  }
  if (!good) ASC_abortAssociation(association);
  return good;
}

}  // namespace

void serve_association(T_ASC_Association* association, const Settings& settings, Spool& spool,
                       const CommitmentSink& commitments, Retrievals* retrievals,
                       const std::atomic<bool>& stopping, bool busy) {
  if (negotiate(association, settings, commitments != nullptr, busy)) {
    const SystemClock clock;
    std::int64_t idle_since_s = clock.now_s();
    for (;;) {
      if (ASC_dataWaiting(association, 1)) {
        if (!handle_command(association, settings, spool, commitments, retrievals)) break;
        idle_since_s = clock.now_s();
        continue;
      }
      if (stopping || clock.now_s() - idle_since_s >= settings.listen.idle_timeout_s) {
        ASC_abortAssociation(association);
        break;
      }
    }
  }
  ASC_dropAssociation(association);
  ASC_destroyAssociation(&association);
}

}  // namespace crestgate
