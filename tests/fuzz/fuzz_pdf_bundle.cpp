// A PDF's attachment: whatever bytes come, either one bundle comes out or a refusal that says why,
// and what comes out is never longer than the cap.
#include "clients/verify/pdf_bundle.h"
#include "tests/fuzz/target.h"
#include "tests/unit/verify/small_pdf.h"

namespace fairlead::fuzz {

std::vector<std::string> seeds() {
  const std::string bundle = "FLB1" + std::string(300, 'b');
  return {small_pdf(bundle), "%PDF-1.7\n" + embedded_file(2, bundle, "/Params << /Size 304 >>")};
}

}  // namespace fairlead::fuzz

extern "C" int LLVMFuzzerTestOneInput(const uint8_t* data, size_t size) {
  using namespace fairlead;
  const auto bundle = verifier::bundle_of_pdf(fuzz::view(data, size));
  if (!bundle) {
    fuzz::require(!bundle.error().message.empty(), "a refusal says why");
    return 0;
  }
  fuzz::require(bundle->starts_with("FLB1"), "only a bundle comes out");
  fuzz::require(bundle->size() <= verifier::kMaxInflatedBundle, "the cap holds");
  return 0;
}
