// The contract does not change under plugins that are out there: everything the agreed form
// (contract.textproto, as protobuf's own descriptor) has must still be there, with the same number,
// name, type and meaning of repetition, or be reserved. Additions are taken in with
// FAIRLEAD_WRITE_CONTRACT=1, which never writes over a break.
#include <google/protobuf/descriptor.h>
#include <google/protobuf/descriptor.pb.h>
#include <google/protobuf/text_format.h>
#include <gtest/gtest.h>

#include <cstdlib>
#include <fstream>
#include <iterator>

#include "fairlead/v1/plugin_service.pb.h"

namespace fairlead {
namespace {

using google::protobuf::DescriptorProto;
using google::protobuf::EnumDescriptorProto;
using google::protobuf::FileDescriptorProto;

constexpr const char* kAgreed = "tests/unit/plugins/contract.textproto";

FileDescriptorProto now() {
  FileDescriptorProto all;
  v1::FeedRequest::descriptor()->file()->CopyTo(&all);
  // What readings carry comes from the observations.
  v1::Fix::descriptor()->CopyTo(all.add_message_type());
  v1::Quality::descriptor()->CopyTo(all.add_message_type());
  return all;
}

template <typename List>
const typename List::value_type* find(const List& list, const std::string& name) {
  for (const auto& item : list) {
    if (item.name() == name) return &item;
  }
  return nullptr;
}

bool reserved(const DescriptorProto& message, int number, const std::string& name) {
  bool number_kept = false;
  for (const auto& range : message.reserved_range()) {
    number_kept = number_kept || (number >= range.start() && number < range.end());
  }
  for (const std::string& kept : message.reserved_name()) {
    if (kept == name && number_kept) return true;
  }
  return false;
}

std::string breaks(const EnumDescriptorProto& agreed, const EnumDescriptorProto* present) {
  if (present == nullptr) return agreed.name() + " is gone\n";
  std::string out;
  for (const auto& word : agreed.value()) {
    const auto* same = find(present->value(), word.name());
    if (same == nullptr || same->number() != word.number()) {
      out += agreed.name() + "." + word.name() + " is gone or has another number\n";
    }
  }
  return out;
}

std::string breaks(const DescriptorProto& agreed, const DescriptorProto* present) {
  if (present == nullptr) return agreed.name() + " is gone\n";
  std::string out;
  for (const auto& field : agreed.field()) {
    const auto* same = find(present->field(), field.name());
    std::string where = agreed.name() + "." + field.name();
    if (same == nullptr) {
      if (!reserved(*present, field.number(), field.name())) out += where + " is gone\n";
      continue;
    }
    bool equal = same->number() == field.number() && same->type() == field.type() &&
                 same->type_name() == field.type_name() && same->label() == field.label() &&
                 same->has_oneof_index() == field.has_oneof_index();
    if (!equal) out += where + " has another number, type or repetition\n";
  }
  for (const auto& word : agreed.enum_type()) {
    out += breaks(word, find(present->enum_type(), word.name()));
  }
  return out;
}

std::string breaks(const FileDescriptorProto& agreed, const FileDescriptorProto& present) {
  std::string out;
  if (agreed.package() != present.package()) out += "the package has another name\n";
  for (const auto& message : agreed.message_type()) {
    out += breaks(message, find(present.message_type(), message.name()));
  }
  for (const auto& service : agreed.service()) {
    const auto* same = find(present.service(), service.name());
    for (const auto& method : service.method()) {
      const auto* there = same == nullptr ? nullptr : find(same->method(), method.name());
      if (there == nullptr || there->SerializeAsString() != method.SerializeAsString()) {
        out += service.name() + "." + method.name() + " is gone or another\n";
      }
    }
  }
  return out;
}

FileDescriptorProto agreed_form() {
  std::ifstream file(kAgreed);
  std::string text{std::istreambuf_iterator<char>(file), {}};
  FileDescriptorProto agreed;
  EXPECT_TRUE(google::protobuf::TextFormat::ParseFromString(text, &agreed)) << kAgreed;
  EXPECT_GE(agreed.message_type_size(), 10) << kAgreed;
  return agreed;
}

TEST(ContractTest, NothingAgreedIsBrokenAndAdditionsAreTakenIn) {
  FileDescriptorProto present = now();
  bool write = std::getenv("FAIRLEAD_WRITE_CONTRACT") != nullptr;
  std::string text;
  google::protobuf::TextFormat::PrintToString(present, &text);
  if (write && !std::ifstream(kAgreed)) std::ofstream(kAgreed) << text;
  FileDescriptorProto agreed = agreed_form();
  ASSERT_EQ(breaks(agreed, present), "");
  if (write) std::ofstream(kAgreed) << text;
  EXPECT_EQ(agreed_form().SerializeAsString(), present.SerializeAsString())
      << "the contract has grown: say so in its history and run with FAIRLEAD_WRITE_CONTRACT=1";
}

TEST(ContractTest, SeesEachKindOfBreak) {
  const FileDescriptorProto good = now();
  auto batch = [](FileDescriptorProto& file) {
    for (auto& m : *file.mutable_message_type()) {
      if (m.name() == "PluginBatch") return &m;
    }
    return static_cast<DescriptorProto*>(nullptr);
  };
  FileDescriptorProto renumbered = good;
  batch(renumbered)->mutable_field(0)->set_number(7);
  EXPECT_NE(breaks(good, renumbered), "");
  FileDescriptorProto retyped = good;
  batch(retyped)->mutable_field(0)->set_type(google::protobuf::FieldDescriptorProto::TYPE_INT32);
  EXPECT_NE(breaks(good, retyped), "");
  FileDescriptorProto removed = good;
  batch(removed)->mutable_field()->RemoveLast();
  EXPECT_NE(breaks(good, removed), "");
  auto* range = batch(removed)->add_reserved_range();
  range->set_start(2);
  range->set_end(3);
  batch(removed)->add_reserved_name("readings");
  EXPECT_EQ(breaks(good, removed), "") << "a reserved number and name is the way to remove";
  FileDescriptorProto one_way = good;
  one_way.mutable_service(0)->mutable_method(0)->set_server_streaming(false);
  EXPECT_NE(breaks(good, one_way), "");
  FileDescriptorProto grown = good;
  auto* field = batch(grown)->add_field();
  field->set_name("more");
  field->set_number(3);
  EXPECT_EQ(breaks(good, grown), "");
}

}  // namespace
}  // namespace fairlead
