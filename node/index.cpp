#include "node/index.h"

#include <sqlite3.h>

#include <cstdio>

namespace crestgate {
namespace {

constexpr const char* kSchema =
    "PRAGMA journal_mode=WAL; PRAGMA synchronous=FULL;"
    "CREATE TABLE IF NOT EXISTS done("
    " uid_hash TEXT PRIMARY KEY, content_hash TEXT NOT NULL,"
    " exposure_key TEXT NOT NULL, at_s INTEGER NOT NULL) WITHOUT ROWID;"
    "CREATE INDEX IF NOT EXISTS done_at ON done(at_s);"
    "CREATE TABLE IF NOT EXISTS exposure("
    " number INTEGER PRIMARY KEY, uid_hash TEXT UNIQUE NOT NULL, visit_key TEXT NOT NULL,"
    " site_known INTEGER NOT NULL, at_s INTEGER NOT NULL, verdict INTEGER NOT NULL,"
    " angle_deg REAL, angle_u_deg REAL, seating INTEGER NOT NULL, placement INTEGER NOT NULL,"
    " study_key TEXT NOT NULL, repeat_note INTEGER NOT NULL, finding_note INTEGER NOT NULL,"
    " sop_class TEXT, sop_instance TEXT, series TEXT);";

/// One prepared statement; finalized at the end of the scope.
class Statement {
 public:
  Statement(sqlite3* db, const char* sql) { sqlite3_prepare_v2(db, sql, -1, &stmt_, nullptr); }
  ~Statement() { sqlite3_finalize(stmt_); }
  Statement(const Statement&) = delete;
  Statement& operator=(const Statement&) = delete;
  Statement& bind(int at, const std::string& text) {
    sqlite3_bind_text(stmt_, at, text.c_str(), -1, SQLITE_TRANSIENT);
    return *this;
  }
  Statement& bind(int at, std::int64_t number) {
    sqlite3_bind_int64(stmt_, at, number);
    return *this;
  }
  Statement& bind(int at, double number) {
    sqlite3_bind_double(stmt_, at, number);
    return *this;
  }
  int step() { return stmt_ == nullptr ? SQLITE_ERROR : sqlite3_step(stmt_); }
  std::string text(int column) {
    const auto* t = sqlite3_column_text(stmt_, column);
    return t == nullptr ? "" : reinterpret_cast<const char*>(t);
  }
  int number(int column) { return sqlite3_column_int(stmt_, column); }
  double real(int column) { return sqlite3_column_double(stmt_, column); }
  bool is_null(int column) { return sqlite3_column_type(stmt_, column) == SQLITE_NULL; }

