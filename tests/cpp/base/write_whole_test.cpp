// SPDX-License-Identifier: GPL-3.0-or-later
#include "sievelight/base/write_whole.hpp"

#include "sievelight/base/error.hpp"
#include "support/refusal.hpp"
#include "support/scratch.hpp"

#include <gtest/gtest.h>
#include <sys/resource.h>
#include <sys/stat.h>

#include <csignal>
#include <thread>

namespace sievelight {
namespace {

namespace fs = std::filesystem;

int files_in(const std::string& folder) {
  return static_cast<int>(std::distance(fs::directory_iterator(folder), fs::directory_iterator()));
}

// No file may grow beyond this many bytes, as on a full disk; SIGXFSZ is what the system sends besides.
class FullDisk {
 public:
  explicit FullDisk(rlim_t bytes) {
    std::signal(SIGXFSZ, SIG_IGN);
    getrlimit(RLIMIT_FSIZE, &before_);
    const rlimit now{bytes, before_.rlim_max};
    setrlimit(RLIMIT_FSIZE, &now);
  }
  ~FullDisk() { setrlimit(RLIMIT_FSIZE, &before_); }

 private:
  rlimit before_{};
};

TEST(WriteWhole, WritesEveryByteAndReplacesWhatWasThere) {
  const Scratch scratch;
  const std::string bytes(3'000'000, '\x01');
  write_whole(scratch / "a", "old");
  write_whole(scratch / "a", bytes + std::string("\0\r\n", 3));
  EXPECT_EQ(read_bytes(scratch / "a"), bytes + std::string("\0\r\n", 3));
  EXPECT_EQ(files_in(scratch.folder()), 1);
}

TEST(WriteWhole, AFullDiskLeavesTheOldFileAndNothingElse) {
  const Scratch scratch;
  write_whole(scratch / "a", "old");
  {
    const FullDisk full(1000);
    const std::string said = refusal<DataError>([&] { write_whole(scratch / "a", std::string(5000, 'x')); });
    EXPECT_NE(said.find("disk or its quota is full"), std::string::npos) << said;
  }
  EXPECT_EQ(read_bytes(scratch / "a"), "old");
  EXPECT_EQ(files_in(scratch.folder()), 1);
}

TEST(WriteWhole, SeveralFilesTakeTheirNamesTogetherOrNotAtAll) {
  const Scratch scratch;
  write_whole({{scratch / "a", "old"}, {scratch / "b", "old"}});
  {
    const FullDisk full(1000);
    EXPECT_THROW(write_whole({{scratch / "a", "new"}, {scratch / "b", std::string(5000, 'x')}}), DataError);
  }
  EXPECT_EQ(read_bytes(scratch / "a") + read_bytes(scratch / "b"), "oldold");
  EXPECT_EQ(files_in(scratch.folder()), 2);
}

TEST(WriteWhole, RefusesAFolderThatIsNotThereAndANameThatIsAFolder) {
  const Scratch scratch;
  EXPECT_NE(refusal<DataError>([&] { write_whole(scratch / "no/a", "x"); }).find("cannot be written"),
            std::string::npos);
  fs::create_directory(scratch / "folder");
  EXPECT_THROW(write_whole(scratch / "folder", "x"), DataError);
  EXPECT_TRUE(fs::is_directory(scratch / "folder"));
}

TEST(WriteWhole, ALinkStaysALinkAndAPipeAPipe) {
  const Scratch scratch;
  write_whole(scratch / "a", "old");
  fs::create_symlink("a", scratch / "link");
  write_whole(scratch / "link", "new");
  EXPECT_TRUE(fs::is_symlink(scratch / "link"));
  EXPECT_EQ(read_bytes(scratch / "a"), "new");
  ASSERT_EQ(mkfifo((scratch / "pipe").c_str(), 0600), 0);
  std::string got;
  {
    const std::jthread reader([&] { got = read_bytes(scratch / "pipe"); });
    write_whole(scratch / "pipe", "through");
  }
  EXPECT_EQ(got, "through");
  EXPECT_TRUE(fs::is_fifo(scratch / "pipe"));
  write_whole("/dev/null", "nowhere");
  EXPECT_TRUE(fs::is_character_file("/dev/null"));
}

TEST(WriteWhole, ManyWritersOfOneNameLeaveOneOfTheirFiles) {
  const Scratch scratch;
  {
    std::vector<std::jthread> writers;
    for (int i = 0; i < 8; ++i)
      writers.emplace_back([&, i] {
        for (int k = 0; k < 20; ++k) write_whole(scratch / "a", std::string(20000, static_cast<char>('a' + i)));
      });
  }
  const std::string left = read_bytes(scratch / "a");
  EXPECT_EQ(left, std::string(20000, left.front()));
  EXPECT_EQ(files_in(scratch.folder()), 1);
}

TEST(MakeFolders, MakesAllThatAreMissingAndLeavesWhatIsThere) {
  const Scratch scratch;
  make_folders(scratch / "a/b/c");
  make_folders(scratch / "a/b/c");
  make_folders("");
  EXPECT_TRUE(fs::is_directory(scratch / "a/b/c"));
  write_bytes(scratch / "file", "");
  EXPECT_THROW(make_folders(scratch / "file/x"), DataError);
}

TEST(RemoveLeftovers, RemovesFilesOfKilledWritersAndNoOthers) {
  const Scratch scratch;
  write_bytes(scratch / ".123-0123456789abcdef.part", "");
  for (const char* name : {".hidden", "a.part", ".123-0123456789abcdef.part.txt", ".x-0123456789abcdef.part"})
    write_bytes(scratch / name, "");
  EXPECT_EQ(remove_leftovers(scratch.folder()), 1);
  EXPECT_EQ(files_in(scratch.folder()), 4);
  EXPECT_EQ(remove_leftovers(scratch / "no such"), 0);
}

}  // namespace
}  // namespace sievelight
