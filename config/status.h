// Status and Result<T>: how every part of crestgate reports failure without exceptions crossing
// a folder boundary. Plain values, safe to copy between threads.
#pragma once
#include <optional>
#include <string>
#include <utility>

namespace crestgate {

enum class Code {
  ok,
  invalid_input,  ///< the caller's file or text is unusable; retrying will not help
  unsupported,    ///< valid, but of a kind we do not read
  not_found,
  no_space,  ///< disk full or quota reached
  too_large,
  timeout,
  unavailable,  ///< a peer or resource is not there now; retrying may help
  internal,
};

/// Short stable word for logs and JSON, e.g. "invalid_input".
inline const char* code_name(Code code) {
  switch (code) {
    case Code::ok:
      return "ok";
    case Code::invalid_input:
      return "invalid_input";
    case Code::unsupported:
      return "unsupported";
    case Code::not_found:
      return "not_found";
    case Code::no_space:
      return "no_space";
    case Code::too_large:
      return "too_large";
    case Code::timeout:
      return "timeout";
    case Code::unavailable:
      return "unavailable";
    case Code::internal:
      return "internal";
  }
  return "internal";
}

struct Status {
  Code code = Code::ok;
  std::string text;                ///< names the file, tag or line; empty if ok
  std::optional<std::string> tag;  ///< DICOM tag the text is about, "(gggg,eeee)"

  bool ok() const { return code == Code::ok; }
  static Status error(Code code, std::string text, std::optional<std::string> tag = {}) {
    return {code, std::move(text), std::move(tag)};
  }
};

/// A value or the Status that says why there is none.
template <class T>
class Result {
 public:
  Result(T value) : value_(std::move(value)) {}          // NOLINT(google-explicit-constructor)
  Result(Status status) : status_(std::move(status)) {}  // NOLINT(google-explicit-constructor)
  bool ok() const { return value_.has_value(); }
  const Status& status() const { return status_; }
  T& value() { return *value_; }
  const T& value() const { return *value_; }

 private:
  std::optional<T> value_;
  Status status_;
};

}  // namespace crestgate
