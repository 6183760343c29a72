// SPDX-License-Identifier: GPL-3.0-or-later
/// Errors that say what, where, and how to mend it.
/// Three kinds only: InputError (the call), DataError (the file), NumericalError (the method gave up). In Python they
/// derive from ValueError, OSError and ArithmeticError. The library never aborts and never prints.
#pragma once

#include <stdexcept>
#include <string>

namespace sievelight {

/// what() is "<what>\n<mend>"; both parts are kept for tables of findings.
class Error : public std::runtime_error {
 public:
  /// @param what what is wrong and where, with the values seen; @param mend what the user can do about it.
  Error(const std::string& what, const std::string& mend);
  const std::string& problem() const noexcept { return problem_; }
  const std::string& mend() const noexcept { return mend_; }

 private:
  std::string problem_, mend_;
};

/// A call or a study asks for something impossible.
struct InputError : Error {
  using Error::Error;
};

/// A file is missing, broken or not what it should be.
struct DataError : Error {
  using Error::Error;
};

/// A method did not reach an answer it can stand for.
struct NumericalError : Error {
  using Error::Error;
};

}  // namespace sievelight
