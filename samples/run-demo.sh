#!/bin/bash
# The whole job on one machine: an archive, a node, images sent by a plain store client, and what
# comes back. See --help. Everything it makes is in one temporary folder.
set -euo pipefail

here=$(dirname "$(readlink -f "$0")")
root=$(dirname "$here")
deadline_s=180          # for everything after the build
archive_ae=ARCHIVE
node_ae=CRESTGATE
keep=no
images=()
problems=()

usage() {
  cat <<'END'
Usage: samples/run-demo.sh [--keep] [FILE...]

Installs what is missing, builds, starts an archive and a crestgate node on loopback, sends images
to both as a modality would, waits, and shows what the archive then holds for each image.
  FILE     your own DICOM files instead of the sample scenario
  --keep   leave archive and node running and say how to send one more file
Ends with 0 if every object is in the archive, 1 if one is missing or something failed,
2 if an image could not be used.
END
}

fail() {
  echo "run-demo.sh: $*" >&2
  exit 1
}

# ---- processes -----------------------------------------------------------------------------------

started=()

stop_all() {
  local pid
  for pid in "${started[@]}"; do
    kill "$pid" 2>/dev/null || true
    wait "$pid" 2>/dev/null || true
  done
  started=()
}

# A port nobody answers on, below the range the system gives to clients.
free_port() {
  local port
  while :; do
    port=$((20000 + RANDOM % 10000))
    (exec 3<>"/dev/tcp/127.0.0.1/$port") 2>/dev/null || break
  done
  echo "$port"
}

# wait_for WHAT PID CONDITION...: until the condition holds, the process ends, or time is up.
wait_for() {
  local what=$1 pid=$2
  shift 2
  until "$@" >/dev/null 2>&1; do
    [[ -z $pid ]] || kill -0 "$pid" 2>/dev/null || return 1
    ((SECONDS < deadline_s)) || fail "gave up after $deadline_s s: $what. Logs: $work/log"
    read -r -t 0.25 <> <(:) || true
  done
}

# start NAME AE COMMAND...: runs it with PORT replaced, until echo answers; a clash of ports is retried.
start() {
  local name=$1 ae=$2 tries=5
  shift 2
  while ((tries-- > 0)); do
    port=$(free_port)
    "write_${name}_settings" "$port"
    "$@" "$port" >>"$work/log/$name.log" 2>&1 &
    pid=$!
    started+=("$pid")
    if wait_for "$name does not answer" "$pid" echoscu -aec "$ae" 127.0.0.1 "$port"; then return; fi
  done
  cat "$work/log/$name.log" >&2
  fail "$name could not be started"
}

write_archive_settings() {
  cat >"$work/archive.cfg" <<END
NetworkTCPPort  = $1
MaxPDUSize      = 16384
MaxAssociations = 16
HostTable BEGIN
HostTable END
VendorTable BEGIN
VendorTable END
AETable BEGIN
$archive_ae $work/archive RW (500, 1024mb) ANY
AETable END
END
}

write_node_settings() {
  cat >"$work/crestgate.yaml" <<END
rules_file: $here/rules.yaml
listen: {ae_title: $node_ae, address: 127.0.0.1, port: $1}
archive: {ae_title: $archive_ae, host: 127.0.0.1, port: $archive_port}
state: {folder: $work/state, least_free_mb: 64}
workers: {count: $(nproc)}
END
}

run_archive() { exec dcmqrscp -c "$work/archive.cfg"; }
run_node() { exec "$crestgate" serve --config "$work/crestgate.yaml"; }

# ---- steps ---------------------------------------------------------------------------------------

build() {
  "$root/.ci/install" build demo
  local out="$root/build/release" log
  log=$(mktemp)
  echo "Building (the first time takes some minutes) ..."
  if ! (cd "$root" && cmake --preset release &&
    cmake --build --preset release --target crestgate crestgate_render) >"$log" 2>&1; then
    cat "$log" >&2
    rm -f "$log"
    fail "the build failed"
  fi
  rm -f "$log"
  crestgate="$out/node/crestgate"
  render="$out/samples/crestgate_render"
}

render_scenario() {
  # Today's date: old images never get a note.
  printf '%s\0' "$here"/scenes/*.json |
    xargs -0 -n 1 -P "$(nproc)" "$render" --out "$work/images" --date "$(date +%Y%m%d)" ||
    fail "the scenario could not be rendered"
  images=("$work"/images/*.dcm)
}

# value_of KEYWORD FILE: the first such attribute, empty if there is none or the file is not DICOM.
value_of() {
  { dcmdump -q -s -Un +P "$1" "$2" 2>/dev/null || true; } | sed -n 's/^[^[]*\[\(.*\)\].*/\1/p'
}

