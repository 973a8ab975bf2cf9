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
    "CREATE INDEX IF NOT EXISTS done_at ON done(at_s);";

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
  int step() { return stmt_ == nullptr ? SQLITE_ERROR : sqlite3_step(stmt_); }
  std::string text(int column) {
    const auto* t = sqlite3_column_text(stmt_, column);
    return t == nullptr ? "" : reinterpret_cast<const char*>(t);
  }
  int number(int column) { return sqlite3_column_int(stmt_, column); }

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

Status Index::record(const DoneImage& image) {
  const std::lock_guard<std::mutex> lock(mutex_);
  Statement insert(db_, "INSERT OR REPLACE INTO done VALUES(?,?,?,?)");
  insert.bind(1, image.uid_hash).bind(2, image.content_hash).bind(3, image.exposure_key);
  insert.bind(4, image.at_s);
  if (const int rc = insert.step(); rc != SQLITE_DONE) {
    const Code code = rc == SQLITE_FULL ? Code::no_space : Code::internal;
    return Status::error(code, std::string("index: ") + sqlite3_errmsg(db_));
  }
  return {};
}

std::map<std::string, int> Index::exposures_since(std::int64_t at_s) {
  const std::lock_guard<std::mutex> lock(mutex_);
  Statement query(db_,
                  "SELECT exposure_key, COUNT(*) FROM done WHERE at_s>=? AND exposure_key<>''"
                  " GROUP BY exposure_key");
  query.bind(1, at_s);
  std::map<std::string, int> counts;
  while (query.step() == SQLITE_ROW) counts[query.text(0)] = query.number(1);
  return counts;
}

int Index::count() {
  const std::lock_guard<std::mutex> lock(mutex_);
  Statement query(db_, "SELECT COUNT(*) FROM done");
  return query.step() == SQLITE_ROW ? query.number(0) : 0;
}

}  // namespace crestgate
