// Read by the address sanitizer's leak check if it is linked in, by nothing otherwise. fontconfig keeps its
// patterns until the process ends and offers no call that frees them while Pango still holds fonts.
extern "C" const char* __lsan_default_suppressions();
extern "C" const char* __lsan_default_suppressions() { return "leak:libfontconfig\n"; }
// A list of them at the end would be output that no test expects.
extern "C" const char* __lsan_default_options();
extern "C" const char* __lsan_default_options() { return "print_suppressions=0"; }
