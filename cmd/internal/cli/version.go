package cli

import "runtime/debug"

// version is the program's: the module's version, else the revision it was built from.
func version() string {
	b, ok := debug.ReadBuildInfo()
	if !ok {
		return "unknown"
	}
	out := b.Main.Version
	if out == "" || out == "(devel)" {
		out = "devel"
	}
	for _, s := range b.Settings {
		if s.Key == "vcs.revision" && len(s.Value) >= 12 && out == "devel" {
			out += "-" + s.Value[:12]
		}
	}
	return out
}