 private:
  sqlite3_stmt* stmt_ = nullptr;
};

/// Opens and checks; nullptr if the file is damaged or cannot be opened.
sqlite3* open_checked(const std::string& path, std::string& problem) {
  sqlite3* db = nullptr;
  bool good = sqlite3_open(path.c_str(), &db) == SQLITE_OK &&
              sqlite3_busy_timeout(db, 5000) == SQLITE_OK &&
              sqlite3_exec(db, kSchema, nullptr, nullptr, nullptr) == SQLITE_OK;
  if (good) {
    Statement check(db, "PRAGMA quick_check");
    good = check.step() == SQLITE_ROW && check.text(0) == "ok";
  }
  if (good) return db;
  problem = db == nullptr ? "out of memory" : sqlite3_errmsg(db);
  sqlite3_close(db);
  return nullptr;
}

}  // namespace

Result<std::unique_ptr<Index>> Index::open(const std::string& path, std::string* replaced) {
  std::string problem;
  sqlite3* db = open_checked(path, problem);
  if (db == nullptr) {
    const std::string aside = path + ".damaged";
    if (std::rename(path.c_str(), aside.c_str()) == 0) {
      std::remove((path + "-wal").c_str());
      std::remove((path + "-shm").c_str());
      if (replaced != nullptr) *replaced = path + ": " + problem + "; kept as " + aside;
      db = open_checked(path, problem);
    }
  }
  if (db == nullptr) return Status::error(Code::internal, path + ": " + problem);
  std::unique_ptr<Index> index(new Index(db));
  return index;
}

Index::~Index() { sqlite3_close(db_); }

std::optional<std::string> Index::find(const std::string& uid_hash) {
  const std::lock_guard<std::mutex> lock(mutex_);
  Statement query(db_, "SELECT content_hash FROM done WHERE uid_hash=?");
  if (query.bind(1, uid_hash).step() != SQLITE_ROW) return {};
  return query.text(0);
}

Status Index::failure() {
  const int rc = sqlite3_errcode(db_);
  const Code code = rc == SQLITE_FULL ? Code::no_space : Code::internal;
  const Status status = Status::error(code, std::string("index: ") + sqlite3_errmsg(db_));
  sqlite3_exec(db_, "ROLLBACK", nullptr, nullptr, nullptr);
  return status;
}

bool Index::insert(const DoneImage& image) {
  const Exposure& e = image.exposure;
  Statement done(db_, "INSERT OR REPLACE INTO done VALUES(?,?,?,?)");
  done.bind(1, image.uid_hash).bind(2, image.content_hash).bind(3, e.visit_key).bind(4, image.at_s);
  if (done.step() != SQLITE_DONE) return false;
  if (!e.visit_key.empty()) {
    Statement add(db_,
                  "INSERT OR IGNORE INTO exposure(uid_hash,visit_key,site_known,at_s,verdict,"
                  "angle_deg,angle_u_deg,seating,placement,study_key,repeat_note,finding_note,"
                  "sop_class,sop_instance,series) VALUES(?,?,?,?,?,?,?,?,?,?,?,?,?,?,?)");
    add.bind(1, image.uid_hash).bind(2, e.visit_key).bind(3, std::int64_t{e.site_known});
    add.bind(4, image.at_s).bind(5, std::int64_t{e.verdict});
    if (e.angle_deg) add.bind(6, e.angle_deg->value).bind(7, e.angle_deg->expanded_uncertainty);
    add.bind(8, std::int64_t{e.seating_view}).bind(9, std::int64_t{e.placement_view});
    add.bind(10, e.study_key).bind(11, std::int64_t{e.noted.repeat});
    add.bind(12, std::int64_t{e.noted.finding});
    if (e.noted.repeat || e.noted.finding) {
      add.bind(13, e.noted.sop_class_uid).bind(14, e.noted.sop_instance_uid);
      add.bind(15, e.noted.series_instance_uid);
    }
    if (add.step() != SQLITE_DONE) return false;
  }
  // Time 0: recorded by recovery, which has no clock; these few are kept.
  Statement old_exposures(db_, "DELETE FROM exposure WHERE at_s<?");
  Statement old_images(db_, "DELETE FROM done WHERE at_s BETWEEN 1 AND ?");
  return old_exposures.bind(1, image.at_s - kVisit_s).step() == SQLITE_DONE &&
         old_images.bind(1, image.at_s - kRemembered_s - 1).step() == SQLITE_DONE;
}

Status Index::record(const DoneImage& image) {
  const std::lock_guard<std::mutex> lock(mutex_);
  const auto run = [this](const char* sql) {
    return sqlite3_exec(db_, sql, nullptr, nullptr, nullptr) == SQLITE_OK;
  };
  if (!run("BEGIN IMMEDIATE") || !insert(image) || !run("COMMIT")) return failure();
  return {};
}

std::map<std::string, PastExposures> Index::exposures_since(std::int64_t at_s) {
  const std::lock_guard<std::mutex> lock(mutex_);
  Statement query(db_,
                  "SELECT visit_key,site_known,verdict,angle_deg,angle_u_deg,seating,placement"
                  " FROM exposure WHERE at_s>=? ORDER BY at_s,number");
  query.bind(1, at_s);
  std::map<std::string, PastExposures> past;
  while (query.step() == SQLITE_ROW) {
    PastExposures& of = past[query.text(0)];
    ++of.count;
    of.last = {};
    of.last.visit_key = query.text(0);
    of.last.site_known = query.number(1) != 0;
    of.last.verdict = query.number(2);
    of.last.seating_view = query.number(5) != 0;
    of.last.placement_view = query.number(6) != 0;
    if (!query.is_null(3)) of.last.angle_deg = Quantity{query.real(3), query.real(4)};
    of.seating_view |= of.last.seating_view;
    of.placement_view |= of.last.placement_view;
  }
  return past;
}

std::map<std::string, std::vector<NotedImage>> Index::noted_since(std::int64_t at_s) {
  const std::lock_guard<std::mutex> lock(mutex_);
  Statement query(db_,
                  "SELECT study_key,sop_class,sop_instance,series,repeat_note,finding_note"
                  " FROM exposure WHERE at_s>=? AND sop_instance IS NOT NULL ORDER BY at_s,number");
  query.bind(1, at_s);
  std::map<std::string, std::vector<NotedImage>> noted;
  while (query.step() == SQLITE_ROW) {
    noted[query.text(0)].push_back(
        {query.text(1), query.text(2), query.text(3), query.number(4) != 0, query.number(5) != 0});
  }
  return noted;
}

int Index::count() {
  const std::lock_guard<std::mutex> lock(mutex_);
  Statement query(db_, "SELECT COUNT(*) FROM done");
  return query.step() == SQLITE_ROW ? query.number(0) : 0;
}

}  // namespace crestgate
