// What the desk's services work on: one base, put together by main. Services are plain functions on
// proto messages that take a Desk; gRPC and, later, pages call the same ones.
//
// Threads: services may be called from any thread but a gRPC reaction or a ledger callback: they
// block on the disk.
#pragma once

#include <atomic>
#include <functional>
#include <memory>
#include <string>

#include "daemon/base/revoked.h"
#include "daemon/desk/countersigning.h"
#include "daemon/intake/devices.h"
#include "daemon/watch/disk_room.h"
#include "daemon/watch/office.h"
#include "daemon/watch/recorder.h"
#include "daemon/watch/scrubber.h"
#include "daemon/watch/shelf.h"
#include "daemon/watch/watch.h"
#include "reports/pdf.h"

namespace fairlead::desk {

/// How far the summary being written has come.
struct Progress {
  std::atomic<uint64_t> read = 0, jobs = 0;
};

struct Desk {
  watch::Office& office;
  watch::Shelf& shelf;
  watch::Watch& watch;
  intake::Devices& devices;
  /// The import device: fed lines and the desk's own photos and notes.
  watch::Recorder& import;
  record::Id16 import_device{};
  /// An order was written: connected trucks get it now.
  std::function<void()> orders_changed;
  std::function<bool(const record::Id16& device)> connected;
  Countersigning* countersigning = nullptr;  // Null: nobody countersigns.
  /// What is kept how long; the disk's room; the re-reading of everything. Null in small tests.
  RetentionConfig retention;
  std::function<watch::DiskState()> disk;
  watch::Scrubber* scrubber = nullptr;
  /// Whose certificate counts no longer; null without TLS.
  std::shared_ptr<RevokedCertificates> revoked = {};
  std::shared_ptr<Progress> progress = std::make_shared<Progress>();
  /// How summaries and sheets become PDF; a test that is about something else puts a quick one
  /// here.
  std::function<Result<std::string>(const std::string& html, const reports::PdfOptions&)> make_pdf =
      reports::make_pdf;

  [[nodiscard]] ledger::Ledger& ledger() const { return office.ledger(); }
};

}  // namespace fairlead::desk
