// SPDX-License-Identifier: GPL-3.0-or-later
#include "sievelight/frames/nexus_tree.hpp"

#include "frames/some_frames.hpp"
#include "support/scratch.hpp"

#include <gtest/gtest.h>

namespace sievelight {
namespace {

TEST(NexusTree, ListsObjectsOnceEachAndSurvivesLoopsAndDeadLinks) {
  const Scratch scratch;
  const auto lock = hdf5_lock();
  const H5Handle file = h5_create(scratch / "tree.h5");
  const H5Handle entry = h5_make_group(file.get(), "entry", "NXentry");
  write_numbers(entry.get(), "x", {2, 3}, ramp(6), {H5T_STD_I32LE, {}});
  H5Lcreate_hard(file.get(), "/entry", entry.get(), "loop", H5P_DEFAULT, H5P_DEFAULT);
  H5Lcreate_soft("/nowhere", entry.get(), "dead", H5P_DEFAULT, H5P_DEFAULT);
  H5Lcreate_external("gone.h5", "/x", entry.get(), "gone", H5P_DEFAULT, H5P_DEFAULT);
  H5Lcreate_hard(entry.get(), "x", entry.get(), "y", H5P_DEFAULT, H5P_DEFAULT);
  const auto objects = list_objects(file.get());
  ASSERT_GE(objects.size(), 4u);
  EXPECT_EQ(objects[0].path, "/entry");
  EXPECT_EQ(objects[0].nx_class, "NXentry");
  const NexusObject *x = nullptr, *y = nullptr;
  for (const auto& object : objects) {
    EXPECT_EQ(object.path.find("dead"), std::string::npos);
    EXPECT_EQ(object.path.find("gone"), std::string::npos);
    if (object.path == "/entry/x") x = &object;
    if (object.path == "/entry/y") y = &object;
  }
  ASSERT_TRUE(x && y);
  EXPECT_EQ(x->address, y->address);
  EXPECT_EQ(x->shape, (std::vector<hsize_t>{2, 3}));
  EXPECT_TRUE(x->is_number);
}

TEST(NexusTree, ReadsAQuantityAndNotesAMissingUnit) {
  const Scratch scratch;
  const auto lock = hdf5_lock();
  const H5Handle file = h5_create(scratch / "units.h5");
  write_field(file.get(), "a", 0.5, "m");
  write_field(file.get(), "b", 0.5);
  write_field(file.get(), "c", 0.5, "furlong");
  std::vector<std::string> notes;
  EXPECT_DOUBLE_EQ((*read_quantity(file.get(), "/a", Quantity::length_mm, "mm", notes))[0], 500);
  EXPECT_TRUE(notes.empty());
  EXPECT_DOUBLE_EQ((*read_quantity(file.get(), "/b", Quantity::length_mm, "mm", notes))[0], 0.5);
  ASSERT_EQ(notes.size(), 1u);
  EXPECT_EQ(notes[0], "b has no unit; taken as mm");
  EXPECT_FALSE(read_quantity(file.get(), "/c", Quantity::length_mm, "mm", notes));
  EXPECT_EQ(notes[1], "c has the unit 'furlong', which is not understood; left out");
  EXPECT_FALSE(read_quantity(file.get(), "/d", Quantity::length_mm, "mm", notes));
}

TEST(NexusTree, KnowsWhatLiesBelowWhat) {
  EXPECT_EQ(parent_of("/entry/data/x"), "/entry/data");
  EXPECT_EQ(parent_of("/x"), "/");
  EXPECT_TRUE(is_below("/entry/x", "/entry"));
  EXPECT_TRUE(is_below("/entry/x", "/"));
  EXPECT_FALSE(is_below("/entry2/x", "/entry"));
}

// Found by fuzzing: circles of links multiplied the walk up to its bound of 20000 objects.
TEST(NexusTree, DoesNotGoRoundInCircles) {
  const Scratch scratch;
  const auto lock = hdf5_lock();
  const H5Handle file = h5_create(scratch / "x.h5");
  const H5Handle entry = h5_make_group(file.get(), "entry", "NXentry"), inner = h5_make_group(entry.get(), "a", "");
  H5Lcreate_soft("/", inner.get(), "root", H5P_DEFAULT, H5P_DEFAULT);
  H5Lcreate_hard(file.get(), "entry", inner.get(), "up", H5P_DEFAULT, H5P_DEFAULT);
  H5Lcreate_soft("/entry/a", inner.get(), "self", H5P_DEFAULT, H5P_DEFAULT);
  std::vector<std::string> paths;
  for (const NexusObject& object : list_objects(file.get())) paths.push_back(object.path);
  EXPECT_EQ(paths, (std::vector<std::string>{"/entry", "/entry/a", "/entry/a/root", "/entry/a/self", "/entry/a/up"}));
}

}  // namespace
}  // namespace sievelight
