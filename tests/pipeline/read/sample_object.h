// A small valid Digital Intra-Oral X-Ray object built with DCMTK, for the tests of pipeline/read.
#pragma once
#include <dcmtk/config/osconfig.h>
#include <dcmtk/dcmdata/dctk.h>

#include <cstdint>
#include <memory>
#include <vector>

namespace crestgate::sample {

struct Layout {
  int rows = 24, columns = 32;
  int bits_allocated = 16, bits_stored = 12, high_bit = 11;
  bool is_signed = false;
  const char* photometric = "MONOCHROME2";
};

/// Stored value of the ramp at pixel index i: repeats through the whole range of the layout.
int ramp_value(const Layout& layout, std::size_t i);

/// Object with the ramp as pixels and the mandatory attributes the reader looks at.
std::unique_ptr<DcmFileFormat> object(const Layout& layout = {});

/// Part 10 bytes, written with the given syntax (encapsulated ones must have been chosen before).
std::vector<std::uint8_t> bytes(DcmFileFormat& file,
                                E_TransferSyntax syntax = EXS_LittleEndianExplicit);

/// DCMTK's warnings about hostile input would bury the test output.
void silence_dcmtk();

}  // namespace crestgate::sample
