#include <cstdio>
int main() {
  std::puts("crestgate " CRESTGATE_VERSION);
  return 0;
}
