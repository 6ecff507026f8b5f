#pragma once

#include <cstdint>
#include <filesystem>
#include <map>
#include <optional>
#include <stdexcept>
#include <string>
#include <vector>

namespace scenes {

/// A wrong command line; the text names the argument and what is wrong with it.
struct BadRequest : std::runtime_error {
  using std::runtime_error::runtime_error;
};

/// Values that a caller fixes instead of leaving them to the seed. Unknown keys are refused.
class Overrides {
 public:
  void set(const std::string& assignment);  ///< "key=value"
  [[nodiscard]] std::optional<double> number(const std::string& key) const;
  [[nodiscard]] double number_or(const std::string& key, double drawn) const {
    return number(key).value_or(drawn);
  }
  [[nodiscard]] bool flag(const std::string& key) const { return number_or(key, 0) != 0; }
  [[nodiscard]] bool is_none(const std::string& key) const;

 private:
  std::map<std::string, std::string> values_;
};

struct Request {
  std::filesystem::path out;
  std::vector<std::uint64_t> seeds;
  std::string family = "all";
  int width = 4000;
  int height = 3000;
  std::string format = "jpg";
  Overrides overrides;
  bool help = false;
};

[[nodiscard]] Request parse_request(int argc, char** argv);
[[nodiscard]] const std::vector<std::string>& family_names();
[[nodiscard]] std::string help_text();

}  // namespace scenes
