# Writes OUTPUT, a C++ file with the bytes of each of FILES (a semicolon list) as one table entry:
# cmake -DFILES=... -DOUTPUT=... -P embed_texts.cmake
set(entries "")
foreach(file IN LISTS FILES)
  get_filename_component(id ${file} NAME_WE)
  file(READ ${file} text)
  string(APPEND entries "    ShippedText{\"${id}\", R\"~text~(${text})~text~\"},\n")
endforeach()
file(WRITE ${OUTPUT}
"// Generated from the files of daemon/judge/procedures; do not edit.
#include \"daemon/judge/shipped_texts.h\"

namespace fairlead::judge {
namespace {
constexpr ShippedText kTexts[] = {
${entries}};
}  // namespace
std::span<const ShippedText> shipped_texts() { return kTexts; }
}  // namespace fairlead::judge
")
