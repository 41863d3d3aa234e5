// What WeasyPrint leaves open, written with libqpdf: XMP of our own, associated files (ISO 32000-2
// 14.13, the form PDF/A-3 asks for), a deterministic file identifier.
#include <fmt/format.h>

#include <exception>
#include <qpdf/Buffer.hh>
#include <qpdf/QPDF.hh>
#include <qpdf/QPDFEFStreamObjectHelper.hh>
#include <qpdf/QPDFEmbeddedFileDocumentHelper.hh>
#include <qpdf/QPDFFileSpecObjectHelper.hh>
#include <qpdf/QPDFObjectHandle.hh>
#include <qpdf/QPDFWriter.hh>

#include "daemon/base/time_text.h"
#include "reports/pdf.h"
#include "reports/templates/template.h"

namespace fairlead::reports {
namespace {

// "2027-03-31T11:52:00Z" from our six-decimal form.
std::string iso_second(int64_t time_us) { return format_time_us(time_us).substr(0, 19) + "Z"; }

// "D:20270331115200Z" (ISO 32000-2, 7.9.4).
std::string pdf_date(int64_t time_us) {
  std::string out = "D:";
  for (const char c : format_time_us(time_us).substr(0, 19)) {
    if (c >= '0' && c <= '9') out += c;
  }
  return out + "Z";
}

std::string xmp(const PdfOptions& options) {
  return fmt::format(
      "<?xpacket begin=\"\xEF\xBB\xBF\" id=\"W5M0MpCehiHzreSzNTczkc9d\"?>\n"
      "<x:xmpmeta xmlns:x=\"adobe:ns:meta/\">\n"
      "<rdf:RDF xmlns:rdf=\"http://www.w3.org/1999/02/22-rdf-syntax-ns#\">\n"
      "<rdf:Description rdf:about=\"\" xmlns:pdfaid=\"http://www.aiim.org/pdfa/ns/id/\" "
      "xmlns:dc=\"http://purl.org/dc/elements/1.1/\" xmlns:xmp=\"http://ns.adobe.com/xap/1.0/\" "
      "xmlns:pdf=\"http://ns.adobe.com/pdf/1.3/\">\n"
      "<pdfaid:part>3</pdfaid:part><pdfaid:conformance>B</pdfaid:conformance>\n"
      "<dc:format>application/pdf</dc:format>\n"
      "<dc:title><rdf:Alt><rdf:li xml:lang=\"x-default\">{0}</rdf:li></rdf:Alt></dc:title>\n"
      "<dc:creator><rdf:Seq><rdf:li>{1}</rdf:li></rdf:Seq></dc:creator>\n"
      "<xmp:CreateDate>{2}</xmp:CreateDate><xmp:ModifyDate>{2}</xmp:ModifyDate>\n"
      "<xmp:CreatorTool>{3}</xmp:CreatorTool><pdf:Producer>{3}</pdf:Producer>\n"
      "</rdf:Description></rdf:RDF></x:xmpmeta>\n<?xpacket end=\"w\"?>",
      escape_html(options.title), escape_html(options.author), iso_second(options.made_at_us),
      escape_html(options.program));
}

void write_metadata(QPDF& pdf, const PdfOptions& options) {
  QPDFObjectHandle info = QPDFObjectHandle::newDictionary();
  info.replaceKey("/Title", QPDFObjectHandle::newUnicodeString(options.title));
  info.replaceKey("/Author", QPDFObjectHandle::newUnicodeString(options.author));
  info.replaceKey("/Creator", QPDFObjectHandle::newUnicodeString(options.program));
  info.replaceKey("/Producer", QPDFObjectHandle::newUnicodeString(options.program));
  info.replaceKey("/CreationDate", QPDFObjectHandle::newString(pdf_date(options.made_at_us)));
  info.replaceKey("/ModDate", QPDFObjectHandle::newString(pdf_date(options.made_at_us)));
  pdf.getTrailer().replaceKey("/Info", pdf.makeIndirectObject(info));
  QPDFObjectHandle metadata = QPDFObjectHandle::newStream(&pdf, xmp(options));
  metadata.getDict().replaceKey("/Type", QPDFObjectHandle::newName("/Metadata"));
  metadata.getDict().replaceKey("/Subtype", QPDFObjectHandle::newName("/XML"));
  QPDFObjectHandle root = pdf.getRoot();
  root.replaceKey("/Metadata", pdf.makeIndirectObject(metadata));
  root.replaceKey("/Lang", QPDFObjectHandle::newString("en"));
  QPDFObjectHandle view = QPDFObjectHandle::newDictionary();
  view.replaceKey("/DisplayDocTitle", QPDFObjectHandle::newBool(true));
  root.replaceKey("/ViewerPreferences", view);
}

void attach(QPDF& pdf, const PdfOptions& options) {
  if (options.attached.empty()) return;
  QPDFEmbeddedFileDocumentHelper files(pdf);
  QPDFObjectHandle associated = QPDFObjectHandle::newArray();
  for (const auto& file : options.attached) {
    auto stream = QPDFEFStreamObjectHelper::createEFStream(pdf, file.bytes);
    stream.setSubtype(file.media_type);
    stream.setModDate(pdf_date(options.made_at_us));
    auto spec = QPDFFileSpecObjectHelper::createFileSpec(pdf, file.name, stream);
    spec.setDescription(file.description);
    spec.getObjectHandle().replaceKey("/AFRelationship",
                                      QPDFObjectHandle::newName("/" + file.relationship));
    files.replaceEmbeddedFile(file.name, spec);
    associated.appendItem(spec.getObjectHandle());
  }
  pdf.getRoot().replaceKey("/AF", associated);
}

}  // namespace

Result<std::string> finish_pdf(const std::string& bytes, const PdfOptions& options) {
  try {
    QPDF pdf;
    pdf.setSuppressWarnings(true);
    pdf.processMemoryFile("report.pdf", bytes.data(), bytes.size());
    write_metadata(pdf, options);
    attach(pdf, options);
    QPDFWriter writer(pdf);
    writer.setOutputMemory();
    writer.setDeterministicID(true);
    // Checkers of PDF/A refuse streams whose end keyword does not start a line.
    writer.setNewlineBeforeEndstream(true);
    // Plain objects and a plain cross-reference table: what every checker and reader knows.
    writer.setObjectStreamMode(qpdf_o_disable);
    writer.write();
    const auto buffer = writer.getBufferSharedPointer();
    return std::string(reinterpret_cast<const char*>(buffer->getBuffer()), buffer->getSize());
  } catch (const std::exception& error) {
    return fail(Code::kInternal, std::string("PDF finishing failed: ") + error.what());
  }
}

}  // namespace fairlead::reports
