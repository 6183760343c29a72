// SPDX-License-Identifier: GPL-3.0-or-later
#include "sievelight/base/hdf5_outside.hpp"

#include "frames/some_frames.hpp"
#include "sievelight/base/error.hpp"
#include "support/scratch.hpp"

#include <gtest/gtest.h>

#include <cstdlib>
#include <filesystem>

namespace sievelight {
namespace {

namespace fs = std::filesystem;

// A folder with a stranger's file in it, and a file of ours beside the folder that it must not reach.
class Outside : public testing::Test {
 protected:
  Outside() {
    fs::create_directories(scratch / "theirs/part");
    for (const char* name : {"secret.h5", "theirs/near.h5", "theirs/part/below.h5"}) {
      const H5Handle file = h5_create(scratch / name);
      write_numbers(file.get(), "x", {4}, ramp(4), {H5T_STD_I32LE, {}});
    }
    write_bytes(scratch / "secret.raw", std::string(16, '\1'));
    write_bytes(scratch / "theirs/near.raw", std::string(16, '\2'));
    theirs = h5_create(scratch / "theirs/file.h5");
  }
  ~Outside() override { ::unsetenv("SIEVELIGHT_TRUSTED_FOLDERS"); }

  std::string link_to(const std::string& file, const std::string& object = "/x") {
    H5Lcreate_external(file.c_str(), object.c_str(), theirs.get(), "link", H5P_DEFAULT, H5P_DEFAULT);
    const std::string words = read("link");
    H5Ldelete(theirs.get(), "link", H5P_DEFAULT);
    return words;
  }
  std::string stack_of(const std::string& file, const std::string& object = "/x") {
    const hsize_t n = 4;
    const H5Handle space(H5Screate_simple(1, &n, nullptr), H5Sclose),
        properties(H5Pcreate(H5P_DATASET_CREATE), H5Pclose);
    H5Pset_virtual(properties.get(), space.get(), file.c_str(), object.c_str(), space.get());
    return made(space.get(), properties.get());
  }
  std::string storage_in(const std::string& file) {
    const hsize_t n = 4;
    const H5Handle space(H5Screate_simple(1, &n, nullptr), H5Sclose),
        properties(H5Pcreate(H5P_DATASET_CREATE), H5Pclose);
    H5Pset_external(properties.get(), file.c_str(), 0, 16);
    return made(space.get(), properties.get());
  }
  std::string made(hid_t space, hid_t properties) {
    {
      const H5Handle set(H5Dcreate2(theirs.get(), "set", H5T_STD_I32LE, space, H5P_DEFAULT, properties, H5P_DEFAULT),
                         H5Dclose);
    }
    const std::string words = read("set");
    H5Ldelete(theirs.get(), "set", H5P_DEFAULT);
    return words;
  }
  // The words of the refusal, else how many numbers came back.
  std::string read(const std::string& name) {
    H5Fflush(theirs.get(), H5F_SCOPE_GLOBAL);
    try {
      const auto values = h5_numbers(theirs.get(), name);
      return values ? std::to_string(values->size()) + " numbers" : "nothing";
    } catch (const DataError& error) {
      return error.what();
    }
  }
  static bool refused(const std::string& words) { return words.find("outside of its folder") != std::string::npos; }

