// Read by the address sanitizer's leak check if it is linked in, by nothing otherwise. fontconfig keeps its
// patterns until the process ends and offers no call that frees them while Pango still holds fonts.
extern "C" const char* __lsan_default_suppressions();
extern "C" const char* __lsan_default_suppressions() { return "leak:libfontconfig\n"; }
