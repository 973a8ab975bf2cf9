#include "pipeline/judge/judge.h"
namespace crestgate {
void judge(Analysis&, const Rules&, const Circumstances&) {}
}  // namespace crestgate