  std::unique_lock<std::recursive_mutex> lock = hdf5_lock();
  Scratch scratch;
  H5Handle theirs;
};

TEST_F(Outside, LinksLeadIntoTheFolderAndNoFurther) {
  EXPECT_EQ(link_to("near.h5"), "4 numbers");
  EXPECT_EQ(link_to("part/below.h5"), "4 numbers");
  EXPECT_EQ(link_to("part/../near.h5"), "4 numbers");
  EXPECT_EQ(link_to(scratch / "theirs/near.h5"), "4 numbers");
  EXPECT_EQ(link_to("gone.h5"), "nothing");
  EXPECT_TRUE(refused(link_to("../secret.h5"))) << link_to("../secret.h5");
  EXPECT_TRUE(refused(link_to(scratch / "secret.h5")));
  EXPECT_TRUE(refused(link_to("part/../../secret.h5")));
  // An absolute path that leads nowhere here: HDF5 looks for its last part beside the file.
  EXPECT_EQ(link_to("/no/such/folder/near.h5"), "4 numbers");
}

TEST_F(Outside, ALinkOfTheFileSystemIsFollowedToItsEnd) {
  fs::create_symlink(scratch / "secret.h5", scratch / "theirs/innocent.h5");
  EXPECT_TRUE(refused(link_to("innocent.h5")));
}

TEST_F(Outside, APipeIsNeverOpened) {
  ASSERT_EQ(std::system(("mkfifo '" + (scratch / "theirs/pipe.h5") + "'").c_str()), 0);
  EXPECT_TRUE(refused(link_to("pipe.h5")));
}

// The way out may be taken by the second file, or by a soft link before it.
TEST_F(Outside, LinksOfLinksAreLookedAtToo) {
  {
    const H5Handle near(H5Fopen((scratch / "theirs/near.h5").c_str(), H5F_ACC_RDWR, H5P_DEFAULT), H5Fclose);
    H5Lcreate_external("../secret.h5", "/x", near.get(), "out", H5P_DEFAULT, H5P_DEFAULT);
  }
  EXPECT_TRUE(refused(link_to("near.h5", "/out")));
  H5Lcreate_external("../secret.h5", "/", theirs.get(), "far", H5P_DEFAULT, H5P_DEFAULT);
  H5Lcreate_soft("/far/x", theirs.get(), "soft", H5P_DEFAULT, H5P_DEFAULT);
  EXPECT_TRUE(refused(read("soft")));
  EXPECT_TRUE(refused(read("far/x")));
}

TEST_F(Outside, VirtualDataSetsTakeFromTheFolderAlone) {
  EXPECT_EQ(stack_of("near.h5"), "4 numbers");
  EXPECT_TRUE(refused(stack_of("../secret.h5")));
  EXPECT_TRUE(refused(stack_of(scratch / "secret.h5")));
  EXPECT_NE(stack_of("gone.h5").find("'gone.h5', which is missing"), std::string::npos);
  EXPECT_NE(stack_of("near.h5", "/none").find("which is not there"), std::string::npos);
  // Through a virtual data set of the second file.
  {
    const H5Handle near(H5Fopen((scratch / "theirs/near.h5").c_str(), H5F_ACC_RDWR, H5P_DEFAULT), H5Fclose);
    const hsize_t n = 4;
    const H5Handle space(H5Screate_simple(1, &n, nullptr), H5Sclose),
        properties(H5Pcreate(H5P_DATASET_CREATE), H5Pclose);
    H5Pset_virtual(properties.get(), space.get(), "../secret.h5", "/x", space.get());
    const H5Handle set(
        H5Dcreate2(near.get(), "through", H5T_STD_I32LE, space.get(), H5P_DEFAULT, properties.get(), H5P_DEFAULT),
        H5Dclose);
  }
  EXPECT_TRUE(refused(stack_of("near.h5", "/through")));
}

TEST_F(Outside, ExternalStorageIsOfTheFolderAlone) {
  EXPECT_EQ(storage_in(scratch / "theirs/near.raw"), "4 numbers");
  EXPECT_TRUE(refused(storage_in(scratch / "secret.raw")));
  EXPECT_TRUE(refused(storage_in("/etc/hostname")));
}

TEST_F(Outside, ATrustedFolderIsLetIn) {
  ::setenv("SIEVELIGHT_TRUSTED_FOLDERS", ("/no/such/folder:" + scratch.folder()).c_str(), 1);
  EXPECT_EQ(link_to("../secret.h5"), "4 numbers");
  EXPECT_EQ(stack_of("../secret.h5"), "4 numbers");
  EXPECT_EQ(storage_in(scratch / "secret.raw"), "4 numbers");
}

}  // namespace
}  // namespace sievelight
