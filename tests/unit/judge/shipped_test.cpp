// The procedures inside the program are the files of the tree, and compile with a real register.
#include "daemon/judge/shipped.h"

#include <gtest/gtest.h>

#include <algorithm>

#include "tests/unit/judge/judge_kit.h"

namespace fairlead::judge {
namespace {

constexpr const char* kFolder = "daemon/judge/procedures";

TEST(Shipped, EveryFileIsInTheProgramByteForByte) {
  const std::vector<SourceFile> files = files_in(kFolder);
  ASSERT_FALSE(files.empty());
  std::vector<std::string> ids;
  for (const SourceFile& file : files) {
    SCOPED_TRACE(file.name);
    const std::string name = file.name.substr(file.name.rfind('/') + 1);
    ids.push_back(name.substr(0, name.find('.')));
    const auto shipped = shipped_procedure(ids.back());
    ASSERT_TRUE(shipped);
    EXPECT_EQ(shipped->name, name);
    EXPECT_EQ(shipped->bytes, file.bytes);
  }
  std::ranges::sort(ids);  // A name sorts before its own ending, a file's name behind it.
  EXPECT_EQ(shipped_procedure_ids(), ids);
  EXPECT_FALSE(shipped_procedure("no-such-procedure"));
}

TEST(Shipped, AllCompileWithTheScenarioRegister) {
  std::vector<SourceFile> procedures;
  for (const std::string& id : shipped_procedure_ids())
    procedures.push_back(*shipped_procedure(id));
  const auto loaded = Rulebook::load(procedures, files_in("clients/sim/fleet"));
  ASSERT_TRUE(loaded) << loaded.error().message;
  // A file's name is its id: what `opened.procedures` says must find it.
  EXPECT_EQ(procedure_ids(*loaded), shipped_procedure_ids());
}

}  // namespace
}  // namespace fairlead::judge