# storescu proposes an encapsulated transfer syntax only when told which.
proposal_for() {
  case $(value_of TransferSyntaxUID "$1") in
    1.2.840.10008.1.2.4.50) echo -xy ;;
    1.2.840.10008.1.2.4.51) echo -xx ;;
    1.2.840.10008.1.2.4.70) echo -xs ;;
    1.2.840.10008.1.2.4.80) echo -xt ;;
    1.2.840.10008.1.2.4.81) echo -xu ;;
    1.2.840.10008.1.2.4.90) echo -xv ;;
    1.2.840.10008.1.2.4.91) echo -xw ;;
    1.2.840.10008.1.2.5) echo -xr ;;
    *) echo -x= ;;
  esac
}

# send AE PORT FILE
send() { storescu -R "$(proposal_for "$3")" -aet MODALITY -aec "$1" 127.0.0.1 "$2" "$3" >>"$work/log/send.log" 2>&1; }

nothing_in_flight() {
  local status
  status=$("$crestgate" status --config "$work/crestgate.yaml") || return 1
  [[ $(grep -cE '^(ready|working|outbox): +0$' <<<"$status") -eq 3 ]]
}

# What the archive holds of the images' studies, by C-GET.
retrieve() {
  local study file
  for file in "${sent[@]}"; do value_of StudyInstanceUID "$file"; done | sort -u |
    while read -r study; do
      getscu -S -aec "$archive_ae" -od "$work/retrieved" -k QueryRetrieveLevel=STUDY \
        -k "StudyInstanceUID=$study" 127.0.0.1 "$archive_port" >>"$work/log/retrieve.log" 2>&1 ||
        fail "the archive does not hand out study $study. Log: $work/log/retrieve.log"
    done
}

# One line per retrieved object of ours: modality, file, UIDs it refers to.
list_retrieved() {
  local file
  for file in "$work"/retrieved/*; do
    [[ -f $file ]] || continue
    dcmdump -q +P Modality +P ReferencedSOPInstanceUID "$file" 2>/dev/null |
      awk -v OFS='\t' -v file="$file" -F '[][]' '
        NF < 2 { next }
        /^\(0008,0060\)/ { if (modality == "") modality = $2; next }
        { refers = refers $2 " " }
        END { print modality, file, refers }'
  done >"$work/retrieved.tsv"
}

# ---- the table -----------------------------------------------------------------------------------

# objects_of UID MODALITY: files of that modality which refer to the image.
objects_of() { awk -F '\t' -v m="$2" -v u="$1 " '$1 == m && index($3, u) { print $2 }' "$work/retrieved.tsv"; }

# said TEXT CONCEPT: what a report (as dsrdump prints it) says of the whole image, by concept's code.
said() { sed -n "s/^    <contains [A-Z]*:($2,[^=]*=.*\"\(.*\)\"[)]*>\$/\1/p" <<<"$1"; }

# What must be there for one image, from what its report says: one modality per object.
wanted_objects() {
  printf '%s\n' SR OT
  [[ $scenario == yes ]] || return 0  # colour gets no marks, a detector the rules do not cover no note
  [[ $report != *'"Tracking Identifier")="Implant '* ]] || echo PR  # only what is surely an implant is marked
  [[ $verdict != "repeat if justified" || $intent == *inferred* ]] || echo KO
  [[ -z $findings ]] || echo KO
}

row() {
  local file=$1 name uid report verdict="" intent="-" findings="" advice="" held modality count found
  name=$(basename "$file" .dcm)
  uid=$(value_of SOPInstanceUID "$file")
  report=$(objects_of "$uid" SR | sed 1q)
  if [[ -n $report ]]; then
    report=$(dsrdump -q -Ph +Pc +Pl +U8 "$report" 2>/dev/null) || true
    intent=$(said "$report" 121109)  # "seating, stated by request or rule" or "..., inferred ..."
    verdict=$(said "$report" CG-201)
    findings=$(said "$report" 121071 | sort -u | paste -s -d ,)
    advice=$(said "$report" 121075)
  fi
  held=$(for modality in SR KO PR OT; do objects_of "$uid" "$modality" | sed "s/.*/$modality/"; done | paste -s -d ' ')
  while read -r count modality; do
    found=$(objects_of "$uid" "$modality" | wc -l)
    ((found >= count)) || problems+=("$name: $modality: $count wanted, $found in the archive")
  done < <(wanted_objects | sort | uniq -c)
  print_row "$name" "${intent%%,*}" "${verdict:--}" "${findings:--}" "${held:--}"
  [[ -z $advice ]] || fold -s -w 88 <<<"$advice" | sed 's/^/          /'
  export_views "$uid" "$name" &
  exports+=("$!")
}

