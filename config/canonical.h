// Values -> text, in the order of the schema: the digest and the shipped, commented YAML. Pure.
#pragma once
#include <string>

#include "config/schema.h"

namespace crestgate {

/// Hex SHA-256 of all values in schema order: the same for every file that says the same, whatever
/// its comments, order, spelling of numbers or omitted defaults. A language counts by its words,
/// not by its file's name; English by its name alone, since its words belong to the software.
std::string rules_digest(const Rules& rules);

std::string sha256_hex(const std::string& text);

/// The defaults as a YAML file, each key under a comment with meaning, unit, range and reason.
template <class T>
std::string commented_yaml(const Schema<T>& schema);
extern template std::string commented_yaml(const Schema<Rules>&);
extern template std::string commented_yaml(const Schema<Settings>&);

}  // namespace crestgate
