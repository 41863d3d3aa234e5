// A PDF's embedded file as the report writer stores it, and as little else as a reader of
// attachments looks at (ISO 32000-2, 7.11.4). Real PDFs are tried in the reports' own tests.
#pragma once

#include <zlib.h>

#include <string>
#include <string_view>

namespace fairlead {

/// A zlib stream (RFC 1950) of `bytes`.
inline std::string deflated(std::string_view bytes) {
  uLongf size = compressBound(bytes.size());
  std::string out(size, '\0');
  compress(reinterpret_cast<Bytef*>(out.data()), &size,
           reinterpret_cast<const Bytef*>(bytes.data()), bytes.size());
  out.resize(size);
  return out;
}

/// One object: `data` as the embedded file's stream, `keys` in its dictionary.
inline std::string embedded_file(int number, std::string_view data, const std::string& keys) {
  return std::to_string(number) + " 0 obj\n<< " + keys + " /Type /EmbeddedFile /Length " +
         std::to_string(data.size()) + " >>\nstream\n" + std::string(data) +
         "\nendstream\nendobj\n";
}

/// A PDF that carries `bytes` deflated.
inline std::string small_pdf(std::string_view bytes) {
  return "%PDF-1.7\n1 0 obj\n<< /Names << /EmbeddedFiles 2 0 R >> >>\nendobj\n" +
         embedded_file(
             3, deflated(bytes),
             "/Params << /Size " + std::to_string(bytes.size()) + " >> /Filter /FlateDecode") +
         "%%EOF\n";
}

}  // namespace fairlead