print_row() { printf '%-24s %-16s %-21s %-18s %s\n' "$@"; }

# The picture and report as the archive holds them, in forms a browser shows. Runs beside the table;
# what it cannot do is listed in export-problems.
export_views() {
  local file n=0
  for file in $(objects_of "$1" OT); do
    dcm2pnm --write-png "$file" "$work/pictures/$2.png" 2>>"$work/log/export.log" ||
      echo "$2: the picture in the archive cannot be drawn" >>"$work/log/export-problems"
  done
  for file in $(objects_of "$1" SR); do
    n=$((n + 1))
    dsr2html "$file" "$work/reports/$2$([[ $n -gt 1 ]] && echo "-$n").html" 2>>"$work/log/export.log" ||
      echo "$2: the report in the archive cannot be read" >>"$work/log/export-problems"
  done
}

# Why an image has no results: what the node, or for a file that could not be sent the same reader,
# says about it; empty if it has some.
why_no_results() {
  local uid
  uid=$(value_of SOPInstanceUID "$1")
  if [[ " ${sent[*]} " != *" $1 "* ]]; then
    { "$crestgate" inspect "$1" 2>&1 || true; } | sed -n 's/^  could not be used: /cannot be used: /p'
    return
  fi
  sed -n "s/^  [^ ]*dcm: \"\(.*\) (SOP instance $uid)\"\$/set aside: \1/p" <<<"$final_status"
  sed -n "s/.* not-judged sop=$uid .* why=/not judged: /p" "$work/log/node.log"
}

print_table() {
  local file reason final_status exports=()
  final_status=$("$crestgate" status --config "$work/crestgate.yaml")
  echo
  print_row image intent verdict findings "in the archive"
  printf '%.0s-' {1..96}
  echo
  for file in "${images[@]}"; do
    reason=$(why_no_results "$file")
    if [[ -z $reason ]]; then
      row "$file"
    else
      printf '%-24s %s\n' "$(basename "$file")" "$reason"
      unusable=yes
    fi
  done
  [[ ${#exports[@]} -eq 0 ]] || wait "${exports[@]}" || true
  if [[ -f $work/log/export-problems ]]; then
    while read -r reason; do problems+=("$reason"); done <"$work/log/export-problems"
  fi
}

main() {
  local file unusable=no scenario=yes sent=()
  while [[ $# -gt 0 ]]; do
    case $1 in
      --keep) keep=yes ;;
      -h | --help)
        usage
        exit 0
        ;;
      -*)
        usage >&2
        exit 64
        ;;
      *)
        [[ -f $1 ]] || fail "$1: no such file"
        images+=("$(readlink -f "$1")")
        scenario=no
        ;;
    esac
    shift
  done

  build
  SECONDS=0
  work=$(mktemp -d "${TMPDIR:-/tmp}/crestgate-demo.XXXXXX")
  mkdir "$work"/{images,archive,state,retrieved,pictures,reports,log}
  trap stop_all EXIT
  if [[ $scenario == yes ]]; then
    echo "Rendering the scenario ..."
    render_scenario
  fi

  start archive "$archive_ae" run_archive
  archive_port=$port
  start node "$node_ae" run_node
  node_port=$port

  echo "Archive on port $archive_port, node on port $node_port. Sending ${#images[@]} images ..."
  for file in "${images[@]}"; do
    # As a modality does, to the archive too; the demo's archive takes no compressed images, the node does.
    send "$archive_ae" "$archive_port" "$file" || true
    if send "$node_ae" "$node_port" "$file"; then sent+=("$file"); fi
  done
  wait_for "the node still has work" "$pid" nothing_in_flight || fail "the node ended. Log: $work/log/node.log"

  retrieve
  list_retrieved
  print_table
  echo
  echo "Pictures (PNG) and reports (HTML), as the archive holds them:"
  echo "  $work/pictures"
  echo "  $work/reports"
  finish
}

finish() {
  local problem
  if [[ $keep == yes ]]; then
    echo
    echo "Archive ($archive_ae, port $archive_port) and node ($node_ae, port $node_port) are still running."
    echo "Send a file of your own to the node, then look what it did:"
    echo "  storescu -R -aec $node_ae 127.0.0.1 $node_port FILE"
    echo "  $crestgate status --config $work/crestgate.yaml"
    echo "Stop both:  kill ${started[*]}"
    trap - EXIT
  fi
  for problem in "${problems[@]}"; do echo "MISSING  $problem" >&2; done
  [[ ${#problems[@]} -eq 0 ]] || exit 1
  [[ $unusable == no ]] || exit 2
}

main "$@"
