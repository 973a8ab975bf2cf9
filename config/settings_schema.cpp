#include "config/schema_row.h"

namespace crestgate {
namespace {

using Form = Group<Settings>::Form;

std::vector<Group<Settings>> groups() {
  std::vector<Group<Settings>> g;
  for (const auto& [name, meaning] : std::vector<std::pair<std::string, std::string>>{
           {"listen", "Where images are received."},
           {"archive", "Where report, note and picture are sent."},
           {"state", "What is in flight, on this machine's disk."},
           {"workers", "Child processes that decode and analyse, one image each."},
           {"delivery", "Sending to the archive; an object is kept until the archive has it."},
           {"log", "Messages on standard error."}}) {
    g.push_back({name, Form::single, meaning, "", {}, {}});
  }
  return g;
}

std::vector<Key<Settings>> network_keys() {
  return {
      row<Settings>("rules_file", plain(Kind::text), CRESTGATE_FIELD(rules_file),
                    "The rule file; a relative path starts at this file's folder.", "",
                    Presence::required),
      row<Settings>("listen.ae_title", plain(Kind::ae_title), CRESTGATE_FIELD(listen.ae_title),
                    "Name that senders call.", "1 to 16 characters (DICOM PS3.5, AE)."),
      row<Settings>("listen.address", plain(Kind::text), CRESTGATE_FIELD(listen.address),
                    "Address to listen on; 0.0.0.0 is every interface.",
                    "Senders are other machines."),
      row<Settings>("listen.port", integer("", 1, 65535), CRESTGATE_FIELD(listen.port), "TCP port.",
                    "Not one of the ports archives use by default."),
      row<Settings>("listen.allowed_callers", plain(Kind::ae_titles),
                    CRESTGATE_FIELD(listen.allowed_callers),
                    "Calling AE titles accepted; empty accepts any.",
                    "Works at once; name the senders when they are known."),
      row<Settings>("listen.max_associations", integer("", 1, 256),
                    CRESTGATE_FIELD(listen.max_associations), "Associations served at a time.",
                    "More than a clinic has senders, and a bound on memory."),
      row<Settings>("listen.max_object_mb", integer("MB", 1, 2048),
                    CRESTGATE_FIELD(listen.max_object_mb), "Largest object accepted.",
                    "The largest intraoral sensors give about 10 MB."),
      row<Settings>("listen.idle_timeout_s", integer("s", 1, 3600),
                    CRESTGATE_FIELD(listen.idle_timeout_s),
                    "A silent sender is cut off after this.",
                    "Lets a dead sender's place go to the next one."),
      row<Settings>("archive.ae_title", plain(Kind::ae_title), CRESTGATE_FIELD(archive.ae_title),
                    "Name of the archive.", "", Presence::required),
      row<Settings>("archive.host", plain(Kind::text), CRESTGATE_FIELD(archive.host),
                    "Host name or address of the archive.", "", Presence::required),
      row<Settings>("archive.port", integer("", 1, 65535), CRESTGATE_FIELD(archive.port),
                    "TCP port of the archive.", "", Presence::required),
  };
}

std::vector<Key<Settings>> machine_keys() {
  return {
      row<Settings>("state.folder", plain(Kind::text), CRESTGATE_FIELD(state.folder),
                    "Spool, outbox, set-aside files and index.", "Where services keep state."),
      row<Settings>("state.least_free_mb", integer("MB", 0, 1048576),
                    CRESTGATE_FIELD(state.least_free_mb),
                    "Free space below which images are refused as 'out of resources'.",
                    "Refusing early keeps room for the reports of what was accepted."),
      row<Settings>("workers.count", integer("", 1, 64), CRESTGATE_FIELD(workers.count),
                    "Images analysed at a time.", "Fits the smallest machine."),
      row<Settings>("workers.time_limit_s", integer("s", 1, 3600),
                    CRESTGATE_FIELD(workers.time_limit_s),
                    "CPU time for one image, then it is set aside.", "Far above a normal image."),
      row<Settings>("workers.memory_limit_mb", integer("MB", 256, 65536),
                    CRESTGATE_FIELD(workers.memory_limit_mb), "Memory for one image.",
                    "Room for a 16-megapixel image in floating point several times over."),
      row<Settings>(
          "delivery.first_retry_s", integer("s", 1, 3600), CRESTGATE_FIELD(delivery.first_retry_s),
          "Wait after the first failure; doubles.", "A restarting archive is back in seconds."),
      row<Settings>("delivery.longest_retry_s", integer("s", 1, 86400),
                    CRESTGATE_FIELD(delivery.longest_retry_s), "Longest wait between attempts.",
                    "An archive that was down for a week is served within 15 minutes."),
      row<Settings>("delivery.commitment", plain(Kind::boolean),
                    CRESTGATE_FIELD(delivery.commitment),
                    "Ask the archive to commit to storage; objects are kept until it has.",
                    "Not every archive offers it; its answer may come as a call from the archive."),
      row<Settings>("delivery.commitment_answer_s", integer("s", 1, 604800),
                    CRESTGATE_FIELD(delivery.commitment_answer_s),
                    "Wait for the archive's answer, then ask again.",
                    "Archives that commit after a backup answer late."),
      row<Settings>("log.level", choice({"debug", "info", "warning", "error"}),
                    CRESTGATE_FIELD(log.level), "Least severity written.",
                    "One line per image and one per incident."),
  };
}

}  // namespace

const Schema<Settings>& settings_schema() {
  static const Schema<Settings> schema = [] {
    Schema<Settings> s;
    s.title = "crestgate settings: addresses, paths and limits of one node.";
    s.groups = groups();
    s.keys = network_keys();
    for (Key<Settings>& key : machine_keys()) s.keys.push_back(std::move(key));
    return s;
  }();
  return schema;
}

}  // namespace crestgate
