// Recognises objects this program wrote, on this or any other node, so that an archive that routes
// everything back causes no loop (design section 1.1).
#pragma once

class DcmDataset;

namespace crestgate {

/// True if the data set carries our private block (which holds the inputs of its derived UID) or,
/// for archives that strip private attributes, is of a class we write and names our equipment. The
/// image we judge never matches: its equipment is the modality's.
bool is_own_object(DcmDataset& dataset);

}  // namespace crestgate
