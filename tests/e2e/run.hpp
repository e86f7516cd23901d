// SPDX-License-Identifier: Apache-2.0
// Runs a program as a person would: words in, text and exit status out.
#pragma once
#include <string>
#include <vector>

namespace bw::e2e {

struct Outcome {
    int status = -1;
    std::string out, err;
};

//! Runs `program words...` with `input` on standard input and no terminal.
Outcome run(const std::string& program, const std::vector<std::string>& words, const std::string& input = "");
//! Runs brakewright.
Outcome brakewright(const std::vector<std::string>& words, const std::string& input = "");

//! A fresh empty folder for one test; removed when the object goes.
class Folder {
public:
    Folder();
    ~Folder();
    std::string path(const std::string& name) const { return root_ + "/" + name; }
    std::string write(const std::string& name, const std::string& text) const;   //!< returns the path

private:
    std::string root_;
};

std::string read(const std::string& path);
std::string demo(const std::string& name);   //!< path inside demo/

}  // namespace bw::e2e
