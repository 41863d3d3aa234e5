// A tiny PNG writer for test pictures: 8-bit grey, stored (uncompressed) deflate blocks.
// Formats: PNG (W3C REC-png), zlib RFC 1950, deflate RFC 1951 3.2.4.
#include <array>

#include "daemon/base/bytes.h"
#include "tests/unit/reports/sample_job.h"

namespace fairlead::reports {
namespace {

uint32_t crc32(std::string_view bytes) {
  uint32_t crc = 0xFFFFFFFF;
  for (const char c : bytes) {
    crc ^= static_cast<unsigned char>(c);
    for (int bit = 0; bit < 8; ++bit) crc = (crc >> 1) ^ (crc & 1 ? 0xEDB88320 : 0);
  }
  return ~crc;
}

void chunk(std::string& out, const std::string& kind, const std::string& body) {
  append_be(out, static_cast<uint32_t>(body.size()));
  out += kind + body;
  append_be(out, crc32(kind + body));
}

std::string stored_zlib(const std::string& raw) {
  std::string out = "\x78\x01";
  for (size_t at = 0; at < raw.size(); at += 65535) {
    const auto size = static_cast<uint16_t>(std::min<size_t>(65535, raw.size() - at));
    out += static_cast<char>(at + size == raw.size());
    for (const uint16_t word : {size, static_cast<uint16_t>(~size)}) {
      out += static_cast<char>(word & 0xFF);
      out += static_cast<char>(word >> 8);
    }
    out.append(raw, at, size);
  }
  uint32_t a = 1;
  uint32_t b = 0;
  for (const char c : raw) {
    a = (a + static_cast<unsigned char>(c)) % 65521;
    b = (b + a) % 65521;
  }
  append_be(out, (b << 16) | a);
  return out;
}

}  // namespace

std::string striped_png(unsigned width, unsigned height, unsigned stripe) {
  std::string raw;
  for (unsigned y = 0; y < height; ++y) {
    raw += '\0';
    for (unsigned x = 0; x < width; ++x) {
      raw += static_cast<char>((x + y) / stripe % 2 ? 0x50 : static_cast<int>(0xD0 - x % 64));
    }
  }
  std::string out("\x89PNG\r\n\x1a\n", 8);
  std::string header;
  append_be(header, uint32_t{width});
  append_be(header, uint32_t{height});
  header += std::string("\x08\x00\x00\x00\x00", 5);
  chunk(out, "IHDR", header);
  chunk(out, "IDAT", stored_zlib(raw));
  chunk(out, "IEND", "");
  return out;
}

}  // namespace fairlead::reports
