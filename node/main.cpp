#include <iostream>

#include "node/commands.h"

int main(int argc, char** argv) {
  const crestgate::CommandLine line = crestgate::parse_command_line(argc, argv);
  return static_cast<int>(crestgate::run_command(line, std::cout, std::cerr));
}
