package manifest

import (
	"os"
	"path/filepath"

	"offbeat/acquire"
)

// Load reads the named table ("-" is standard input), lists the named folder, or expands the pattern. A
// folder that holds a file manifest.csv is read by it. Faults in a table are *acquire.Error, joined.
func Load(name string, opt Options) (*Manifest, error) {
	if name == "-" {
		in := opt.Input
		if in == nil {
			in = os.Stdin
		}
		return Read(name, ".", in, opt)
	}
	st, err := os.Stat(name)
	switch {
	case err == nil && st.IsDir():
		table := filepath.Join(name, "manifest.csv")
		if st, err := os.Stat(table); err == nil && st.Mode().IsRegular() {
			return Load(table, opt)
		}
		return folder(name)
	case err != nil && isPattern(name):
		return pattern(name)
	case err != nil:
		return nil, &acquire.Error{File: name, What: cause(err), Expect: "a manifest, a folder of captures or a pattern", Err: err}
	}
	f, err := os.Open(name)
	if err != nil {
		return nil, &acquire.Error{File: name, What: cause(err), Expect: "a readable manifest", Err: err}
	}
	defer f.Close()
	return Read(name, filepath.Dir(name), f, opt)
}
